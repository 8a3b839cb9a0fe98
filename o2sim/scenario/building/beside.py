"""Files beside a scenario, or data frames in their place: tables, and all that is wrong with one at once."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from o2sim import tabular
from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario.building.cells import CellError
from o2sim.scenario.building.sheet import Sheet, SheetError, separator_of, sheet, surplus_hint, table_text
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, walk
from o2sim.scenario.text.places import on_network
from o2sim.scenario.text.problems import Problems, RefusedError, nearest, quote

if TYPE_CHECKING:
    import pandas as pd

LARGEST_CSV = 1024 * 1024  # bytes
MOST_ROWS = 10_000
_INSIDE = "a file in the folder of the scenario, as stays.csv"
MOST_SHOWN = 20  # wrong cells of one file
T = TypeVar("T")


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


@dataclass
class Wrong:
    """What is wrong with one file; the first of its wrong cells are shown, by line, and the others counted."""

    problems: Problems
    node: Node
    file: str
    cells: list[tuple[int, str, CellError]] = field(default_factory=list)
    refused: bool = False

    def whole(self, found: str, allowed: str = "", hint: str = "") -> None:
        """Note what is wrong with the file as a whole."""
        self.problems.add(self.node, f"{self.file}: {found}", allowed, hint)
        self.refused = True

    def add(self, line: int, column: str, error: CellError) -> None:
        """Note a wrong cell; without a column the row is wrong."""
        self.cells.append((line, column, error))

    @property
    def rows(self) -> set[int]:
        """Return the lines of rows that are wrong so far."""
        return {line for line, _, _ in self.cells}

    def stop(self) -> None:
        """Raise RefusedError if anything is wrong, with all of it noted."""
        for line, column, error in sorted(self.cells, key=lambda cell: cell[0])[:MOST_SHOWN]:
            found, allowed, hint = error.parts
            place = f"{self.file}:{line}" + (f": {column}" if column else "")
            self.problems.add(self.node, f"{place}: {found}", allowed, hint)
        more = len(self.cells) - MOST_SHOWN
        if more > 0:
            self.problems.add(self.node, f"{self.file}: and {more} more wrong cells", "", "mend these first")
        if self.refused or self.cells:
            raise RefusedError


@dataclass(frozen=True)
class Read:
    """A table that could be read, and where to note what is wrong in it."""

    sheet: Sheet
    wrong: Wrong


class Beside:
    """The files in or below the folder of one scenario (None: it has none), or the tables given in their place."""

    def __init__(self, problems: Problems, folder: Given | Path | None) -> None:
        """Take where problems go, and the folder of the scenario."""
        self.problems, self.folder = problems, folder
        self._made: dict[Hashable, Any] = {}
        self._files: dict[str, tuple[bytes, bool]] = {}

    def once(self, node: Node, file: str, how: Hashable, make: Callable[[], T]) -> T:
        """Return what make makes of a file, made once: several classes and strategies read the same register.

        node names the file; how says all that the result depends on. A file that cannot be opened is noted at each
        node, what is wrong in it at the first. Raises RefusedError.
        """
        self._opened(node, file)
        key = (file, how)
        if key not in self._made:
            try:
                self._made[key] = make()
            except RefusedError as error:
                self._made[key] = error
        found: T | RefusedError = self._made[key]
        if isinstance(found, RefusedError):
            raise RefusedError
        return found

    def sheet(self, node: Node, file: str, separator: str, wanted: Iterable[str], allowed: str) -> Read:
        """Return the columns wanted of a CSV file with names in its first row; node is pointed at.

        A table that is separated otherwise than stated is noted, and read all the same, so that all that is wrong
        with it is seen at once. Raises RefusedError where there is no table.
        """
        data, typed = self._opened(node, file)
        wrong, wanted = Wrong(self.problems, node, file), tuple(wanted)
        try:
            text, stated = table_text(data), "comma" if typed else separator
            used = separator_of(text, stated, wanted)
            found = sheet(text, used, wanted)
        except SheetError as error:
            place = f"{file}:{error.line}" if error.line else file
            raise self.problems.add(node, f"{place} {error.found}", allowed, error.hint) from None
        if not found.names:
            raise self.problems.add(node, f"{file} is empty", allowed)
        if used != stated:
            noted = f"the names in its first row do not stand between {stated}s"
            wrong.whole(noted, f"cells separated by {stated}s", f"write separator: {used}")
        for row in found.rows:
            if row.surplus:
                names = len(found.names)
                many = f"found {names + row.surplus} cells under {names} name{'s' if names > 1 else ''}"
                wrong.add(row.line, "", CellError(many, "a cell for each name", surplus_hint(names, used)))
        return Read(Sheet(found.names, found.rows, typed), wrong)

    def _opened(self, node: Node, file: str) -> tuple[bytes, bool]:
        """Return the bytes of a file, and whether a data frame stands for it. Raises RefusedError."""
        if file not in self._files:
            self._files[file] = self._bytes(node, file)
        return self._files[file]

    def _bytes(self, node: Node, file: str) -> tuple[bytes, bool]:
        """Return the bytes of a file, and whether a data frame stands for it; no other folder is ever opened."""
        folder, add = self.folder, self.problems.add
        if isinstance(folder, Given):
            if file in folder.tables:
                return folder.tables[file], True
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
            return path.read_bytes(), False
        except (OSError, ValueError, RuntimeError) as error:  # also: a loop of links, a NUL in a name
            reason = getattr(error, "strerror", None) or type(error).__name__
            raise add(node, f"{quote(file)} cannot be read: {reason}", _INSIDE) from None
