"""What the books might as well have shown: durations drawn from a fitted law, written as the rows are written.

Fitting them again shows how far a fit may lie from the truth. For laws that are shifts and stretches of one
shape on the scale of logarithms (lognormal, Weibull, exponential) with all rows over, the pivots below give
exactly the confidence intervals of the textbooks (Lawless, Statistical Models and Methods for Lifetime Data,
2003, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import quantile, side_by_side, survival
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.many import many_quantiles
from o2sim.statistics.fitting.maximum import (
    Fit,
    aic_weights,
    fit_law,
    free_of,
    law_of,
    within_box,
)
from o2sim.statistics.fitting.spells import Spells, chosen, grouped, lasting, log_chances

Values = npt.NDArray[np.float64]
MOST_STEPS = 100_000  # of a drawn duration
_FARTHEST = 7.0  # from the largest log-likelihood: a chance of 1 in 1,000 for two numbers by Wilks' theorem
_AT_ONCE = 50_000  # rows times laws: no more memory than that is worth
_RARE = 1e-9  # a chance below which no more steps are counted


@dataclass(frozen=True)
class Refits:
    """Fits to drawn books: the law that was drawn from, the books, and the law fitted to each."""

    law: Law
    books: tuple[Spells, ...]
    laws: tuple[Law, ...]


def redrawn(law: Law, spells: Spells, seed: int, book: int) -> Spells:
    """Return as many rows as there are, drawn from a law and written in the same way.

    A row that lasted until the book began is drawn on condition that it did; one that lasts beyond its limit is
    not over; one known to lie between two values is put between two as far apart.
    """
    luck = uniforms(seed, "durations of a drawn book", book, (2, len(spells)))
    stepped = spells.step > 0
    low, high = np.empty(len(spells)), np.empty(len(spells))
    if (~stepped).any():
        low[~stepped], high[~stepped] = _by_the_clock(law, chosen(spells, ~stepped), luck[:, ~stepped])
    if stepped.any():
        low[stepped] = high[stepped] = _by_steps(law, chosen(spells, stepped), luck[0, stepped])
    cut = np.where(stepped, low >= spells.limit, low > spells.limit)
    low, high = np.where(cut, spells.limit, low), np.where(cut, np.inf, high)
    return Spells(low, high, spells.step, spells.entry, spells.limit, spells.shift)


def refits(fit: Fit, spells: Spells, count: int, seed: int) -> Refits:
    """Return a law fitted to each of `count` drawn books; a drawn book of which nothing ended is left out."""
    start, books, laws = free_of(fit.law), [], []
    for book in range(count):
        drawn = redrawn(fit.law, spells, seed, book)
        if drawn.is_over.any():
            rows, counts = grouped(drawn)
            books.append(drawn)
            laws.append(fit_law(rows, fit.law.kind, counts, start).law)
    return Refits(fit.law, tuple(books), tuple(laws))


def turned(law: Law, again: Law) -> Law:
    """Return a law that is as far from the fitted one as that is from a refit, on the other side.

    With place m and width s, and those of the refit m' and s': width s^2 / s', place m - s (m' - m) / s'.
    """
    here, there = free_of(law), free_of(again)
    if law.kind == "exponential":
        return law_of(law.kind, 2 * here - there)
    place = here[0] - np.exp(here[1] - there[1]) * (there[0] - here[0])
    return law_of(law.kind, within_box(law.kind, np.array([place, 2 * here[1] - there[1]])))


def joint_draws(
    fits: Sequence[Fit], spells: Spells, count: int, seed: int, known: Refits | None = None
) -> tuple[Law, ...]:
    """Return `count` laws that the rows leave possible: the kind by its weight, its parameters by refits.

    fits: of all kinds that are considered. known: refits that are there already, of any of them. Place and width
    stay together in each. Raises ValueError where no drawn book could be fitted.
    """
    picked = np.searchsorted(np.cumsum(aic_weights(fits)), uniforms(seed, "kind of law", 0, count))
    picked = np.minimum(picked, len(fits) - 1)
    drawn: dict[int, Law] = {}
    rows = grouped(spells)
    for nth, fit in enumerate(fits):
        places = np.flatnonzero(picked == nth).tolist()
        if not places:
            continue
        there = known if known is not None and known.law == fit.law else refits(fit, spells, len(places), seed + 1)
        laws = _likely_enough(fit, there, rows)
        for at, place in enumerate(places):
            drawn[place] = laws[at % len(laws)]
    return tuple(drawn[place] for place in range(count))


def _likely_enough(fit: Fit, there: Refits, rows: tuple[Spells, Values]) -> list[Law]:
    """Return the refits turned to the other side, without those that the rows themselves all but rule out.

    With 5 rows a pivot has no end: one draw in a hundred would be thousands of times too long, and
    simulations take the mean over draws.
    """
    spells, counts = rows
    turns = [turned(fit.law, again) for again in there.laws]
    least = fit.log_likelihood - _FARTHEST
    at_once = max(1, _AT_ONCE // len(spells))
    kept = []
    for first in range(0, len(turns), at_once):
        some = turns[first : first + at_once]
        chances = log_chances(side_by_side(some), spells)
        kept += [law for law, each in zip(some, chances, strict=True) if float(counts @ each) >= least]
    if not kept:
        raise ValueError("durations: too few of them ended for a range; give one from another source")
    return kept


def spread(values: npt.ArrayLike, shares: Sequence[float] = (0.05, 0.5, 0.95)) -> tuple[float, ...]:
    """Return the values below which these shares of drawn numbers, shape (n,), lie: 5, 50 and 95 % by itself."""
    return tuple(float(v) for v in np.quantile(np.asarray(values, np.float64), shares))


def _by_the_clock(law: Law, rows: Spells, luck: Values) -> tuple[Values, Values]:
    """Return low and high of rows whose ends are known: L given that it outlasted its entry."""
    there = np.ones(len(rows))
    there[rows.entry > 0] = survival(law, rows.entry[rows.entry > 0])
    lasted = many_quantiles(law, 1 - there * luck[0])
    lasted = np.maximum(lasted, np.maximum(rows.entry, 1e-9))
    known_to = np.where(rows.is_over, np.where(rows.is_over, rows.high, 0) - rows.low, 0.0)
    low = np.maximum(lasted - known_to * luck[1], rows.entry)
    return np.where(known_to > 0, low, lasted), np.where(known_to > 0, low + known_to, lasted)


def _by_steps(law: Law, rows: Spells, luck: Values) -> Values:
    """Return durations in whole steps, times the step: n with the chance that both ends differ by n."""
    found = np.empty(len(rows))
    if np.ptp(rows.step) == 0 and np.ptp(rows.shift) == 0:  # as a rule; sorting 10,000 rows takes its time
        kinds, which = np.array([[rows.step[0], rows.shift[0]]]), np.zeros(len(rows), np.intp)
    else:
        kinds, which = np.unique(np.column_stack([rows.step, rows.shift]), axis=0, return_inverse=True)
    for nth, (step, _) in enumerate(kinds):
        mine = np.flatnonzero(which.ravel() == nth)
        chances = _table(law, chosen(rows, mine[:1]))
        entries = np.minimum(np.rint(rows.entry[mine] / step).astype(int), len(chances) - 1)
        sought = chances[entries] * luck[mine]  # the last n that lasts with at least this chance
        reached = len(chances) - np.searchsorted(chances[::-1], sought) - 1
        found[mine] = np.maximum(reached, entries) * step
    return found


def _table(law: Law, row: Spells) -> Values:
    """Return the chances of at least 0, 1, 2 ... steps, until they are next to none."""
    step = float(row.step[0])
    reach = float(quantile(law, 1 - _RARE)) / step + 3
    steps = np.arange(min(int(reach), MOST_STEPS), dtype=np.float64)
    like = Spells(*(np.repeat(getattr(row, name), len(steps)) for name in Spells.__dataclass_fields__))
    return np.minimum.accumulate(lasting(law, like, steps))
