"""Rows of records beside a scenario: power cuts, and registers of admissions.

A register has the columns arrival (a date with or without a time, or the number of days since midnight of `start`,
from 0), class, flow (L/min where no unit is written) and hours on oxygen.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.building.beside import Beside
from o2sim.scenario.building.values import split_message
from o2sim.scenario.text.nodes import Mapping, Node
from o2sim.scenario.text.problems import quote
from o2sim.scenario.types.spells import Spell, merged

MOST_CUTS = 20_000
CUTS_FORM = "columns start,end or start,hours, as 2027-03-01 18:30,2.5"
COLUMNS = ("arrival", "class", "flow", "hours")
_ALLOWED_ARRIVAL = "2027-02-03, 2027-02-03 14:05, or a number of days since the start"


def read_cuts(beside: Beside, node: Node, file: str, start: dt.date) -> tuple[Spell, ...]:
    """Return recorded cuts [start, end) in s from midnight of the start date, joined where they meet.

    Raises RefusedError; the message names the line of the file.
    """
    names, rows = beside.table(node, file, CUTS_FORM)
    if "start" not in names or not {"end", "hours"} & set(names) or not 1 <= len(rows) <= MOST_CUTS:
        found = f"{file} has {len(rows)} rows under {', '.join(names) or 'nothing'}"
        raise beside.problems.add(node, found, f"1 to {MOST_CUTS} rows under {CUTS_FORM}")
    zero = dt.datetime.combine(start, dt.time())
    spells = []
    for line, row in rows:
        try:
            spells.append(_cut(row, zero))
        except (ValueError, OverflowError, TypeError, AttributeError):  # a short row has no start at all
            stated = ",".join(str(cell) for cell in row.values())
            raise beside.problems.add(node, f"{file}:{line}: found {stated[:60]!r}", CUTS_FORM) from None
    return merged(spells)


def _cut(row: dict[str, str], zero: dt.datetime) -> Spell:
    def second(text: str) -> int:
        return round((dt.datetime.fromisoformat(text.strip()).replace(tzinfo=None) - zero).total_seconds())

    begin = second(row["start"])
    finish = second(row["end"]) if row.get("end") else begin + round(float(row["hours"]) * 3_600)
    if finish <= begin:
        raise ValueError
    return begin, finish


@dataclass(frozen=True)
class Admission:
    """One row: arrival as a time or as days since the start, class, flow (mL/min) and stay (s)."""

    arrival: dt.datetime | float
    name: str
    flow_ml_min: int
    need_s: int


@dataclass(frozen=True)
class Register:
    """The rows of a file, all classes."""

    node: Node
    file: str
    resample: bool
    rows: tuple[Admission, ...]


def read_register(beside: Beside, node: Mapping, file: str, *, resample: bool) -> Register:
    """Return the register in a file; raise RefusedError at the first row that is wrong."""
    rows = []
    for cells in zip(*(beside.column(node, file, column) for column in COLUMNS), strict=True):
        arrival, name, flow, hours = (cell.strip() for _, cell in cells)
        try:
            at, flow_ml_min = _arrival(arrival), _whole(flow, "flow", "L/min", "1 mL/min", "200 L/min")
            rows.append(Admission(at, name, flow_ml_min, _whole(hours, "duration", "h", "1 s", "100 years")))
        except QuantityError as error:
            found, *more = split_message(error)
            raise beside.problems.add(node, f"{file}:{cells[0][0]}: {found}", *more) from None
    if len({type(row.arrival) for row in rows}) > 1:
        found = f"{file}: found dates and numbers of days in the column arrival"
        raise beside.problems.add(node, found, "one of them")
    return Register(node, file, resample, tuple(rows))


def _arrival(text: str) -> dt.datetime | float:
    """Return a time of arrival; raise QuantityError."""
    if re.fullmatch(r"[0-9]{1,5}(\.[0-9]{1,9})?", text):
        return float(text)
    if re.fullmatch(r"\d{4}-\d\d-\d\d([T ]\d\d:\d\d(:\d\d)?)?", text, re.A):
        try:
            return dt.datetime.fromisoformat(text)
        except ValueError:
            pass
    raise QuantityError(f"found arrival {quote(text)}; allowed: {_ALLOWED_ARRIVAL}")


def _whole(text: str, kind: units.Kind, unit: str, least: str, most: str) -> int:
    """Return a flow in mL/min or a time in s; without a unit it is in L/min or h. Raises QuantityError."""
    value = units.read(f"{text} {unit}" if re.fullmatch(r"[0-9.]+", text) else text, kind)
    if not units.read(least, kind) <= value <= units.read(most, kind):
        raise QuantityError(f"found {quote(text)}; allowed: from {least} to {most}")
    return round(value)
