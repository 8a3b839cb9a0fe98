"""Files beside a scenario, or data frames in their place: columns, recorded power cuts, registers of admissions.

A register has the columns arrival (a date with or without a time, or the number of days since midnight of `start`,
from 0), class, flow (L/min where no unit is written) and hours on oxygen.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import re
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.errors import O2simError, Problem, QuantityError, ScenarioError
from o2sim.quantities import units
from o2sim.scenario.building.values import split_message
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, walk
from o2sim.scenario.text.problems import Problems, listing, nearest, quote
from o2sim.scenario.types.hospital import DAY_S, Law, Recorded
from o2sim.scenario.types.spells import Spell, merged

if TYPE_CHECKING:
    import pandas as pd

LARGEST_CSV = 1024 * 1024  # bytes
MOST_ROWS = 10_000
MOST_CUTS = 20_000
CUTS_FORM = "columns start,end or start,hours, as 2027-03-01 18:30,2.5"
COLUMNS = ("arrival", "class", "flow", "hours")
FARTHEST_DAYS = 36_525  # of an arrival from the start: a hundred years
_ALLOWED_ARRIVAL = "2027-02-03, 2027-02-03 14:05, or a number of days since the start"
_INSIDE = "a file in the folder of the scenario, as stays.csv"
Table = tuple[list[str], list[tuple[int, dict[str, str]]]]  # names of columns; (line, row) of all others


@dataclass(frozen=True)
class Given:
    """Tables by the name of the file each stands for; folder is where the other files lie, None without one."""

    tables: AnyMapping[str, bytes]
    folder: Path | None


def given(tables: AnyMapping[str, pd.DataFrame] | None, folder: Path | None) -> Given | Path | None:
    """Return what stands beside a scenario. Raises O2simError for what is no data frame."""
    if tables is not None and not isinstance(tables, AnyMapping):
        raise O2simError(f"tables: found {type(tables).__name__}; allowed: data frames by the names of files")
    if not tables:
        return folder
    read = {name: tabular.csv_text(table, f"tables[{name!r}]").encode() for name, table in tables.items()}
    return Given(read, folder)


def check_named(beside: Given | Path | None, root: Mapping, file: str) -> None:
    """Raise ScenarioError for a table of a name that the scenario has nowhere: it would be passed over unseen."""
    if not isinstance(beside, Given):
        return
    said = {node.text.strip() for node in walk(root) if isinstance(node, Scalar)}
    unused = [name for name in beside.tables if name not in said]
    if unused:
        known = sorted(text for text in said if text.endswith(".csv"))
        allowed = f"names of files in the scenario: {', '.join(known) or 'none'}"
        raise ScenarioError([
            Problem(file, 0, "tables", f"the scenario names no file {quote(name)}", allowed, nearest(name, known))
            for name in unused
        ])  # fmt: skip


class Beside:
    """The files in or below the folder of one scenario (None: it has none), or the tables given in their place."""

    def __init__(self, problems: Problems, folder: Given | Path | None) -> None:
        """Take where problems go, and the folder of the scenario."""
        self.problems, self.folder = problems, folder
        self._tables: dict[str, Table] = {}

    def table(self, node: Node, file: str, allowed: str = "") -> Table:
        """Return a CSV file with names in its first row; node is pointed at. Raises RefusedError."""
        if file not in self._tables:
            data = self._bytes(node, file)
            try:
                rows = csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True)
                self._tables[file] = list(rows.fieldnames or ()), [(rows.line_num, row) for row in rows]
            except (UnicodeDecodeError, csv.Error) as error:
                reason = "not UTF-8 text" if isinstance(error, UnicodeDecodeError) else str(error)
                raise self.problems.add(node, f"{file} cannot be read: {reason}", allowed) from None
        return self._tables[file]

    def column(self, node: Mapping, file: str, column: str) -> list[tuple[int, str]]:
        """Return (line, cell) of a column of a CSV file; node has the keys file and, perhaps, column."""
        at = node.entries["file"]
        names, rows = self.table(at, file)
        if column not in names:
            allowed = listing([quote(name) for name in names[:10]]) if names else "a first row of names"
            found = f"{file} has no column {quote(column)}"
            raise self.problems.add(node.entries.get("column", node), found, allowed, nearest(column, names))
        if not 1 <= len(rows) <= MOST_ROWS:
            raise self.problems.add(at, f"{file} has {len(rows)} rows", f"1 to {MOST_ROWS} rows below the names")
        return [(line, str(row.get(column) or "")) for line, row in rows]

    def _bytes(self, node: Node, file: str) -> bytes:
        """Return the bytes of a file; nothing outside the folder is ever opened."""
        folder, add = self.folder, self.problems.add
        if isinstance(folder, Given):
            if file in folder.tables:
                return folder.tables[file]
            folder = folder.folder
        if folder is None:
            raise add(node, f"found {quote(file)}", "a scenario on disk, with the file beside it")
        try:
            path, folder = (folder / file).resolve(), folder.resolve()
            if Path(file).is_absolute() or not path.is_relative_to(folder):
                raise add(node, f"found {quote(file)}, which lies elsewhere", _INSIDE)
            if not path.is_file():
                raise add(node, f"found no file {quote(file)}", _INSIDE)
            if path.stat().st_size > LARGEST_CSV:
                raise add(node, f"{file} is too large", f"at most {LARGEST_CSV // 1024} kB")
            return path.read_bytes()
        except (OSError, ValueError, RuntimeError) as error:  # also: a loop of links, a NUL in a name
            reason = getattr(error, "strerror", None) or type(error).__name__
            raise add(node, f"{quote(file)} cannot be read: {reason}", _INSIDE) from None


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
        except (ValueError, OverflowError, TypeError):
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


def of_class(problems: Problems, register: Register, name: str, start: dt.date) -> Recorded:
    """Return the admissions of one class, in order of arrival; raise RefusedError where there are none."""
    midnight = dt.datetime.combine(start, dt.time())
    seconds = [_seconds(row.arrival, midnight) for row in register.rows]
    first_day = min(seconds) // DAY_S
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
        days=max(seconds) // DAY_S - first_day + 1,
        arrival_s=tuple(second for second, _ in chosen),
        flow_ml_min=tuple(row.flow_ml_min for row in rows),
        need_s=tuple(row.need_s for row in rows),
    )


def empirical(values: tuple[int, ...]) -> Law:
    """Return the law that gives each recorded value with the same chance, for planning figures."""
    return Law("empirical", tuple(float(value) for value in sorted(values)))


def _seconds(arrival: dt.datetime | float, midnight: dt.datetime) -> int:
    """Return an arrival in seconds from midnight of the start."""
    from_start = (arrival - midnight).total_seconds() if isinstance(arrival, dt.datetime) else arrival * DAY_S
    return math.floor(from_start)
