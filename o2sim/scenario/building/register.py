"""A CSV file of admissions in; the register, checked row by row, and the part of one class out.

Columns: arrival (a date with or without a time, or the number of days since midnight of `start`, from 0), class,
flow (L/min where no unit is written) and hours on oxygen.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from typing import NoReturn

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.building.law_reader import LawReader
from o2sim.scenario.building.quantities import split_message
from o2sim.scenario.text.nodes import Mapping, Node
from o2sim.scenario.text.problems import Problems, listing, nearest, quote
from o2sim.scenario.types.hospital import DAY_S, Law, Recorded

COLUMNS = ("arrival", "class", "flow", "hours")
FARTHEST_DAYS = 36_525  # of an arrival from the start: a hundred years
_ALLOWED_ARRIVAL = "2027-02-03, 2027-02-03 14:05, or a number of days since the start"


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


def read_register(problems: Problems, laws: LawReader, node: Mapping, file: str, resample: bool) -> Register:
    """Return the register in a file beside the scenario; raise RefusedError at the first row that is wrong."""
    columns = [laws.column(node, file, column) for column in COLUMNS]
    rows = []
    for cells in zip(*columns, strict=True):
        line, arrival = cells[0]
        name, flow, hours = (cell.strip() for _, cell in cells[1:])
        reader = _Row(problems, node, f"{file}:{line}")
        rows.append(
            Admission(
                reader.arrival(arrival.strip()),
                name,
                reader.whole(flow, "flow", "L/min", "1 mL/min", "200 L/min"),
                reader.whole(hours, "duration", "h", "1 s", "100 years"),
            )
        )
    if len({type(row.arrival) for row in rows}) > 1:
        raise problems.add(node, f"{file}: found dates and numbers of days in the column arrival", "one of them")
    return Register(node, file, resample, tuple(rows))


def of_class(problems: Problems, register: Register, name: str, start: dt.date) -> Recorded:
    """Return the admissions of one class, in order of arrival; raise RefusedError where there are none."""
    midnight = dt.datetime.combine(start, dt.time())
    seconds = [_seconds(row.arrival, midnight) for row in register.rows]
    first_day = min(seconds) // DAY_S
    days = max(seconds) // DAY_S - first_day + 1
    if max(map(abs, seconds)) > FARTHEST_DAYS * DAY_S:
        raise problems.add(register.node, f"{register.file}: found an arrival a hundred years from the start")
    chosen = sorted(
        (second - first_day * DAY_S, place)
        for place, (second, row) in enumerate(zip(seconds, register.rows, strict=True))
        if row.name == name
    )
    if not chosen:
        names = sorted({row.name for row in register.rows})
        found = f"{register.file} has no admissions of class {quote(name)}"
        allowed = f"one of the class column: {listing([quote(each) for each in names[:10]])}"
        raise problems.add(register.node, found, allowed, nearest(name, names))
    rows = [register.rows[place] for _, place in chosen]
    return Recorded(
        resample=register.resample,
        first_day=first_day,
        days=days,
        arrival_s=tuple(second for second, _ in chosen),
        flow_ml_min=tuple(row.flow_ml_min for row in rows),
        need_s=tuple(row.need_s for row in rows),
    )


def empirical(values: tuple[int, ...]) -> Law:
    """Return the law that gives each recorded value with the same chance, for planning figures."""
    return Law("empirical", tuple(float(value) for value in sorted(values)))


def _seconds(arrival: dt.datetime | float, midnight: dt.datetime) -> int:
    """Return an arrival in seconds from midnight of the start."""
    if isinstance(arrival, dt.datetime):
        return math.floor((arrival - midnight).total_seconds())
    return math.floor(arrival * DAY_S)


class _Row:
    """Reads the cells of one row."""

    def __init__(self, problems: Problems, node: Node, place: str) -> None:
        self.problems, self.node, self.place = problems, node, place

    def arrival(self, text: str) -> dt.datetime | float:
        """Return a time of arrival."""
        if re.fullmatch(r"[0-9]{1,5}(\.[0-9]{1,9})?", text):
            return float(text)
        if re.fullmatch(r"\d{4}-\d\d-\d\d([T ]\d\d:\d\d(:\d\d)?)?", text, re.A):
            try:
                return dt.datetime.fromisoformat(text)
            except ValueError:
                pass
        raise self.problems.add(self.node, f"{self.place}: found arrival {quote(text)}", _ALLOWED_ARRIVAL)

    def whole(self, text: str, kind: units.Kind, unit: str, least: str, most: str) -> int:
        """Return a flow in mL/min or a time in s; without a unit it is in L/min or h."""
        try:
            value = units.read(f"{text} {unit}" if re.fullmatch(r"[0-9.]+", text) else text, kind)
        except QuantityError as error:
            found, allowed, hint = split_message(error)
            raise self.problems.add(self.node, f"{self.place}: {found}", allowed, hint) from None
        if not units.read(least, kind) <= value <= units.read(most, kind):
            self._refuse(text, f"from {least} to {most}")
        return round(value)

    def _refuse(self, text: str, allowed: str) -> NoReturn:
        raise self.problems.add(self.node, f"{self.place}: found {quote(text)}", allowed)
