"""Reads many facilities: a folder of scenario files, or a CSV table laid over a base scenario.

The first row of the CSV names dotted keys of a scenario, such as `patients.adults.admissions`, and `name`; each
further row is a facility, a cell the value there, as it would be written in the scenario. An empty cell leaves
what the base says. All problems of all facilities are found at once.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from o2sim import tabular
from o2sim.errors import Problem, ScenarioError
from o2sim.scenario.building.beside import Given
from o2sim.scenario.building.cells import CellError, Cells
from o2sim.scenario.building.loading import load, of_tree, text_of
from o2sim.scenario.building.sheet import SheetError, rows_of, separator_of_keys, table_text, without_blanks
from o2sim.scenario.changing.facility_cells import as_in_a_scenario, cells_of
from o2sim.scenario.changing.override import original
from o2sim.scenario.changing.unit_rows import by_model, with_row
from o2sim.scenario.checks.checks import ASKED_FOR
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Mapping, Node, Scalar
from o2sim.scenario.text.places import address
from o2sim.scenario.text.problems import Problems, quote
from o2sim.scenario.types.hospital import Scenario
from o2sim.scenario.types.tables import Dialect

if TYPE_CHECKING:
    import pandas as pd

NAME = "name"
OWN_NAME = "a name of its own for each facility"
TABLE = "facilities table"  # where a problem of a data frame is said to be
LARGEST_CSV = 64 * 1024 * 1024  # bytes
MOST_FACILITIES = 20_000  # rows of a table, or files: assumption, about 10 minutes of reading alone
MOST_SHOWN = 100  # problems
ROWS_SHOWN = 5  # further rows with the same problem
AS_A_SCENARIO = Dialect()
SUFFIXES = (".yaml", ".yml")


@dataclass(frozen=True)
class Facility:
    """One facility: where it is described (a file, or file:row), and its scenario."""

    place: str
    scenario: Scenario


@dataclass(frozen=True)
class Facilities:
    """The facilities that can be run, in the order of the files or rows; what is wrong with the others."""

    sound: tuple[Facility, ...]
    problems: tuple[Problem, ...]
    bad: int  # how many facilities have problems


class FacilitiesError(ScenarioError):
    """Facilities that cannot be run; carries the problems of all of them at once."""

    def __init__(self, problems: Sequence[Problem], bad: int) -> None:
        """Take every problem, and the number of facilities that have one."""
        super().__init__(list(problems))
        stated = [f"  {problem}" for problem in self.problems[:MOST_SHOWN]]
        more = len(self.problems) - len(stated)
        tail = [f"  and {more} more problems; mend these first"] if more else []
        head = f"{bad} facilit{'y' if bad == 1 else 'ies'} cannot be run"
        self.args = ("\n".join([head, *stated, *tail]),)


def read_facilities(
    path: Path, base: Path | Scenario | None = None, dialect: Dialect = AS_A_SCENARIO
) -> Facilities:
    """Return the facilities of a folder of scenario files, or of a CSV whose rows override a base scenario.

    dialect: how the numbers and dates of the CSV are written. Raises ScenarioError where neither can be read at
    all: no such file, a header that makes no sense, a base that is missing or not a scenario.
    """
    if where := address(str(path)):
        _refuse(str(path), 0, *where)
    if path.is_dir():
        if base is not None:
            _refuse(
                str(path), 0, "found a folder", "a CSV file, where there is a base scenario", "leave out --base"
            )
        return _of_folder(path)
    if path.suffix.lower() in SUFFIXES:
        _refuse(str(path), 0, "found a scenario file", "a folder of them, or a CSV file", "o2sim compare runs one")
    if not path.exists():
        _refuse(str(path), 0, "found no such file or folder", "a folder of scenarios, or a CSV file", "")
    if base is None:
        _refuse(str(path), 0, "found no base scenario", "a scenario that the rows override", "add --base FILE")
    (_, header), *body = _rows(path)
    return _of_rows(str(path), header, body, base, dialect)


def facilities_of_table(
    table: pd.DataFrame, base: str | Path | Scenario | None, dialect: Dialect = AS_A_SCENARIO
) -> Facilities:
    """Return the facilities of a data frame, laid out as such a CSV; its rows are counted from 1 in messages.

    Raises O2simError for anything but a data frame, ScenarioError as read_facilities does.
    """
    header, cells = tabular.cells(table, "facilities")
    if base is None:
        _refuse(TABLE, 0, "found no base scenario", "a scenario that the rows override", "give base=")
    body = [(row, each) for row, each in enumerate(cells, 1) if any(each)]
    return _of_rows(TABLE, header, body, Path(base) if isinstance(base, str) else base, dialect)


def _refuse(file: str, line: int, found: str, allowed: str = "", hint: str = "") -> NoReturn:
    raise ScenarioError([Problem(file, line, "", found, allowed, hint)])


def _light(scenario: Scenario) -> Scenario:
    """Return a scenario without the lines of its file, which thousands need not hold.

    Which keys that ought to be stated are stated is kept: else each facility would be asked for them.
    """
    asked = {path: 0 for path in scenario.lines if path.rpartition(".")[2] in ASKED_FOR}
    return dataclasses.replace(scenario, lines=asked, text="", beside=None)


def _of_folder(folder: Path) -> Facilities:
    files = sorted(file for file in folder.iterdir() if file.suffix.lower() in SUFFIXES)
    if len(files) > MOST_FACILITIES:
        found, hint = f"found {len(files):,} scenario files", "put the others into folders of their own"
        _refuse(str(folder), 0, found, f"at most {MOST_FACILITIES:,} facilities", hint)
    if not files:
        _refuse(str(folder), 0, "found no scenario file in the folder", "files that end in .yaml or .yml")
    seen: dict[str, str] = {}

    def facility(file: Path) -> Facility:
        scenario = _light(load(file))
        taken = _taken(scenario.name, f"the name in {file}", seen)
        if taken:
            raise ScenarioError([Problem(str(file), 0, NAME, taken, OWN_NAME)])
        return Facility(str(file), scenario)

    return _gathered(partial(facility, file) for file in files)


def _of_rows(
    file: str, header: list[str], body: list[tuple[int, list[str]]], base: Path | Scenario, dialect: Dialect
) -> Facilities:
    columns, under = _columns(file, header), _base(base)
    cells_read = cells_of(dialect, (cell for _, cells in body for cell in cells))
    if not body:
        _refuse(file, 1, "found a header, but no facilities", "a row for each facility")
    if len(body) > MOST_FACILITIES:
        rows, hint = f"found {len(body):,} rows", "put the others into files of their own, one study each"
        _refuse(file, body[MOST_FACILITIES][0], rows, f"at most {MOST_FACILITIES:,} facilities", hint)
    seen: dict[str, str] = {}
    found = _gathered(
        partial(_facility, (file, line), columns, cells, under, seen, cells_read) for line, cells in body
    )
    return dataclasses.replace(found, problems=tuple(_grouped(found.problems)))


def _gathered(makers: Iterable[Callable[[], Facility]]) -> Facilities:
    """Return the facilities that can be made, and all that is wrong with the others."""
    sound: list[Facility] = []
    problems: list[Problem] = []
    bad = 0
    for make in makers:
        try:
            sound.append(make())
        except ScenarioError as error:
            problems += error.problems
            bad += 1
    return Facilities(tuple(sound), tuple(problems), bad)


def _taken(name: str, where: str, seen: dict[str, str]) -> str:
    """Return what is wrong with a name that was met before; seen: where each name was met first."""
    first = seen.setdefault(name, where)
    return "" if first == where else f"found {quote(name)}, which is also {first}"


def _base(base: Path | Scenario) -> _Base:
    """Return what rows are laid over, read but not checked: a row may state what the base leaves out."""
    if isinstance(base, Scenario):
        source = original(base)
        return _Base(source.file, source.root, source.folder, source.stem)
    problems = Problems(str(base))
    root = nodes.parse(text_of(base, problems), problems)
    problems.stop()
    return _Base(str(base), root, base.parent, base.stem)


def _rows(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield (line, cells) of every row that is not blank; the header first."""
    file = str(path)
    try:
        if not path.exists():
            _refuse(file, 0, "found no such file or folder", "a folder of scenario files, or a CSV of facilities")
        if not path.is_file() or path.stat().st_size > LARGEST_CSV:
            _refuse(file, 0, "found no regular file of tolerable size", f"at most {LARGEST_CSV >> 20} MB")
        text = table_text(path.read_bytes())
        rows = list(rows_of(text, separator_of_keys(text)))
    except SheetError as error:
        _refuse(file, error.line, f"the file {error.found}", "a CSV file, UTF-8", error.hint)
    except (OSError, ValueError) as error:
        _refuse(file, 0, f"the file cannot be read: {getattr(error, 'strerror', None) or error}")
    if not rows:
        _refuse(file, 0, "found nothing", "a header row of keys, then a row for each facility")
    (line, header), *body = rows
    columns = len(without_blanks(header))
    yield line, header[:columns]
    yield from ((line, cells[:columns] + without_blanks(cells[columns:])) for line, cells in body)


