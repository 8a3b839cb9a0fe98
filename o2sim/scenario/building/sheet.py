"""A table as text: its encoding, its separator, the names in its first row, and of its rows what is asked for.

Cells of other columns are left where they are, and no name of a column that nobody asked for is repeated.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from o2sim.scenario.types.tables import COMMA, SEPARATORS

SAVE = "save it as CSV UTF-8"
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")  # how files of spreadsheets begin
_STATED = re.compile(r"sep=(.)\r?\n?")  # a first line that only spreadsheets read


class SheetError(Exception):
    """What is wrong with a file as a whole: what it is, what to do, and the line, 0 where none applies."""

    def __init__(self, found: str, hint: str, line: int = 0) -> None:
        """Take the parts of a message, without the name of the file."""
        super().__init__(found)
        self.found, self.hint, self.line = found, hint, line


@dataclass(frozen=True)
class Row:
    """One row: its line, the cells asked for by name, and how many cells it has more than there are names."""

    line: int
    cells: dict[str, str]
    surplus: int = 0


@dataclass(frozen=True)
class Sheet:
    """The names of a table, and its rows that are not blank. typed: it is a data frame."""

    names: tuple[str, ...]
    rows: tuple[Row, ...]
    typed: bool = False


def table_text(data: bytes) -> str:
    """Return the text of a file, a byte order mark left out. Raises SheetError for what is no UTF-8 text."""
    if data.startswith(_WORKBOOKS):
        raise SheetError("is a workbook, not a CSV file", "open it, and save the sheet as CSV UTF-8")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in data:
        raise SheetError("is UTF-16 or a binary file, not UTF-8 text", SAVE)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SheetError("is not UTF-8 text", SAVE, line) from None


def rows_of(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Yield (line, cells) of every row that is not blank, spaces around cells left out. Raises SheetError."""
    skipped = _STATED.match(text)
    rows = csv.reader(
        io.StringIO(text[skipped.end() :] if skipped else text, newline=""),
        delimiter=SEPARATORS[separator],
        strict=True,
    )
    try:
        for cells in rows:
            if any(cell.strip() for cell in cells):
                yield rows.line_num + bool(skipped), [cell.strip() for cell in cells]
    except csv.Error as error:
        line = rows.line_num + bool(skipped)
        raise SheetError(f"is not CSV: {error}", "look at the quotes of this row", line) from None


def without_blanks(cells: list[str]) -> list[str]:
    """Return cells without the blank ones at the end, which spreadsheets add."""
    filled = [place for place, cell in enumerate(cells, 1) if cell]
    return cells[: filled[-1]] if filled else []


def separator_of_keys(text: str) -> str:
    """Return the separator of a first row of dotted keys, which hold none of them themselves."""
    first = text.lstrip().split("\n", 1)[0]
    return next((name for name, mark in SEPARATORS.items() if mark in first), "comma")


def separator_of(text: str, stated: str, wanted: Iterable[str]) -> str:
    """Return the separator that the first row has: the one stated, where any of the names wanted show it."""
    known = set(wanted)
    heads = {each: _head(text, each) for each in (stated, *SEPARATORS)}
    for separator, names in heads.items():
        if known & set(names):
            return separator
    return max(heads, key=lambda each: len(heads[each])) if len(heads[stated]) == 1 else stated


def _head(text: str, separator: str) -> list[str]:
    try:
        return without_blanks(next(rows_of(text, separator), (0, []))[1])
    except SheetError:
        return []


def sheet(text: str, separator: str, wanted: Iterable[str]) -> Sheet:
    """Return a table with the cells of the columns wanted. Raises SheetError."""
    rows = rows_of(text, separator)
    names = without_blanks(next(rows, (0, []))[1])
    places = {name: names.index(name) for name in wanted if name in names}
    found = []
    for line, cells in rows:
        kept = {name: cells[place] if place < len(cells) else "" for name, place in places.items()}
        found.append(Row(line, kept, max(0, len(without_blanks(cells)) - len(names))))
    return Sheet(tuple(names), tuple(found))


def surplus_hint(names: int, separator: str) -> str:
    """Return what to do about a row with more cells than names."""
    if separator != "comma":
        return "put quotes around a cell that holds the separator"
    if names == 1:
        return f"for a decimal comma write separator: semicolon and decimal: {COMMA}"
    return (
        "a decimal comma between commas makes one too many: save the file with semicolons and write separator: "
        f"semicolon and decimal: {COMMA}, or put quotes around such cells"
    )
