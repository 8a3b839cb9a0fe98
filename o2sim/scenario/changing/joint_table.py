"""Reads a table of joint draws as texts: a column for each field of a scenario, a row for each draw of all of
them.

A head may name a unit, `power.grid.down.median (h)`, which plain numbers below it then have. All that is wrong
with the form is found at once, by line and column; nothing that cannot be printed is repeated.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from o2sim import tabular
from o2sim.errors import Problem, ScenarioError
from o2sim.scenario.building.sheet import SheetError, rows_of, separator_of_keys, table_text, without_blanks
from o2sim.scenario.text import nodes
from o2sim.scenario.text.places import address, on_network
from o2sim.scenario.text.problems import quote

if TYPE_CHECKING:
    import pandas as pd

TABLE = "draws table"  # where a problem of a data frame is said to be
LARGEST_CSV = 8 * 1024 * 1024  # bytes
FEWEST_ROWS, MOST_ROWS = 2, 5_000  # draws: assumption; loading them takes about 10 ms each
MOST_COLUMNS = 100  # as many as there may be uncertain numbers
HASH_DIGITS = 16
ROWS = f"from {FEWEST_ROWS} to {MOST_ROWS:,} rows, one for each draw"
A_KEY = "a key of the scenario, as power.grid.down.median, perhaps with a unit: power.grid.down.median (h)"
_HEAD = re.compile(r"(?P<path>.*\S)\s*\((?P<unit>[^()]*)\)")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")


@dataclass(frozen=True)
class Row:
    """One draw: the line it stands on (of a frame its number, from 1), and a text for each column."""

    line: int
    texts: tuple[str, ...]


@dataclass(frozen=True)
class JointTable:
    """The draws as they were written: file, SHA-256 of its bytes (first 16 hex digits), fields, rows."""

    file: str
    hash: str
    paths: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(source: str | Path | pd.DataFrame | tabular.Rows) -> JointTable:
    """Return the draws of a CSV file or a data frame. Raises ScenarioError with all that is wrong with its form.

    Raises O2simError for anything else than a path or a frame.
    """
    if isinstance(source, str | Path):
        data = _bytes(Path(source))
        return _table(str(source), data, list(_rows(str(source), data)))
    head, cells = tabular.cells(source, "draws")
    if len(cells) > MOST_ROWS:  # before it is made a text
        refuse(TABLE, 0, f"found {len(cells):,} rows", ROWS)
    data = tabular.csv_text(source, "draws").encode("utf-8", errors="replace")
    return _table(TABLE, data, [(0, head), *((row, each) for row, each in enumerate(cells, 1))])


def refuse(file: str, line: int, found: str, allowed: str = "", hint: str = "") -> NoReturn:
    """Raise ScenarioError for one thing that ends the reading."""
    raise ScenarioError([Problem(file, line, "", found, allowed, hint)])


def _bytes(path: Path) -> bytes:
    """Return what is in a regular file of tolerable size on this computer."""
    file = str(path)
    if where := address(file):
        refuse(file, 0, *where)
    if on_network(file):
        refuse(
            file, 0, "found a place on the network", "the path of a file on this computer", "copy it here first"
        )
    try:
        if not path.exists():
            refuse(file, 0, "found no such file", "a CSV file of draws, a column for each key")
        if not path.is_file() or path.stat().st_size > LARGEST_CSV:
            refuse(file, 0, "found no regular file of tolerable size", f"at most {LARGEST_CSV >> 20} MB")
        return path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path
        refuse(file, 0, f"the file cannot be read: {getattr(error, 'strerror', None) or 'its name is none'}")


def _rows(file: str, data: bytes) -> Iterator[tuple[int, list[str]]]:
    """Yield (line, cells) of every row that is not blank, the header first."""
    try:
        text = table_text(data)
        yield from rows_of(text, separator_of_keys(text))
    except SheetError as error:
        refuse(file, error.line, f"the file {error.found}", "a CSV file, UTF-8", error.hint)


def _table(file: str, data: bytes, rows: Sequence[tuple[int, list[str]]]) -> JointTable:
    """Return the table of rows, the header first."""
    if not rows or not without_blanks(rows[0][1]):
        refuse(file, 0, "found nothing", "a header row of keys, then a row for each draw")
    (line, header), *body = rows
    header = without_blanks(header)
    problems = list(_wrong_heads(file, line, header))
    if not FEWEST_ROWS <= len(body) <= MOST_ROWS:
        at = body[MOST_ROWS][0] if len(body) > MOST_ROWS else line
        problems.append(Problem(file, at, "", f"found {len(body):,} rows of draws", ROWS))
    else:
        problems += [each for at, cells in body for each in _wrong_cells(file, at, header, cells)]
    if problems:
        raise ScenarioError(problems)
    heads = [split_head(head) for head in header]
    kept = tuple(Row(at, tuple(_with_unit(cell, unit) for cell, (_, unit) in zip(cells, heads, strict=False)))
                 for at, cells in body)  # fmt: skip
    digest = hashlib.sha256(data).hexdigest()[:HASH_DIGITS]
    return JointTable(file, digest, tuple(path for path, _ in heads), kept)


def split_head(head: str) -> tuple[str, str]:
    """Return the field and the unit of a column's head, "" where it names none."""
    found = _HEAD.fullmatch(head)
    return (found["path"].strip(), found["unit"].strip()) if found else (head.strip(), "")


def _with_unit(cell: str, unit: str) -> str:
    """Return a plain number with the unit of its column; any other text as it is."""
    return f"{cell} {unit}" if unit and _NUMBER.fullmatch(cell) else cell


def _wrong_heads(file: str, line: int, header: Sequence[str]) -> Iterator[Problem]:
    """Yield what is wrong with the names of the columns, but for keys that no scenario has."""
    if len(header) > MOST_COLUMNS:
        yield Problem(file, line, "", f"found {len(header)} columns", f"at most {MOST_COLUMNS}")
    paths = [split_head(head)[0] for head in header]
    for place, (head, path) in enumerate(zip(header, paths, strict=True), 1):
        if mark := nodes.unprintable(head):
            yield Problem(file, line, f"column {place}", *mark)
        elif not path:
            yield Problem(file, line, f"column {place}", "found no name", A_KEY)
        elif paths.index(path) != place - 1:
            found = f"the column {quote(path)} stands a second time"
            yield Problem(file, line, f"column {place}", found, "each column once")


def _wrong_cells(file: str, line: int, header: Sequence[str], cells: Sequence[str]) -> Iterator[Problem]:
    """Yield what is wrong with the form of a row."""
    filled = [*cells[: len(header)], *without_blanks(list(cells[len(header) :]))]
    if len(filled) != len(header):
        hint = "quote a cell that holds a comma; leave none out"
        yield Problem(file, line, "", f"found {len(filled)} cells", f"{len(header)}, as in the header", hint)
        return
    for head, cell in zip(header, filled, strict=True):
        if mark := nodes.unprintable(cell):
            yield Problem(file, line, _shown(head), *mark)
        elif not cell:
            yield Problem(file, line, _shown(head), "found nothing", "a value in each cell")


def _shown(head: str) -> str:
    return split_head(head)[0]