def _columns(file: str, header: list[str]) -> list[tuple[str, ...]]:
    """Return the keys of each column; raise ScenarioError with all that is wrong with the header."""
    problems = []
    for place, column in enumerate(header, 1):
        if mark := nodes.unprintable(column):
            problems.append(Problem(file, 1, f"column {place}", *mark))
        elif not column or not all(part.strip() for part in column.split(".")):
            allowed = "a key of a scenario, as patients.adults.admissions"
            problems.append(Problem(file, 1, f"column {place}", f"found {quote(column)}", allowed))
        elif header.index(column) != place - 1:
            found = f"the column {quote(column)} stands a second time"
            problems.append(Problem(file, 1, f"column {place}", found, "each column once"))
    if NAME not in header:
        names = ", ".join(header[:6])
        problems.append(Problem(file, 1, "", f"found no column name among {names}", "a column `name`"))
    if problems:
        raise ScenarioError(problems)
    return [tuple(part.strip() for part in column.split(".")) for column in header]


@dataclass(frozen=True)
class _Base:
    """The scenario that rows override: its values, where files it names lie, its name where it says none."""

    file: str
    root: Mapping
    folder: Given | Path | None
    stem: str


def _facility(
    place: tuple[str, int],
    columns: list[tuple[str, ...]],
    cells: list[str],
    base: _Base,
    seen: dict[str, str],
    read: Cells,
) -> Facility:
    """Return the facility of one row at (file, line). Raises ScenarioError with all that is wrong with it."""
    file, line = place
    if len(cells) != len(columns):
        allowed, hint = f"{len(columns)}, as in the header", "quote a cell that holds a comma"
        _refuse(file, line, f"found {len(cells)} cells", allowed, hint)
    name = cells[columns.index((NAME,))]
    taken = _taken(name, f"on line {line}", seen) if name else "found nothing"
    wrong = [Problem(file, line, NAME, taken, OWN_NAME if name else "a name for the facility")] if taken else []
    root: Mapping = base.root
    overridden = []
    for keys, cell in zip(columns, cells, strict=True):
        if cell:
            overridden.append(".".join(keys))
            if mark := nodes.unprintable(cell):
                wrong.append(Problem(file, line, overridden[-1], *mark))
                continue
            try:
                text = as_in_a_scenario(read, keys, cell)
                root = overlay(root, keys, value_node(text, line, overridden[-1]))
            except CellError as error:
                wrong.append(Problem(file, line, overridden[-1], *error.parts))
            except ScenarioError as error:
                wrong += [dataclasses.replace(p, file=file, line=line) for p in error.problems]
    try:
        scenario = of_tree(root, Problems(file), base.folder, base.stem)
    except ScenarioError as error:
        wrong += [_placed(problem, line, overridden, base) for problem in error.problems]
    if wrong:
        raise ScenarioError(wrong)
    return Facility(f"{file}:{line}", _light(dataclasses.replace(scenario, file=f"{file}:{line}")))


