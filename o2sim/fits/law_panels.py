"""Pictures of a fitted law beside what was recorded: shares over by each time, and quantiles with their band."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from o2sim.fits.found import Curve, Panel
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import cdf, quantile
from o2sim.statistics.fitting.spells import Spells
from o2sim.statistics.fitting.survivors import kaplan_meier
from o2sim.statistics.fitting.whole import Fitted

Values = npt.NDArray[np.float64]
POINTS = 121


def law_panels(name: str, unit: str, spells: Spells, found: Fitted) -> tuple[Panel, ...]:
    """Return the pictures of a fitted law: shares that are over, and where it was tested its quantiles.

    name: as "Lead time"; unit: of the rows.
    """
    panels = [over_panel(name, unit, spells, found.fits[0].law, found.draws)]
    if found.test is not None:
        panels.append(quantile_panel(name, unit, found))
    return tuple(panels)


def over_panel(name: str, unit: str, spells: Spells, law: Law, draws: tuple[Law, ...]) -> Panel:
    """Return the share over by each time: of the rows (Kaplan-Meier) as steps, of the law with a 90 % band."""
    times = middles(spells)
    steps = kaplan_meier(times, spells.is_over, np.maximum(np.minimum(spells.entry, times) - spells.step / 2, 0))
    top = max(float(times.max()), float(quantile(law, 0.95)) if not spells.is_over.all() else 0.0) * 1.05
    at = np.linspace(0, min(top, float(times.max()) * 2), POINTS)
    spread = np.array([cdf(each, at) for each in draws])
    low, high = np.quantile(spread, [0.05, 0.95], axis=0)
    seen = Curve(
        np.concatenate([[0.0], steps.times]), np.concatenate([[0.0], 1 - steps.values]) * 100, "records", "steps"
    )
    fit = Curve(at, cdf(law, at) * 100, f"{law.kind} law", band=(low * 100, high * 100))
    return Panel(f"{name}: share that is over", f"{name.lower()}, {unit}", "over by then, %", (seen, fit))


def quantile_panel(name: str, unit: str, found: Fitted) -> Panel:
    """Return recorded quantiles against those of the law, with where 90 % of books drawn from it would lie."""
    test = found.test
    assert test is not None
    points = Curve(test.expected, test.seen, "records", "points")
    line = Curve(
        test.expected,
        test.expected,
        "the law, with a band of 90 % of books drawn from it",
        band=(test.low, test.high),
    )
    return Panel(
        f"{name}: records against the law", f"by the {found.fits[0].law.kind} law, {unit}", f"recorded, {unit}",
        (points, line),
    )  # fmt: skip


def middles(spells: Spells) -> Values:
    """Return one time for each row: the middle of where it may lie, what it has lasted where it is not over."""
    high = np.where(spells.is_over, spells.high, spells.low)
    return np.asarray(np.maximum((spells.low + high) / 2, 1e-6), np.float64)
