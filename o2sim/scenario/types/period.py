"""What a record beside a scenario says of the time it was kept, and how a run uses it, with the keys."""

from __future__ import annotations

import datetime as dt
from typing import Any, Literal, get_args

from o2sim.scenario.keys.record import key

Use = Literal["replay", "resample", "repeat by year"]
REPLAY: Use = "replay"
RESAMPLE: Use = "resample"
BY_YEAR: Use = "repeat by year"
USES: tuple[str, ...] = get_args(Use)
_DAY = dt.timedelta(days=1)


def kept(name: str, help_: str) -> Any:
    """Return the key of the first or the last day on which a record was kept."""
    return key("date", help_, name=name, otherwise="with use: resample the day of that row; else needed")


def a_year_on(day: dt.date) -> dt.date:
    """Return the same date a year later, 1 March for 29 February: a whole year lies between."""
    return dt.date(day.year + 1, 3, 1) if (day.month, day.day) == (2, 29) else day.replace(year=day.year + 1)


def same_date(first: dt.date, days: int, date: dt.date) -> int:
    """Return the recorded day, from 0, that a date outside a record of `days` days from `first` on takes.

    That of the same calendar date in the latest recorded year that has it; for 29 February, where no recorded year
    has one, that of 28 February. The record holds a whole year.
    """
    last = first + dt.timedelta(days=days - 1)
    for each in (date, date - _DAY):
        for year in range(last.year, first.year - 1, -1):
            try:
                day = each.replace(year=year)
            except ValueError:  # no 29 February in that year
                continue
            if first <= day <= last:
                return (day - first).days
    raise AssertionError("a record of less than a year")
