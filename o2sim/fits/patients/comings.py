"""How many of each class were put on oxygen, day by day or month by month, and over which days that is known."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import DAY, Covered, covered, plain
from o2sim.records.books import Records
from o2sim.records.rows import Admissions, MonthTotal, Stay, When
from o2sim.statistics.fitting.counts import daily_counts

Values = npt.NDArray[np.float64]
Row = TypeVar("Row", MonthTotal, Admissions)
REGISTER, MONTHS, ALL = "Patients on oxygen", "Month totals", "All admissions"
_ENOUGH_FOR_SPAN = 4  # rows, from which the days beyond the first and the last can be judged


@dataclass(frozen=True)
class Counted:
    """Counts of a class over intervals that a book covers, arrays of shape (n,).

    days: covered days of each interval, less those whose class is unknown; middle: days from `origin`, a 1
    January, to the middle of each; said: the period in words. stretch: by how much days were made more since
    nobody says when the book was kept.
    """

    counts: Values
    days: Values
    middle: Values
    origin: dt.date
    said: str
    is_daily: bool
    stretch: float = 1.0

    @property
    def total(self) -> int:
        """Return how many came."""
        return int(self.counts.sum())


def put_on(stay: Stay) -> When | None:
    """Return when oxygen was begun; the time of arrival where that is not written."""
    return stay.begun if stay.begun is not None else stay.arrived


def register_days(records: Records) -> Covered | None:
    """Return the days that the register covers."""
    days = [day for stay in records.stays for day in (put_on(stay), stay.ended)]
    return covered(records, REGISTER, days)


def from_register(records: Records, there: Covered) -> dict[str, Counted]:
    """Return the patients put on oxygen on each covered day, by class; only classes that have any.

    Those begun before the book or on a day of missing pages are in no rate. Rows without a class count as spread
    over the classes like the others.
    """
    came = [(stay.class_, plain(day)) for stay in records.once if (day := put_on(stay)) is not None]
    came = [(name, day) for name, day in came if there.holds(day)]
    named = [name for name, _ in came if name is not None]
    if not named:
        return {}
    factor = stretch(there, len(came))
    share = len(named) / len(came) * factor
    missing = (np.flatnonzero(~there.is_covered) + there.first.toordinal()).tolist()
    origin = dt.date(there.first.year, 1, 1)
    found = {}
    for name in (each for each in records.classes if each in named):
        days, counts = daily_counts(
            [day.toordinal() for kind, day in came if kind == name],
            there.first.toordinal(), there.last.toordinal(), missing,
        )  # fmt: skip
        found[name] = Counted(
            counts, np.full(len(days), share), days - origin.toordinal() + 0.5, origin, there.said(), True, factor
        )
    return found


def stretch(there: Covered, rows: int) -> float:
    """Return by how much longer a book was kept than from its first row to its last, where Place does not say.

    The mean of n even times over the span they show is too high by n / (n - 2).
    """
    return 1.0 if there.is_stated or rows < _ENOUGH_FOR_SPAN else rows / (rows - 2)


@dataclass(frozen=True)
class Months:
    """Rows of a book of months for one class: first day of each, covered days of each, and the rows."""

    firsts: tuple[dt.date, ...]
    days: tuple[int, ...]
    said: str

    def counted(self, counts: Iterable[float], factor: float = 1.0) -> Counted:
        """Return counts of these months; factor: of the days of which the class is known."""
        origin = dt.date(self.firsts[0].year, 1, 1)
        middle = [(first - origin).days + month_days(first) / 2 for first in self.firsts]
        days = np.array(self.days, np.float64) * factor
        return Counted(np.array(list(counts), np.float64), days, np.array(middle), origin, self.said, False)


def months_of(records: Records, sheet: str, firsts: Sequence[dt.date]) -> Months | None:
    """Return months with their covered days, in the order given; whole months where Place does not say."""
    if not firsts:
        return None
    there = covered(records, sheet, [day for first in firsts for day in (first, month_end(first))])
    days = []
    for first in firsts:
        inside = sum(there.holds(first + DAY * k) for k in range(month_days(first))) if there else 0
        days.append(inside or month_days(first))
    return Months(tuple(firsts), tuple(days), period(min(firsts), month_end(max(firsts))))


def period(first: dt.date, last: dt.date) -> str:
    """Return a period in words."""
    return Covered(first, last, np.ones((last - first).days + 1, bool), True).said()


def month_days(first: dt.date) -> int:
    """Return the days of a month."""
    return (month_end(first) - first).days + 1


def month_end(first: dt.date) -> dt.date:
    """Return the last day of a month."""
    return (first.replace(day=28) + DAY * 4).replace(day=1) - DAY


def from_totals(records: Records) -> dict[str, Counted]:
    """Return the patients put on oxygen in each month, by class; months without the number are left out."""
    found = {}
    for name in records.classes:
        rows = rows_with(records, records.months, name, "put_on_oxygen")
        months = months_of(records, MONTHS, [month(row) for row in rows])
        if months is not None and any(row.put_on_oxygen for row in rows):
            found[name] = months.counted(row.put_on_oxygen or 0 for row in rows)
    return found


def rows_with(records: Records, rows: Iterable[Row], name: str, *fields: str) -> list[Row]:
    """Return the rows of a class in which these fields are written, by month."""
    mine = [row for row in rows if class_of(records, row.class_) == name]
    return sorted((row for row in mine if None not in [getattr(row, each) for each in fields]), key=month)


def month(row: MonthTotal | Admissions) -> dt.date:
    """Return the first day of the month of a row."""
    assert row.month is not None  # no row is without
    return row.month


def class_of(records: Records, name: str | None) -> str | None:
    """Return the class of a row; the only one there is where the row names none."""
    return records.classes[0] if name is None and len(records.classes) == 1 else name


def overlap(one: Counted, other: Counted) -> float:
    """Return the share of the days of `one` within the time of `other`."""
    shift = (other.origin - one.origin).days
    low, high = other.middle.min() + shift - 16, other.middle.max() + shift + 16
    within = (one.middle >= low) & (one.middle <= high)
    return float(one.days[within].sum() / one.days.sum())
