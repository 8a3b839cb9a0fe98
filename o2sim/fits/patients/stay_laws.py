"""The laws of how long each class stays on oxygen, with draws; classes with few rows borrow from others."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from o2sim.fits.found import DRAWS, ROWS, Part, Whole
from o2sim.fits.law_text import law_text, law_with_ranges, own_seed
from o2sim.fits.patients.comings import REGISTER
from o2sim.fits.patients.pace import FEW_ROWS
from o2sim.fits.patients.pictures import quantiles_panel, stays_panel
from o2sim.fits.patients.stays import Kept, Rows
from o2sim.fits.patients.texts import counted, listed
from o2sim.scenario.types.laws import Law, scaled
from o2sim.statistics.fitting.laws import median
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.pooling import pooled_means
from o2sim.statistics.fitting.season import LEVEL
from o2sim.statistics.fitting.whole import Fitted, fitted

Values = npt.NDArray[np.float64]
_FEWEST = 2  # stays that have ended, below which a range would go from a third to twenty times
_ENOUGH_FOR_WIDTH = 5  # stays that have ended, below which the width of a law is another class's


@dataclass(frozen=True)
class StayLaw:
    """The law of a class (h), laws that stay possible, what its own rows gave, and whether it borrowed."""

    law: Law
    draws: tuple[Law, ...]
    own: Fitted | None
    lenders: tuple[str, ...] = ()


def stay_laws(of: Mapping[str, Rows], seed: int) -> dict[str, StayLaw]:
    """Return the law of each class; a class of which nothing ended and that nobody lends to is left out."""
    own = {name: _own(rows, own_seed(seed, f"stays, {name}")) for name, rows in of.items()}
    found = {name: StayLaw(fit.fits[0].law, fit.draws, fit) for name, fit in own.items() if fit is not None}
    few = [name for name, rows in of.items() if _ended(rows) < FEW_ROWS]
    return {**found, **_borrowed(of, found, few, seed)} if few else found


def _own(rows: Rows, seed: int) -> Fitted | None:
    """Return what the rows of a class give, None where under 2 have ended or no drawn book could be fitted."""
    if _ended(rows) < _FEWEST:
        return None
    try:
        return fitted(rows.spells, seed, DRAWS)
    except ValueError:
        return None


def _ended(rows: Rows) -> int:
    return int(rows.spells.is_over.sum())


def _borrowed(
    of: Mapping[str, Rows], found: Mapping[str, StayLaw], few: list[str], seed: int
) -> dict[str, StayLaw]:
    """Return the laws of classes with few rows: medians drawn to those of the others, widths of those with least.

    The logarithms of the medians are taken as normal around one mean. Fewer than two classes lend nothing.
    """
    fits = {name: law.own for name, law in found.items() if law.own is not None}
    if len(fits) < 2:
        return {}
    names = list(of)
    logs = [math.log(median(found[name].law)) if name in fits else 0.0 for name in names]
    errors = [max(fits[name].log_median_error, 1e-6) if name in fits else np.inf for name in names]
    pooled = pooled_means(logs, errors)
    lender = max(fits, key=lambda name: _ended(of[name]))
    made = {}
    for name in few:
        place = names.index(name)
        like = found[name if _ended(of[name]) >= _ENOUGH_FOR_WIDTH and name in found else lender]
        logs_drawn = pooled.estimates[place] + pooled.errors[place] * ndtri(
            uniforms(seed, "borrowed stay", name, DRAWS)
        )
        draws = tuple(_with_median(law, float(log)) for law, log in zip(like.draws, logs_drawn, strict=True))
        law = _with_median(like.law, float(pooled.estimates[place]))
        made[name] = StayLaw(law, draws, fits.get(name), tuple(each for each in fits if each != name))
    return made


def _with_median(law: Law, log_median: float) -> Law:
    return scaled(law, math.exp(log_median) / median(law))


def part_of_stays(name: str, rows: Rows, found: StayLaw, how: Kept) -> Part:
    """Return the part of a class: the law with its ranges, and what is doubtful."""
    used = len(rows.spells)
    test = found.own.test if found.own is not None and not found.lenders else None
    panels = stays_panel(name, found.law, found.draws, rows.spells) if used else ()
    if test is not None:
        panels += quantiles_panel(name, test, used)
    return Part(
        name=f"how long {name} stay on oxygen",
        sheet=REGISTER,
        tier=ROWS,
        said=f"{counted(used, rows.rows, 'stays')}, {how.there.said()}, {_chosen(found)}, 90 % range",
        wholes=(
            Whole(
                f"patients.{name}.duration", law_with_ranges(found.law, found.draws, "h"),
                tuple(law_text(law, "h") for law in found.draws),
            ),
        ),
        cautions=(*rows.cautions, *how.cautions, *_doubts(rows, found, how)),
        panels=panels,
        rows=rows.rows,
        used=used,
        test_p=None if test is None else test.chance,
    )  # fmt: skip


def _chosen(found: StayLaw) -> str:
    """Return which law it is, and by how much it went before the next."""
    if found.lenders or found.own is None or len(found.own.fits) < 2:
        return found.law.kind
    first, second = found.own.fits[:2]
    return f"{first.law.kind} (Akaike {second.aic - first.aic:.1f} before {second.law.kind})"


def _doubts(rows: Rows, found: StayLaw, how: Kept) -> tuple[str, ...]:
    """Return what is doubtful of the fit."""
    said = []
    ended, spells = _ended(rows), rows.spells
    if found.lenders:
        said.append(
            f"{counted(ended, ended, 'stays')} ended: how long they last borrows from {listed(found.lenders)}"
        )
    elif ended < FEW_ROWS:
        said.append(f"only {counted(ended, ended, 'stays')} ended: the range is wide")
    if found.own is not None and not found.lenders:
        if found.own.fits[0].at_edge:
            said.append("how much stays differ is at the edge of what a law takes: the rows cannot say")
        if found.own.test is not None and found.own.test.chance < LEVEL:
            chance = found.own.test.chance
            said.append(f"the {found.law.kind} law is rejected by the rows (p = {chance:.2g}): see the picture")
    by_dates = int(np.sum(spells.step > 0))
    if by_dates and how.shift == 0:
        said.append("by dates alone; usual clocks of starting and ending (Place) would make the mean surer")
    return tuple(said)
