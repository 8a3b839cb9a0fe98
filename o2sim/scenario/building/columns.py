"""The columns of a record beside a scenario: their names in its file, and what is wrong with its first row."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass

from o2sim.scenario.building.beside import Beside, Read
from o2sim.scenario.building.cells import CellError, Cells
from o2sim.scenario.building.persons import person_word
from o2sim.scenario.building.sheet import Row
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.record import keys_of
from o2sim.scenario.text.nodes import Mapping, Node
from o2sim.scenario.text.problems import listing, nearest, quote
from o2sim.scenario.types.tables import Dialect

TIMES = ("arrival", "start", "end")  # columns whose date and time may stand apart
Names = AnyMapping[str, tuple[str, ...]]  # a column of ours: the file's own name for it, or two: date and time


@dataclass(frozen=True)
class Form:
    """What a kind of record looks like: the columns it cannot be without, and the most rows."""

    needed: tuple[str, ...]
    most: int
    example: str
    of_patients: bool = False


@dataclass(frozen=True)
class Record:
    """A record as a table: its rows, the names of its columns, and how its cells are read."""

    read: Read
    names: Names
    cells: Cells

    def rows(self) -> Iterator[Row]:
        """Yield the rows whose cells stand under their names."""
        return (row for row in self.read.sheet.rows if not row.surplus)

    def has(self, column: str) -> bool:
        """Return True where the table has a column."""
        return set(self.names[column]) <= set(self.read.sheet.names)

    def text(self, row: Row, column: str) -> str:
        """Return a cell; a date and a time that stand apart together."""
        return _joined(row, self.names[column])

    def moment(self, row: Row, column: str) -> tuple[dt.datetime, bool]:
        """Return a time, and whether it has a time of day. Raises CellError."""
        own = self.names[column]
        if not row.cells[own[0]]:
            raise CellError("found nothing", "a date, as 2027-02-13 14:05")
        if not row.cells[own[-1]]:
            raise CellError("found a date, but nothing in its column of times", "a time of day, as 14:05")
        return self.cells.moment(self.text(row, column))


def dialect_of(values: Values) -> Dialect:
    """Return how a file is written, by the keys of a section that names it; raise RefusedError for one refused."""
    stated = {name: values.get(each.field.name) for name, each in keys_of(Dialect).items()}
    return Dialect(**{name: value for name, value in stated.items() if value is not None})


def own_names(beside: Beside, node: Mapping, dialect: Dialect, columns: Sequence[str]) -> Names:
    """Return the file's own names for columns, as stated or ours. Raises RefusedError."""
    at, stated = node.entries.get("columns", node), dict(dialect.columns)
    refused = []
    for column, own in stated.items():
        if column not in columns:
            allowed = f"columns that o2sim reads here: {', '.join(columns)}"
            refused.append(beside.problems.add(at, f"found {quote(column)}", allowed, nearest(column, columns)))
        elif len(own) > 1 and column not in TIMES:
            allowed = f"one; two, of a date and a time, for {listing(each for each in columns if each in TIMES)}"
            refused.append(beside.problems.add(at, f"found two names for {column}", allowed))
    if refused:
        raise refused[0]
    return {column: stated.get(column, (column,)) for column in columns}


def record(beside: Beside, at: Node, file: str, dialect: Dialect, names: Names, form: Form) -> Record:
    """Return a record in a file that a node names; raise RefusedError where columns or rows are missing."""
    wanted = [name for own in names.values() for name in own]
    read = beside.sheet(at, file, dialect.separator, wanted, form.example)
    if form.of_patients:
        _refuse_persons(read, form)
    _need_columns(read, names, form)
    if not 1 <= len(read.sheet.rows) <= form.most:
        found = f"has {len(read.sheet.rows)} rows below the names"
        read.wrong.whole(found, f"1 to {form.most} rows under {form.example}")
        read.wrong.stop()
    every = (_joined(row, own) for row in read.sheet.rows if not row.surplus for own in names.values())
    return Record(read, names, Cells(dialect, every, typed=read.sheet.typed))


def _joined(row: Row, own: Sequence[str]) -> str:
    """Return a cell, or two as one; the midnight that a spreadsheet adds to a date alone is left out."""
    first, *rest = (row.cells.get(name, "") for name in own)
    if not rest:
        return first
    return f"{re.sub('[T ]0?0:00(:00([.]0+)?)?$', '', first)} {rest[0]}".strip()


def _refuse_persons(read: Read, form: Form) -> None:
    """Note each column whose name says who a patient is; no cell of it is read."""
    for place, name in enumerate(read.sheet.names, 1):
        if word := person_word(name):
            found = f"column {place} says who a patient is ({word})"
            read.wrong.whole(found, f"{form.example}, and nothing of who they are", "remove this column")


def _need_columns(read: Read, names: Names, form: Form) -> None:
    """Note each column that is missing or stands twice; raise RefusedError if any is missing."""
    there, missing = read.sheet.names, False
    for column in names:
        for name in names[column]:
            if there.count(name) > 1:
                read.wrong.whole(f"the column {quote(name)} stands twice", "each column once", "remove one")
        lacking = [quote(name) for name in names[column] if name not in there]
        if lacking and column in form.needed:
            missing = True
            many = f"its {len(there)} columns" if len(there) > 1 else "its first row"
            hint = _instead(column, there) if names[column] == (column,) else ""
            read.wrong.whole(f"found no column {listing(lacking)} in {many}", form.example, hint)
    if missing:
        read.wrong.stop()


def _instead(column: str, there: Sequence[str]) -> str:
    """Return how to state what may stand for a missing column: one in other letters, or date and time apart."""
    alike = next((name for name in there if name.lower() == column), "")
    if alike:
        return f"write columns: {{{column}: {alike}}}"
    apart = [_apart(column, part, there) for part in ("date", "time")]
    if column in TIMES and all(apart):
        return f"write columns: {{{column}: [{', '.join(apart)}]}}"
    more = f", or {{{column}: [DATE, TIME]}}" if column in TIMES else ""
    return f"write columns: {{{column}: NAME}}{more}, with the file's own name"


def _apart(column: str, part: str, there: Sequence[str]) -> str:
    """Return the name of the column that holds the date or the time of another, by its words alone."""
    for name in there:
        if sorted(re.split("[ _-]+", name.lower())) in (sorted((column, part)), [part]):
            return name
    return ""


def refuse_time_apart(known: Record, column: str) -> None:
    """Note a column of times beside dates that have none: it would be passed over unseen."""
    beside, own = _apart(column, "time", known.read.sheet.names), known.names[column]
    if beside and len(own) == 1:
        found = f"the column {column} has dates alone, and the times stand in the column {quote(beside)}"
        hint = f"write columns: {{{column}: [{own[0]}, {beside}]}}, or remove the column of times"
        known.read.wrong.whole(found, "dates with their times", hint)
