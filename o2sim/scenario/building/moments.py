"""Reads dates and times on the calendar, as they stand in a file: 2027-05-03, 2027-05-03 07:30."""

from __future__ import annotations

import datetime as dt
import re

from o2sim.scenario.building.cells import YEARS
from o2sim.scenario.keys.field import Field
from o2sim.scenario.keys.fields import allowed
from o2sim.scenario.text.nodes import Scalar, describe
from o2sim.scenario.text.problems import Problems, RefusedError

WITH_CLOCK = "date and time"  # the kind of key that needs both
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?", re.A)


def read_date(problems: Problems, node: Scalar, item: Field, text: str) -> dt.date:
    """Return the date in a text; node is where it stands. Raises RefusedError."""
    try:
        date = dt.date(*map(int, text.split("-"))) if re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.A) else None
    except ValueError:
        raise _refuse(problems, node, item, "no such day") from None
    if date is None:
        raise _refuse(problems, node, item, "", "year, month, day")
    if not YEARS[0] <= date.year <= YEARS[1]:
        raise _refuse(problems, node, item, "", f"years {YEARS[0]} to {YEARS[1]}")
    return date


def read_moment(problems: Problems, node: Scalar, item: Field, text: str) -> dt.datetime:
    """Return a date with its time, 00:00 where a date alone is enough for the key. Raises RefusedError."""
    day, *clock = re.split(r"[T\s]+", text, maxsplit=1)
    date = read_date(problems, node, item, day)
    if not clock:
        if item.kind == WITH_CLOCK:
            raise _refuse(problems, node, item, "a date without a time", f"at what time? such as {date} 07:30")
        return dt.datetime.combine(date, dt.time())
    found = _CLOCK.fullmatch(clock[0])
    if not found:
        raise _refuse(problems, node, item, "no such time of day", "hours and minutes, from 00:00 to 23:59")
    hour, minute, second = (int(part or 0) for part in found.groups())
    return dt.datetime.combine(date, dt.time(hour, minute, second))


def _refuse(problems: Problems, node: Scalar, item: Field, reason: str, hint: str = "") -> RefusedError:
    found = f"found {describe(node)}" + (f": {reason}" if reason else "")
    return problems.add(node, found, allowed(item), hint)
