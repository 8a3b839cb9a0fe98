"""Rows of records beside a scenario: power cuts, and registers of admissions.

A cut has its end or its hours; one with neither was not over when the record ended.

A register has the columns arrival (a date with or without a time, or the number of days since midnight of `start`,
from 0), class, flow (L/min where no unit is written) and hours on oxygen; other columns are not read. A list of
cuts has start, and end or hours.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass

from o2sim.quantities import units
from o2sim.scenario.building.beside import MOST_ROWS, Beside
from o2sim.scenario.building.cells import MONTHS, CellError, shown
from o2sim.scenario.building.columns import Form, Record, own_names, record, refuse_time_apart
from o2sim.scenario.building.sheet import Row
from o2sim.scenario.text.nodes import Mapping
from o2sim.scenario.types.period import REPLAY, Use
from o2sim.scenario.types.tables import YEAR_FIRST, Dialect

MOST_CUTS = 20_000
COLUMNS = ("arrival", "class", "flow", "hours")
CUT_COLUMNS = ("start", "end", "hours")
FARTHEST_DAYS = 36_525  # of an arrival from the start: a hundred years
ROUNDED_S = 180  # by which hours may miss an end: they are often rounded to a tenth
CUTS_FORM = "columns start,end or start,hours, as 2027-03-01 18:30,2.5"
REGISTER_FORM = "columns arrival, class, flow and hours, as 2027-02-03 14:05,adults,2.5,48"
_REGISTER = Form(COLUMNS, MOST_ROWS, REGISTER_FORM, of_patients=True)
_CUTS = Form(("start",), MOST_CUTS, CUTS_FORM)
_DAYS = re.compile(r"\d{1,6}(?:[.,]\d{1,17})?", re.A)
_LIMITS: AnyMapping[str, tuple[units.Kind, str, str, str]] = {  # kind, unit of a bare number, least, most
    "flow": ("flow", "L/min", "1 mL/min", "200 L/min"),
    "hours": ("duration", "h", "1 s", "100 years"),
}


@dataclass(frozen=True)
class Admission:
    """One row: arrival as a time or as days since the start, class, flow (mL/min) and stay (s)."""

    arrival: dt.datetime | float
    name: str
    flow_ml_min: int
    need_s: int
    line: int = 0


@dataclass(frozen=True)
class Register:
    """The rows of a file, all classes; how they are used, and the first and last day of the book if stated."""

    node: Mapping
    file: str
    rows: tuple[Admission, ...]
    use: Use = REPLAY
    first: dt.date | None = None
    last: dt.date | None = None


@dataclass(frozen=True)
class Cut:
    """One row: when power went and came back, in s from midnight of the start date; end None where it is open."""

    start_s: int
    end_s: int | None
    line: int


def read_register(beside: Beside, node: Mapping, file: str, dialect: Dialect) -> Register:
    """Return the register in a file; raise RefusedError with all that is wrong with it noted."""
    at, names = node.entries["file"], own_names(beside, node, dialect, COLUMNS)

    def rows() -> tuple[Admission, ...]:
        return _admissions(record(beside, at, file, dialect, names, _REGISTER))

    return Register(node, file, beside.once(at, file, ("register", dialect), rows))


def read_cuts(beside: Beside, node: Mapping, file: str, dialect: Dialect, start: dt.date) -> tuple[Cut, ...]:
    """Return recorded cuts in the order of the file.

    Raises RefusedError with all that is wrong with the file noted.
    """
    at, names = node.entries["file"], own_names(beside, node, dialect, CUT_COLUMNS)

    def rows() -> tuple[Cut, ...]:
        return _cuts(record(beside, at, file, dialect, names, _CUTS), dt.datetime.combine(start, dt.time()))

    return beside.once(at, file, ("cuts", dialect, start), rows)


def _admissions(known: Record) -> tuple[Admission, ...]:
    """Return the rows of a register; raise RefusedError with all that is wrong noted."""
    wrong = known.read.wrong
    found_rows: list[Admission] = []
    forms: dict[str, int] = {}  # the line of the first arrival of each sort
    for row in known.rows():
        values: list[object] = []
        for column in COLUMNS:
            try:
                values.append(_value(known, row, column, forms))
            except CellError as error:
                wrong.add(row.line, column, error)
        if len(values) == len(COLUMNS):
            found_rows.append(Admission(*values, line=row.line))  # type: ignore[arg-type, misc]
    if {"days"} < set(forms):
        dates = min(line for form, line in forms.items() if form != "days")
        lines = " and ".join(map(str, sorted((forms["days"], dates))))
        wrong.whole(f"found dates and numbers of days in the column arrival, on lines {lines}", "one of them")
    if set(forms) == {"dates"}:
        refuse_time_apart(known, "arrival")
    wrong.stop()
    return tuple(found_rows)


def _value(known: Record, row: Row, column: str, forms: dict[str, int]) -> object:
    """Return one cell of a register; forms: the line of the first arrival of each sort. Raises CellError."""
    text = known.text(row, column)
    if column == "class":
        if not text:
            raise CellError("found nothing", "a class of the scenario")
        return text
    if column != "arrival":
        return _amount(known, text, column)
    if _DAYS.fullmatch(text):
        forms.setdefault("days", row.line)
        return _days(known, text)
    try:
        moment, timed = known.moment(row, column)
    except CellError as error:
        found, allowed, hint = error.parts
        more = ", or a number of days since the start" if allowed.startswith("a date") else ""
        raise CellError(found, f"{allowed}{more}", hint) from None
    forms.setdefault("times" if timed else "dates", row.line)
    return moment


def _days(known: Record, text: str) -> float:
    days = float(known.cells.number(text))
    if days > FARTHEST_DAYS:
        hint = "a spreadsheet's own number of a day? let it show the column as dates, and save again"
        found = f"found {shown(text)}: an arrival a hundred years from the start"
        raise CellError(found, "dates, or numbers of days since the start", hint)
    return days


def _amount(known: Record, text: str, column: str) -> int:
    """Return a flow in mL/min or a time in s; without a unit it is in L/min or h. Raises CellError."""
    kind, unit, least, most = _LIMITS[column]
    value = known.cells.quantity(text, kind, unit)
    if not units.read(least, kind) <= value <= units.read(most, kind):
        raise CellError(f"found {shown(text)}", f"from {least} to {most}")
    return round(value)


def _cuts(known: Record, zero: dt.datetime) -> tuple[Cut, ...]:
    """Return the rows of a list of cuts; raise RefusedError with all that is wrong noted."""
    wrong = known.read.wrong
    if not known.has("end") and not known.has("hours"):
        wrong.whole("found neither a column of ends nor one of hours", CUTS_FORM)
        wrong.stop()
    timed: dict[str, set[bool]] = {"start": set(), "end": set()}
    found = [cut for row in known.rows() if (cut := _cut(known, row, zero, timed))]
    for column, times in timed.items():
        if times == {False}:
            refuse_time_apart(known, column)
    wrong.stop()
    return tuple(found)


def _cut(known: Record, row: Row, zero: dt.datetime, timed: dict[str, set[bool]]) -> Cut | None:
    """Return a cut, None where the row is wrong; timed: whether the times of a column have a time of day."""
    stated: dict[str, dt.datetime] = {}
    hours_s, wrong = None, False
    for column in CUT_COLUMNS:
        text = known.text(row, column)
        if not text and column != "start":
            continue
        try:
            if column == "hours":
                hours_s = _amount(known, text, column)
            else:
                stated[column], with_time = known.moment(row, column)
                timed[column].add(with_time)
        except CellError as error:
            known.read.wrong.add(row.line, column, error)
            wrong = True
    if wrong:
        return None
    try:
        return _of_times(known, row, stated, hours_s, zero)
    except CellError as error:
        known.read.wrong.add(row.line, "end" if known.has("end") else "hours", error)
        return None


def _of_times(
    known: Record, row: Row, stated: AnyMapping[str, dt.datetime], hours_s: int | None, zero: dt.datetime
) -> Cut:
    """Return a cut whose end, stated or by its hours, comes after its start. Raises CellError."""
    begin, end = stated["start"], stated.get("end")
    start_s = round((begin - zero).total_seconds())
    if end is None:
        return Cut(start_s, None if hours_s is None else start_s + hours_s, row.line)
    lasts_s = round((end - begin).total_seconds())
    said = f"found {shown(known.text(row, 'end'))}"
    if lasts_s <= 0:
        raise CellError(f"{said}: {_backwards(begin, end)}", "an end after the start", _look_at(known, row))
    if hours_s is not None and abs(hours_s - lasts_s) > ROUNDED_S:
        lasts, stated_h = units.format_duration(lasts_s), units.format_duration(hours_s)
        found = f"{said}: that is {lasts} after it begins, but its hours say {stated_h}"
        raise CellError(found, "an end and hours that agree", "mend one of them, or leave one empty")
    return Cut(start_s, start_s + lasts_s, row.line)


def _backwards(begin: dt.datetime, end: dt.datetime) -> str:
    """Return what is wrong with an end that does not come after its start."""
    years = begin.year != end.year

    def said(moment: dt.datetime) -> str:
        year = f" {moment.year}" if years else ""
        return f"{moment.day} {MONTHS[moment.month - 1].capitalize()}{year} {moment:%H:%M}"

    if end == begin:
        return f"ends on {said(end)}, as it begins, and lasts no time"
    return f"ends on {said(end)}, before it begins on {said(begin)}"


def _look_at(known: Record, row: Row) -> str:
    """Return what to do about such an end: another order of dates only where all dates can be read so."""
    for order in known.cells.orders:
        if order in (known.cells.dialect.dates, YEAR_FIRST):
            continue
        other = Record(known.read, known.names, known.cells.with_dates(order))
        begin, end = (other.moment(row, column)[0] for column in ("start", "end"))
        if begin < end:
            return f"look at the day, or write dates: {order}"
    return "look at the day: a cut past midnight ends on the next"
