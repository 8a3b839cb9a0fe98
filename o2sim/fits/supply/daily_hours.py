"""Power by hours a day alone: mean times on and off, both taken as exponential."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import covered
from o2sim.fits.found import DRAWS, TOTALS, Curve, Panel, Part, Whole
from o2sim.fits.law_text import law_text, law_with_ranges, own_seed
from o2sim.fits.supply.cuts import DOWN, UP
from o2sim.records.books import Records
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.on_off import UpAndDown, daily_hours_draws, from_daily_hours

Values = npt.NDArray[np.float64]
SHEET = "Power hours"


def hours_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the hours with power of each day give: two exponential laws, or why there are none."""
    rows = [row for row in records.power_days if row.date is not None and row.hours is not None]
    book = covered(records, SHEET, [row.date for row in rows])
    if not rows or book is None:
        return ()
    hours = np.array([row.hours for row in rows], np.float64)
    try:
        found = from_daily_hours(hours)
    except ValueError as error:
        return (Part("hours with power", SHEET, TOTALS, "", cautions=(_why_not(str(error)),), rows=len(rows)),)
    draws = daily_hours_draws(found, len(rows), DRAWS, own_seed(seed, SHEET))
    if len(draws) < DRAWS // 2:
        few = f"hours with power: {len(rows)} days are too few to tell how long power stays on and off"
        return (Part("hours with power", SHEET, TOTALS, "", cautions=(few,), rows=len(rows)),)
    all_ = tuple(draws[at % len(draws)] for at in range(DRAWS))
    missing = book.days - len(rows)
    cautions = [
        "hours with power: how long power stays on and off is taken as exponential, which hours a day cannot tell"
    ]
    if missing > 0 and book.is_stated:
        cautions.append(f"hours with power: {missing} of {book.days} days are not written, and count as not known")
    return (
        Part(
            "hours with power", SHEET, TOTALS,
            f"{len(rows)} days, {book.said()}, {hours.mean():.1f} h of power a day, both exponential, 90 % range",
            wholes=(_whole(UP, found.up_h, [each.up_h for each in all_]),
                    _whole(DOWN, found.down_h, [each.down_h for each in all_])),
            cautions=tuple(cautions), panels=(hours_panel(hours, found),), rows=len(rows), used=len(rows),
        ),
    )  # fmt: skip


def _whole(key: str, mean_h: float, draws: list[float]) -> Whole:
    laws = tuple(Law("exponential", (each,)) for each in draws)
    text = law_with_ranges(Law("exponential", (mean_h,)), laws, "h")
    return Whole(key, text, tuple(law_text(law, "h") for law in laws))


def _why_not(error: str) -> str:
    """Return why hours give no law, in words: what comes after the name of the array."""
    return f"hours with power give no law: {error.removeprefix('hours: ')}"


def hours_panel(hours: Values, found: UpAndDown) -> Panel:
    """Return how often a day had so many hours of power."""
    counts, edges = np.histogram(hours, np.arange(0, 25, 2))
    bars = Curve((edges[:-1] + edges[1:]) / 2, counts / max(len(hours), 1) * 100, "days", "bars")
    mean = 24 * found.up_h / (found.up_h + found.down_h)
    line = Curve(np.array([mean, mean]), np.array([0.0, float(bars.y.max())]), f"mean, {mean:.1f} h")
    return Panel("Hours with power a day", "hours with power", "days, %", (bars, line))
