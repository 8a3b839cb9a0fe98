"""Files beside a scenario, or data frames in their place: tables and their columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, walk
from o2sim.scenario.text.places import on_network
from o2sim.scenario.text.problems import Problems, listing, nearest, quote

if TYPE_CHECKING:
    import pandas as pd

LARGEST_CSV = 1024 * 1024  # bytes
MOST_ROWS = 10_000
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
        if on_network(file):
            raise add(node, f"found {quote(file)}, which is not on this computer", _INSIDE)
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