def _placed(problem: Problem, line: int, overridden: list[str], base: _Base) -> Problem:
    """Return a problem at its row; where the base says the value, with its place there."""
    field = problem.field
    here = any(f"{field}.".startswith(f"{key}.") or field.startswith(f"{key}[") for key in overridden)
    if here or (field and any(key.startswith(f"{field}.") for key in overridden)):  # or a column goes through it
        return dataclasses.replace(problem, line=line)
    stands = f"in {base.file}" + (f", line {problem.line}" if problem.line else "")
    return dataclasses.replace(problem, line=line, hint=_and(problem.hint, stands))


def _and(hint: str, more: str) -> str:
    return f"{hint}; {more}" if hint else more


def value_node(cell: str, line: int, path: str) -> Node:
    """Return a cell as a node: a text, or a list or mapping written in brackets."""
    if not cell.startswith(("{", "[")):
        return Scalar(line, path, cell)
    try:
        node = nodes.parse(f"value: {cell}", Problems(""))
    except ScenarioError as error:
        raise ScenarioError([dataclasses.replace(p, field=path) for p in error.problems]) from None
    return nodes.moved(node.entries["value"], path, line)


def overlay(root: Mapping, keys: Sequence[str], value: Node, whole: Mapping | None = None) -> Mapping:
    """Return a mapping with a value set at some keys deep; raise ScenarioError where what is above has no keys.

    whole: the scenario, where the mapping is of changes alone: lists in which a value lies are taken from there.
    """
    if by_model(keys):
        scenario = whole or root
        rows = nodes.find(root, keys[:2]) or nodes.find(scenario, keys[:2])
        keys, value = keys[:2], with_row(scenario, keys, rows, value, "")
    for depth in range(1, len(keys)):
        above = nodes.find(root, keys[:depth])
        if above is not None and not isinstance(above, Mapping):
            path = ".".join(keys[:depth])
            found = f"found {nodes.describe(above)} at {path}, which has no keys in it"
            allowed = f"the column {path}, with the whole value in its cells"
            raise ScenarioError([Problem("", 0, value.path, found, allowed)])
    return nodes.put(root, keys, value, value.line)


def _grouped(problems: Sequence[Problem]) -> list[Problem]:
    """Return each problem once, at its first row, with the other rows that have it."""
    groups: dict[tuple[str, str, str, str], list[Problem]] = {}
    for problem in problems:
        groups.setdefault((problem.field, problem.found, problem.allowed, problem.hint), []).append(problem)
    stated = []
    for first, *others in groups.values():
        if others:
            lines = ", ".join(str(problem.line) for problem in others[:ROWS_SHOWN])
            more = f"also on line{'s' if len(others) > 1 else ''} {lines}"
            more += f" and {len(others) - ROWS_SHOWN} more" if len(others) > ROWS_SHOWN else ""
            first = dataclasses.replace(first, hint=_and(first.hint, more))
        stated.append(first)
    return stated
