"""Cells of a sheet before anything is made of them, row by row; what is not asked for is dropped at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field

ERRORS = ("#N/A", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!")
MOST_ROWS = 200_000  # that are not blank, of one sheet: a year of a logger that looks every 5 minutes has 105,000
MOST_COLUMNS = 100  # a cell further right is never looked at


@dataclass(frozen=True)
class Bad:
    """A cell without a value: what it holds instead, in words of ours."""

    holds: str


FORMULA = Bad("a formula")
Value = str | bool | int | float | dt.datetime | dt.date | dt.time | dt.timedelta | Bad
Cells = dict[int, Value]  # by column, from 1
Block = tuple[int, int, int, int]  # first column, first row, last column, last row


@dataclass
class RawSheet:
    """A sheet: its name, its rows that are not blank with their numbers; joined is known once they are read."""

    name: str
    rows: Iterator[tuple[int, Cells]]
    joined: list[Block] = field(default_factory=list)


class UnreadableError(Exception):
    """A file that is no workbook that can be read, or too large: what was found, what is allowed, what to do."""

    def __init__(self, found: str, allowed: str = "", write: str = "", sheet: str = "") -> None:
        """Take the parts of a message, and the sheet of ours where it was met."""
        super().__init__(found)
        self.parts = (found, allowed, write)
        self.sheet = sheet


def counted(rows: Iterator[tuple[int, Cells]], name: str) -> Iterator[tuple[int, Cells]]:
    """Yield rows; raise UnreadableError where there are too many."""
    for number, row in enumerate(rows, 1):
        if number > MOST_ROWS:
            raise UnreadableError("found too many rows", f"{MOST_ROWS:,} rows", "take fewer years at once", name)
        yield row
