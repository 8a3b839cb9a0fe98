"""One column of a book: its head, what it holds, an example; declared as a field of the record of its rows."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field, fields, replace
from functools import cache
from typing import Any, Literal

Kind = Literal[
    "text", "sheet", "date", "month", "moment", "instant", "clock", "count", "number", "quantity", "word", "yes",
    "mark", "class", "class name", "unit", "key", "amount",
]  # fmt: skip
KEY = "o2sim.records"  # in the metadata of a field
DATES = ("date", "month", "moment", "instant")
Example = str | int | float | dt.datetime | dt.date | dt.time


@dataclass(frozen=True)
class Column:
    """A column: head as in the sheet, kind of its cells, help for whoever fills it in, an invented example.

    needed: a row that has anything else must have it. words: those allowed. low, high: limits of a number, in its
    unit. unit: what may stand behind a number; of a quantity what a bare number is in, empty where it must be
    written. of: the kind of a quantity, as in units.read; the value is in the internal unit of that kind.
    """

    head: str
    kind: Kind
    help: str
    example: Example
    needed: bool = False
    words: tuple[str, ...] = ()
    low: float = 0
    high: float = math.inf
    unit: str = ""
    of: Any = ""
    name: str = ""

    @property
    def short(self) -> str:
        """Return the head without the unit, for messages; a share keeps its sign."""
        return self.head if self.unit in ("", "%") else self.head.removesuffix(f" {self.unit}")


def column(head: str, kind: Kind, help_: str, example: Example, **said: Any) -> Any:
    """Return a dataclass field that holds one cell of each row; None where the cell is empty."""
    return field(default=None, metadata={KEY: Column(head, kind, help_, example, **said)})


@cache
def columns_of(record: type) -> tuple[Column, ...]:
    """Return the columns that a record of rows declares, in order."""
    return tuple(
        replace(each.metadata[KEY], name=each.name) for each in fields(record) if KEY in each.metadata
    )  # fmt: skip


def letters(place: int) -> str:
    """Return the letters of a column, counted from 1: A, B ... Z, AA."""
    text = ""
    while place:
        place, rest = divmod(place - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def cell_at(place: int, row: int) -> str:
    """Return where a cell stands, as a spreadsheet shows it: F14."""
    return f"{letters(place)}{row}"
