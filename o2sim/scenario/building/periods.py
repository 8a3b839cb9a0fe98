"""The period of a record beside a scenario: from when to when it was kept, and whether a run can be made of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from o2sim.scenario.text.nodes import Mapping, Node
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.hospital import DAY_S, General
from o2sim.scenario.types.period import BY_YEAR, REPLAY, RESAMPLE, Use, a_year_on

MOST_LISTED = 10  # rows outside a period; of the others their number is said
_DAY = dt.timedelta(days=1)
_ALLOWED = "a date such as 2027-04-01"


@dataclass(frozen=True)
class Record:
    """What a section says of a record: its file, the way it is used and the days between which it was kept.

    what: `register` or `record of cuts`; node: the section.
    """

    what: str
    node: Mapping
    file: str
    use: Use
    first: dt.date | None
    last: dt.date | None

    def at(self, key: str) -> Node:
        """Return the node to point at for a key."""
        return self.node.entries.get(key, self.node)


@dataclass(frozen=True)
class Period:
    """The first and the last day of a record; stated: as the file says."""

    first: dt.date
    last: dt.date
    stated: bool

    @property
    def days(self) -> int:
        """Return the days of the record."""
        return (self.last - self.first).days + 1

    def first_day(self, start: dt.date) -> int:
        """Return the first day, counted from the start of the horizon."""
        return (self.first - start).days


def period(problems: Problems, record: Record, found: Iterable[dt.date]) -> Period:
    """Return when a record was kept; found: the dates of its rows. Raises RefusedError.

    As stated; where neither day is and recorded days are drawn, from the first row to the last.
    """
    dates = sorted(found)
    stated = {"from": record.first, "to": record.last}
    if record.use == RESAMPLE and not any(stated.values()):
        return Period(dates[0], dates[-1], stated=False)
    if record.first is None or record.last is None:
        raise _missing(problems, record, [key for key, day in stated.items() if day is None], dates)
    if record.last < record.first:
        said = f"found {record.last}, before from ({record.first})"
        raise problems.add(record.at("to"), said, "a day not before from")
    return Period(record.first, record.last, stated=True)


def _missing(problems: Problems, record: Record, keys: list[str], dates: list[dt.date]) -> RefusedError:
    """Note the keys that are missing, with the days to check against the book; return what may be raised."""
    if record.use == RESAMPLE:
        instead = "; or leave both out: then it counts from the first row to the last"
    else:
        instead = "; with use: resample both may be left out"
    errors = []
    for key in keys:
        row, day = ("first", dates[0]) if key == "from" else ("last", dates[-1])
        kind = "admissions" if record.what == "register" else "a cut"
        hint = (
            f"write the {row} day on which the {record.what} was kept, perhaps `{key}: {day}`, the day of the "
            f"{row} row of {record.file}: check that in the book, for days without {kind} count too{instead}"
        )
        path = f"{record.node.path}.{key}"
        errors.append(problems.add(record.node, "this key is missing", _ALLOWED, hint, field=path))
    return errors[0]


def check_run(problems: Problems, record: Record, kept: Period, general: General) -> None:
    """Note a run that the record does not cover, and a record too short to repeat. Raises RefusedError."""
    if record.use == BY_YEAR and kept.last + _DAY < a_year_on(kept.first):
        found = f"found {kept.days} days, less than a whole year, from {kept.first} to {kept.last}"
        allowed = f"at least a whole year to repeat, to {a_year_on(kept.first) - _DAY} or later"
        hint = "write use: resample, or use: replay with a run within these days"
        raise problems.add(record.at("to"), found, allowed, hint)
    first, last = _horizon(general)
    if record.use != REPLAY or (kept.first <= first and last <= kept.last):
        return
    missing = [(first, min(last, kept.first - _DAY)), (max(first, kept.last + _DAY), last)]
    apart = [(begin, end) for begin, end in missing if begin <= end]
    spans, days = (
        (f"{begin} to {end}" for begin, end in apart),
        sum((end - begin).days + 1 for begin, end in apart),
    )
    key = "from" if first < kept.first else "to"
    said = kept.first if key == "from" else kept.last
    raise problems.add(
        record.at(key),
        f"found {said}: {_count(days)} of the horizon not covered by the {record.what} ({' and '.join(spans)})",
        f"a horizon within the days of the {record.what}, from {kept.first} to {kept.last}",
        "shorten the horizon or move start; or write use: resample (whole recorded days are drawn at random), or, "
        "from a whole year on, use: repeat by year",
    )


def _horizon(general: General) -> tuple[dt.date, dt.date]:
    """Return the first and the last day of a horizon, begun days included."""
    return general.start, general.start + dt.timedelta(days=(max(general.horizon_s, 1) - 1) // DAY_S)


def outside(problems: Problems, record: Record, kept: Period, rows: Iterable[tuple[int, str]]) -> None:
    """Note rows outside the period: (line, what was found), some of them by number; none is no problem.

    A row is noted once, also where several classes have the same file. Raises RefusedError.
    """
    wrong = sorted(rows)
    if not wrong:
        return
    allowed = f"rows from {kept.first} (from) to {kept.last} (to)"
    noted = {problem.found for problem in problems.noted}
    messages = [f"{record.file}:{line}: found {found}" for line, found in wrong[:MOST_LISTED]]
    if len(wrong) > MOST_LISTED:
        messages.append(f"{record.file}: {len(wrong) - MOST_LISTED} more rows lie outside the period")
    for message in messages:
        if message not in noted:
            problems.add(record.at("file"), message, allowed, "mend the row, or from and to")
    raise RefusedError


def _count(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
