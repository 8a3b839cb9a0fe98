"""What is kept of the state at each midnight: cover by replication, stock and waiting by day.

The daily counts of a replication are 22 kB a year. What is shown of them is little: a few figures of each
replication, and for each midnight how many replications had how many full cylinders. Those counts are whole
numbers, so quantiles made of them are exactly those of all the values.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from o2sim.outcome import DAILY_COLUMNS, Outcome, supply_unserved_s
from o2sim.statistics.estimator import Column

Ints = npt.NDArray[np.int64]
Daily = npt.NDArray[np.int32]
COVER_LEVELS_DAYS = (1, 3, 7)
COVER = 4 + len(COVER_LEVELS_DAYS)  # lowest and mean, days and hours; shares of days under each level
UNKNOWN: Column = np.full(COVER, np.nan)
MOST_WAITING = 1 << 16  # values, before they are counted
_FULL, _UNSERVED = (DAILY_COLUMNS.index(name) for name in ("full", "unserved"))


@dataclass(frozen=True)
class Nights:
    """The midnights of one replication: its cover, full cylinders and whether anybody waits, by day.

    cover has shape (COVER,), nan where there is none to tell; full and waits have shape (days,). daily are the
    counts themselves, where they are asked for.
    """

    cover: Column
    full: Daily
    waits: npt.NDArray[np.bool_]
    daily: Daily | None = None


def nights_of(daily: Daily, cylinders: bool = True, keep: bool = False) -> Nights:
    """Return what is kept of the daily counts of one replication; without cylinders there is no cover.

    keep: the counts stay too.
    """
    found = cover_figures(daily) if cylinders and len(daily) else UNKNOWN
    return Nights(found, daily[:, _FULL].copy(), daily[:, _UNSERVED] > 0, daily if keep else None)


def cover(daily: Daily) -> tuple[Column, Column]:
    """Return (days, hours) of cover at each midnight, shape (days,); NaN where nothing is needed, or flows.

    Days of cover: usable litres on hand over the greater of the last 7 days' use and the season's mean need,
    whatever source meets that. Hours of cover: the same litres at the flow now drawn from cylinders, leaks
    included.
    """
    columns = ("usable_litres", "used_7_days_litres", "mean_need_litres", "cylinder_flow_ml_min")
    usable, used, need, flow = (daily[:, DAILY_COLUMNS.index(name)].astype(np.float64) for name in columns)
    per_day, litres_per_hour = np.maximum(used / 7, need), flow * 60 / 1_000
    return _over(usable, per_day), _over(usable, litres_per_hour)


def _over(parts: Column, wholes: Column) -> Column:
    quotient: Column = np.divide(parts, wholes, out=np.full(len(parts), np.nan), where=wholes > 0)
    return quotient


def cover_figures(daily: Daily) -> Column:
    """Return lowest and mean days, lowest and mean hours, shares of days under each level; shape (COVER,)."""
    days, hours = cover(daily)
    shares = [np.mean(days < level) for level in COVER_LEVELS_DAYS]
    return np.array([*_lowest_and_mean(days), *_lowest_and_mean(hours), *shares])


def _lowest_and_mean(values: Column) -> tuple[float, float]:
    known = values[~np.isnan(values)]
    return (float(known.min()), float(known.mean())) if len(known) else (np.nan, np.nan)


class Counts:
    """How many replications had each number at each midnight; kept as the numbers that were seen."""

    def __init__(self, days: int) -> None:
        """Take how many midnights there are."""
        self._days = np.arange(days, dtype=np.int64) << 32
        self._keys: Ints = np.zeros(0, dtype=np.int64)  # day and number, in order
        self._counts: Ints = np.zeros(0, dtype=np.int64)
        self._waiting: list[Ints] = []

    def add(self, numbers: Daily) -> None:
        """Take the numbers of one replication, shape (days,), none below zero."""
        self._waiting.append(self._days | numbers)
        if len(self._waiting) * len(numbers) > max(MOST_WAITING, len(self._keys)):
            self._count()

    def _count(self) -> None:
        """Add what waits to the counts."""
        if self._waiting:
            seen, times = np.unique(np.concatenate(self._waiting), return_counts=True)
            self._waiting = []
            keys = np.union1d(self._keys, seen)
            counts = np.zeros(len(keys), dtype=np.int64)
            counts[np.searchsorted(keys, self._keys)] = self._counts
            counts[np.searchsorted(keys, seen)] += times
            self._keys, self._counts = keys, counts

    def by_day(self) -> list[tuple[Ints, Ints]]:
        """Return for each midnight the numbers seen, in order, and how many replications had each."""
        self._count()
        ends = np.searchsorted(self._keys, [*self._days, len(self._days) << 32])
        numbers = self._keys & (2**32 - 1)
        return [(numbers[a:b], self._counts[a:b]) for a, b in pairwise(ends)]


@dataclass
class Midnights:
    """The midnights of all replications of one strategy, by day; replications are added in their order."""

    days: int
    full: Counts = field(init=False)
    waits: Ints = field(init=False)  # replications in which anybody waits unserved, by day
    fewest: list[int] = field(default_factory=list)  # full cylinders at any midnight, by replication
    worst_full: Daily = field(init=False)  # of the replication with most time unserved for lack of supply
    _worst: tuple[int, int] = (1, 1)

    def __post_init__(self) -> None:
        """Begin with nothing counted."""
        self.full, self.waits = Counts(self.days), np.zeros(self.days, dtype=np.int64)
        self.worst_full = np.zeros(self.days, dtype=np.int32)

    def add(self, outcome: Outcome, nights: Nights) -> None:
        """Take the next replication."""
        self.full.add(nights.full)
        self.waits += nights.waits
        self.fewest.append(int(nights.full.min(initial=np.iinfo(np.int32).max)))
        if (bad := badness(outcome)) < self._worst:
            self._worst, self.worst_full = bad, nights.full

    def quantiles(self, percent: Sequence[float]) -> npt.NDArray[np.float64]:
        """Return quantiles of full cylinders at each midnight, shape (len(percent), days), as np.percentile."""
        found = [np.percentile(np.repeat(numbers, counts), percent) for numbers, counts in self.full.by_day()]
        return np.array(found).reshape(self.days, len(percent)).T

    @property
    def share_empty(self) -> float:
        """Return the share of all midnights without a full cylinder."""
        seen = [(int(counts[numbers == 0].sum()), int(counts.sum())) for numbers, counts in self.full.by_day()]
        return sum(none for none, _ in seen) / sum(every for _, every in seen)


def badness(outcome: Outcome) -> tuple[int, int]:
    """Return what orders replications from the worst on: time unserved for lack of supply, then for any cause."""
    return -supply_unserved_s(outcome), -sum(outcome.unserved_s)


def midnights_of(outcomes: Iterable[tuple[Outcome, Nights]]) -> Midnights:
    """Return the midnights of replications, given in their order; of none where there are no replications."""
    found: Midnights | None = None
    for outcome, nights in outcomes:
        if found is None:
            found = Midnights(len(nights.full))
        found.add(outcome, nights)
    return Midnights(0) if found is None else found
