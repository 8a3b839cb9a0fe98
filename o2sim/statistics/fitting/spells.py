"""Durations as a book shows them, and what chance a law gives to each row.

A row is one duration: known, known to lie between two, or written in whole steps (dates: steps of a day; a logger
that looks every so often: steps of a look) of which both ends are known only by the step they fall in. It may be
not yet over, and it may be in the book only because it lasted until the book began.

For steps the beginning is taken even within its step; then with G the integral of the cdf, in steps, a row of n
steps has the chance G(n+1) - 2 G(n) + G(n-1), one not over in its c-th step 1 - [G(c) - G(c-1)], and being there
when the book begins a steps on the same with a. Park et al. 2024 doi:10.1101/2024.01.12.24301247 and Charniga et
al. 2024 doi:10.1371/journal.pcbi.1012520 say why both ends count, and what is lost without.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import Laws, beyond, log_density, log_survival, survival

Values = npt.NDArray[np.float64]
_LEAST = 1e-300


@dataclass(frozen=True)
class Spells:
    """Rows of durations, arrays of shape (n,), in one unit of time.

    low, high: the duration lies in (low, high]; known where both are the same; not over yet where high is inf.
    step: 0, or the step that both ends are known to; then low = high = n steps, or low = c steps and high inf.
    entry: how long it had lasted when the book began (in steps where there are any), 0 for one begun within.
    limit: the longest that would have been seen to its end (inf: none known), as low of one not over.
    shift: clock at the end less clock at the beginning on average, of steps; 0 where both are even.
    """

    low: Values
    high: Values
    step: Values
    entry: Values
    limit: Values
    shift: Values

    def __len__(self) -> int:
        """Return how many rows there are."""
        return len(self.low)

    @cached_property
    def is_over(self) -> npt.NDArray[np.bool_]:
        """Return which rows have ended, shape (n,)."""
        return np.isfinite(self.high)

    @cached_property
    def parts(self) -> tuple[tuple[str, npt.NDArray[np.intp], Spells], ...]:
        """Return the rows by what gives their chance: its name, which they are, and these rows."""
        by_clock, known = self.step == 0, self.low == self.high
        kinds = {
            "steps": ~by_clock,
            "known": by_clock & known,
            "still on": by_clock & ~known & ~self.is_over,
            "between": by_clock & ~known & self.is_over,
            "there before": by_clock & (self.entry > 0),
        }
        return tuple(
            (name, np.flatnonzero(is_so), chosen(self, is_so)) for name, is_so in kinds.items() if is_so.any()
        )


def between(
    low: npt.ArrayLike, high: npt.ArrayLike, entry: npt.ArrayLike = 0.0, limit: npt.ArrayLike = np.inf
) -> Spells:
    """Return durations in (low, high], shape (n,) each; high inf for those not over, high = low for known ones.

    entry: had lasted so long when the book began; limit: what is longer would not have been seen to its end.
    Raises ValueError for a low below 0 or above high, a known duration of 0, and one shorter than its entry.
    """
    return _made(low, high, 0.0, entry, limit, 0.0)


def exact(durations: npt.ArrayLike, entry: npt.ArrayLike = 0.0, limit: npt.ArrayLike = np.inf) -> Spells:
    """Return known durations (> 0), shape (n,). Raises ValueError as `between` does."""
    return between(durations, durations, entry, limit)


def still_on(so_far: npt.ArrayLike, entry: npt.ArrayLike = 0.0) -> Spells:
    """Return durations not over after `so_far`, shape (n,). Raises ValueError as `between` does."""
    return between(so_far, np.full_like(np.asarray(so_far, np.float64), np.inf), entry, so_far)


def rounded(values: npt.ArrayLike, unit: float) -> Spells:
    """Return durations written to the nearest whole unit, shape (n,): within half a unit on either side."""
    v = np.asarray(values, np.float64)
    return between(np.maximum(v - unit / 2, 0.0), v + unit / 2)


def in_steps(
    steps: npt.ArrayLike,
    step: float = 1.0,
    over: npt.ArrayLike = True,
    entry: npt.ArrayLike = 0.0,
    limit: npt.ArrayLike = np.inf,
    shift: float = 0.0,
) -> Spells:
    """Return durations by the difference of the dates of both ends, in whole steps, shape (n,).

    step: length of a step in the unit wanted (24 for dates and hours). over: False for one not over in its c-th
    step, where `steps` is c (last day of the book - day begun + 1). entry: the book began so many steps after
    it, 0 for one begun within. limit: c of a row, were it still on. shift: usual clock at the end less usual
    clock at the beginning, in steps (-5/24 for 15:00 to 10:00). Raises ValueError for what is no whole number of
    steps.
    """
    counts = np.asarray(steps, np.float64)
    if np.any(counts != np.rint(counts)) or not -1 < shift < 1 or not step > 0:
        raise ValueError("steps: whole numbers, a step above 0 and a shift between -1 and 1 are needed")
    low = counts * step
    return _made(low, np.where(over, low, np.inf), step, np.multiply(entry, step), np.multiply(limit, step), shift)


def looked(dark: npt.ArrayLike, every: float, over: npt.ArrayLike = True) -> Spells:
    """Return lengths of spells by how many looks in a row met them, shape (n,), one look every `every`.

    Those that fell between two looks are not there: each row counts on condition that it was met at least once,
    which it was with chance (d - G(d)) / d.
    """
    return in_steps(dark, every, over, entry=1.0)


def joined(*parts: Spells) -> Spells:
    """Return the rows of all parts in order."""
    return Spells(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in Spells.__dataclass_fields__)
    )


def chosen(spells: Spells, which: npt.NDArray[np.bool_] | npt.NDArray[np.intp]) -> Spells:
    """Return some rows, by index or by True and False."""
    return Spells(*(getattr(spells, name)[which] for name in Spells.__dataclass_fields__))


def grouped(spells: Spells) -> tuple[Spells, Values]:
    """Return the rows that differ, and how often each is there: dates repeat, and a fit asks for each row often.

    Limits are left out: they change no chance.
    """
    free = replace(spells, limit=np.full(len(spells), np.inf))
    order = np.lexsort([getattr(free, name) for name in Spells.__dataclass_fields__])
    rows = chosen(free, order)
    differs = np.zeros(len(rows), dtype=bool)
    differs[:1] = True
    for name in Spells.__dataclass_fields__:
        column = getattr(rows, name)
        differs[1:] |= column[1:] != column[:-1]
    first = np.flatnonzero(differs)
    return chosen(rows, first), np.diff(np.append(first, len(rows))).astype(np.float64)


def log_chances(law: Law | Laws, spells: Spells) -> Values:
    """Return the logarithm of the chance (or density, for known durations) of each row, shape (n,).

    Of laws side by side, shape (k, n).
    """
    found = np.zeros((len(law.first), len(spells)) if isinstance(law, Laws) else len(spells))
    for name, which, rows in spells.parts:
        found[..., which] += _CHANCES[name](law, rows)
    return found


def bounds(law: Law, spells: Spells) -> tuple[Values, Values]:
    """Return the two ends of F within which each row's duration falls, given that it is in the book, shape (n,)
    each.

    Both are the same for a known duration; the upper is 1 for one not over.
    """
    sooner, there = np.ones(len(spells)), np.ones(len(spells))
    stepped, known = spells.step > 0, spells.low == spells.high
    sooner[~stepped] = survival(law, spells.low[~stepped])
    later = np.where(known, sooner, 0.0)
    among, before = ~stepped & ~known & spells.is_over, ~stepped & (spells.entry > 0)
    later[among] = survival(law, spells.high[among])
    there[before] = survival(law, spells.entry[before])
    if stepped.any():
        rows = chosen(spells, stepped)
        n = rows.low / rows.step
        sooner[stepped], later[stepped] = _looked_up(law, rows, n), _looked_up(law, rows, n + 1)
        there[stepped] = _looked_up(law, rows, rows.entry / rows.step)
    there = np.maximum(there, _LEAST)
    low, high = 1 - np.minimum(sooner / there, 1.0), 1 - np.minimum(later / there, 1.0)
    return low, np.where(spells.is_over, high, 1.0)


def _stepped(law: Law | Laws, rows: Spells) -> Values:
    """Return the logarithms for rows in steps: `lasting` n steps but not n + 1, given that it lasted to its
    entry."""
    n = rows.low / rows.step
    here, after = lasting(law, rows, np.stack([n, n + 1]))
    found = _log(np.where(rows.is_over, here - after, here))
    if np.any(rows.entry > 0):
        found -= _log(lasting(law, rows, rows.entry / rows.step))
    return found


_CHANCES: dict[str, Callable[[Law | Laws, Spells], Values]] = {
    "steps": _stepped,
    "known": lambda law, rows: log_density(law, rows.low),
    "still on": lambda law, rows: log_survival(law, rows.low),
    "between": lambda law, rows: _log(survival(law, rows.low) - survival(law, rows.high)),
    "there before": lambda law, rows: -log_survival(law, rows.entry),
}


def _looked_up(law: Law, rows: Spells, n: Values) -> Values:
    """Return `lasting` of n, shape (rows,): worked out once for each n where rows are many and alike in step."""
    most = float(n.max())
    if most > len(rows) / 2 or np.ptp(rows.step) > 0 or np.ptp(rows.shift) > 0:
        return lasting(law, rows, n)
    like = chosen(rows, np.zeros(int(most) + 1, np.intp))
    return np.asarray(lasting(law, like, np.arange(most + 1))[np.rint(n).astype(np.intp)], np.float64)


def lasting(law: Law | Laws, rows: Spells, n: Values) -> Values:
    """Return the chances that both ends of rows in steps differ by at least n steps, shape (..., rows).

    1 - [G(n) - G(n-1)] = U(n-1) - U(n) in steps; 1 for n = 0. Of laws side by side, shape (..., k, rows).
    """
    n = n[..., None, :] if isinstance(law, Laws) else n
    at = (n + rows.shift) * rows.step
    before, here = beyond(law, np.stack([at - rows.step, at]))
    chance = (before - here) / rows.step
    return np.where(n > 0, np.minimum(chance, 1.0), 1.0)


def _log(chances: Values) -> Values:
    return np.asarray(np.log(np.maximum(chances, _LEAST)), np.float64)


def _made(low: npt.ArrayLike, high: npt.ArrayLike, *others: npt.ArrayLike) -> Spells:
    """Return rows of one shape, step, entry, limit and shift being `others`, or say which are impossible."""
    columns = np.broadcast_arrays(*(np.atleast_1d(np.asarray(a, np.float64)) for a in (low, high, *others)))
    spells = Spells(*(np.array(column) for column in columns))
    wrong = np.isnan(np.sum(columns[:2], axis=0)) | (spells.low < 0) | (spells.high < spells.low)
    wrong |= (spells.step == 0) & (spells.low == spells.high) & (spells.low <= 0)
    wrong |= (spells.high < spells.entry) | (spells.low < spells.entry) & ~spells.is_over
    if wrong.any():
        row = int(np.argmax(wrong))
        raise ValueError(
            f"durations: row {row + 1} of {len(spells)} says {spells.low[row]:g} to {spells.high[row]:g} with"
            f" {spells.entry[row]:g} before the book began; allowed: 0 <= low <= high, known ones above 0, no end"
            " before the book began"
        )
    return spells
