"""Which days each book covers: from Place, less missing pages; without it from the first row to the last."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.records.books import Records, kept

DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Covered:
    """The days of a book: first and last of all, and which of them count.

    is_covered: shape (days,), from the first to the last. is_stated: whether Place says so; otherwise the days are
    those from the first row to the last, and rates from them are too high (a caution).
    """

    first: dt.date
    last: dt.date
    is_covered: npt.NDArray[np.bool_]
    is_stated: bool

    @property
    def days(self) -> int:
        """Return how many days are covered."""
        return int(self.is_covered.sum())

    @property
    def dates(self) -> tuple[dt.date, ...]:
        """Return the days that are covered."""
        return tuple(self.first + DAY * int(day) for day in np.flatnonzero(self.is_covered))

    def holds(self, day: dt.date) -> bool:
        """Return whether a day is covered."""
        index = (plain(day) - self.first).days
        return 0 <= index < self.is_covered.size and bool(self.is_covered[index])

    def said(self) -> str:
        """Return the period in words: "Jan to Dec 2026", or to the day where it is no whole months."""
        first, last = self.first, self.last
        if first.day == 1 and (last + DAY).day == 1:
            if (first.year, first.month) == (last.year, last.month):
                return f"{first:%b %Y}"
            return f"{first:%b} to {last:%b %Y}" if first.year == last.year else f"{first:%b %Y} to {last:%b %Y}"
        return f"{first.day} {first:%b %Y} to {last.day} {last:%b %Y}"


def plain(when: dt.date) -> dt.date:
    """Return the day of a time."""
    return when.date() if isinstance(when, dt.datetime) else when


def covered(records: Records, sheet: str, rows: Iterable[dt.date | None]) -> Covered | None:
    """Return the days that a book covers; rows: days of its rows, used where Place is silent. None without any."""
    known = [plain(row) for row in rows if row is not None]
    begin, end = kept(records.places, sheet, "kept_from"), kept(records.places, sheet, "kept_to")
    first = begin.kept_from if begin is not None else min(known, default=None)
    last = end.kept_to if end is not None else max(known, default=None)
    if first is None or last is None or last < first:
        return None
    counted = np.ones((last - first).days + 1, bool)
    for gap_from, gap_to in records.missing(sheet):
        low, high = (plain(gap_from) - first).days, (plain(gap_to) - first).days + 1
        counted[max(low, 0) : max(high, 0)] = False
    return Covered(first, last, counted, begin is not None and end is not None)


def day_by_day(book: Covered, first: dt.date, days: int) -> npt.NDArray[np.bool_]:
    """Return which of so many days from a first one a book covers, shape (days,)."""
    return np.array([book.holds(first + DAY * day) for day in range(days)], bool)
