"""Makes a scenario for each row of a table of joint draws: one replication meets one row, in turn.

Ranges say of each number alone how far it may lie off; a table of joint draws (of a survey's posterior, or of past
months) also says which values go together. Replication r meets row r mod the number of rows under every strategy.
A column takes the place of what the file says of its key, a range too; ranges without a column stay at their
likely values. Nothing moves along: the levels of a reorder rule are those of the file unless they have columns.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.building.reader import Known
from o2sim.scenario.building.uncertain import is_range
from o2sim.scenario.changing.joint_table import HASH_DIGITS, JointTable, Row, read_table
from o2sim.scenario.changing.override import Original, find, original, places_of, set_at, split, value_node
from o2sim.scenario.changing.recorded_parts import check_recorded
from o2sim.scenario.keys.fields import meaning, nearest
from o2sim.scenario.text.nodes import Mapping
from o2sim.scenario.text.problems import Problems, quote
from o2sim.scenario.types.hospital import Hospital, Scenario

if TYPE_CHECKING:
    import pandas as pd

    from o2sim.tabular import Rows

ROWS_SHOWN = 5  # further lines with the same problem
MOST_SHOWN = 100  # problems
MARK = "+draws-"  # behind the hash of a scenario, before that of its draws, where runs are kept


@dataclass(frozen=True)
class Joint:
    """Joint draws of a scenario: the table, what it was laid over, and the scenario of each row."""

    table: JointTable
    source: Original = field(repr=False)
    sources: tuple[Original, ...] = field(repr=False)  # of each row, to be changed further
    likely: tuple[str, ...]  # uncertain numbers that have no column

    @property
    def rows(self) -> int:
        """Return how many draws there are."""
        return len(self.sources)

    @property
    def scenarios(self) -> tuple[Scenario, ...]:
        """Return the scenario of each row."""
        return tuple(each.scenario for each in self.sources)

    @property
    def hash(self) -> str:
        """Return 16 hex digits over what the rows make of the scenario, in their order."""
        said = " ".join(each.scenario.hash for each in self.sources)
        return hashlib.sha256(said.encode("ascii")).hexdigest()[:HASH_DIGITS]

    def at(self, replication: int) -> Scenario:
        """Return the scenario that a replication meets."""
        return self.sources[replication % self.rows].scenario

    def rows_from(self, first: int, stop: int) -> list[Scenario]:
        """Return the scenarios that replications first ... stop - 1 meet in turn, from the first on, each once."""
        return [self.at(each) for each in range(first, min(stop, first + self.rows))]

    def made(self, change: Callable[[Scenario], Scenario]) -> Joint:
        """Return the same draws of a scenario made of that of each row, such as its companion's."""
        sources = tuple(dataclasses.replace(each, scenario=change(each.scenario)) for each in self.sources)
        return dataclasses.replace(self, sources=sources)

    def kept_as(self, scenario: Scenario) -> Scenario:
        """Return a scenario under the name by which its runs over these draws are kept."""
        return dataclasses.replace(scenario, hash=f"{scenario.hash}{MARK}{self.hash}")


class DrawsError(ScenarioError):
    """Draws that cannot be used; carries all their problems at once."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        """Take every problem found."""
        super().__init__(list(problems))
        stated = [f"  {problem}" for problem in self.problems[:MOST_SHOWN]]
        more = len(self.problems) - len(stated)
        tail = [f"  and {more} more; mend these first"] if more else []
        count = len(self.problems)
        head = f"{count} problem{'s' if count != 1 else ''} in the draws"
        self.args = ("\n".join([head, *stated, *tail]),)


def joint_draws(draws: str | Path | pd.DataFrame | Joint, of: str | Path | Scenario | Original) -> Joint:
    """Return the joint draws of a CSV file or a data frame, laid over a scenario, its file or its original.

    Columns are keys as `power.grid.down.median`, a unit behind one in brackets where the cells have none; cells
    are texts as in a scenario. Raises ScenarioError with all problems, each with line and column; O2simError for
    anything else than a path or a frame.
    """
    if isinstance(draws, Joint):
        return draws
    source = of if isinstance(of, Original) else original(of)
    try:
        table = read_table(draws)
        made = {row.texts: each for row, each in _laid_over(table, source)}
    except ScenarioError as error:
        raise DrawsError(error.problems) from None
    sources = tuple(made[row.texts] for row in table.rows)
    return Joint(table, source, sources, tuple(_without_column(table, source)))


def require_joint(draws: pd.DataFrame | Rows, source: Original) -> None:
    """Raise as `joint_draws` does where draws cannot be laid over a scenario; the scenarios are not kept."""
    try:
        for _ in _laid_over(read_table(draws), source, hashed=False):
            pass
    except ScenarioError as error:
        raise DrawsError(error.problems) from None


def _laid_over(table: JointTable, source: Original, *, hashed: bool = True) -> Iterator[tuple[Row, Original]]:
    """Yield each row, of those alike the first, with its original; raise ScenarioError behind the last."""
    problems = list(_unknown(table, source))
    if problems:
        raise ScenarioError(problems)
    made = set[tuple[str, ...]]()
    known: Known = {}  # what no column sets is read with the first row
    for row in table.rows:
        if row.texts in made:
            continue
        try:
            yield row, _of_row(table, row, source, dict(known) if known else known, hashed=hashed)
            made.add(row.texts)
        except ScenarioError as error:
            problems += error.problems
    if problems:
        raise ScenarioError(list(_grouped(problems)))


def _without_column(table: JointTable, source: Original) -> Iterator[str]:
    """Yield the uncertain numbers that no column sets; the name of a law may be left out of a column's head."""
    raw = source.raw or source.root
    nodes = [find(raw, split(raw, path, table.file)) for path in table.paths]
    set_there = [node.path for node in nodes if node is not None]
    for item in source.scenario.uncertain:
        if not any(f"{item.path}.".startswith((f"{path}.", f"{path}[")) for path in set_there):
            yield item.path


def _unknown(table: JointTable, source: Original) -> Iterator[Problem]:
    """Yield a problem for each column that names no key of a scenario, with the nearest that does."""
    for place, path in enumerate(table.paths, 1):
        at = f"column {place}"
        try:
            keys = split(source.root, path, table.file)
        except ScenarioError as error:
            yield from (dataclasses.replace(each, line=1, field=at) for each in error.problems)
            continue
        if keys[0] in FIXED:
            yield Problem(table.file, 1, at, f"found the key {quote(path)}", f"any but {', '.join(FIXED)}", SAME)
        elif not meaning(path) and find(source.root, keys) is None:
            near = nearest(path)
            hint = f"did you mean {near}?" if near else ""
            yield Problem(table.file, 1, at, f"the key {quote(path)} is unknown", "a key of the scenario", hint)


FIXED = ("name", "about", "horizon", "warm_up", "start", "tolerated_gap", "shortfall", "options")
SAME = "all draws are of one hospital in the same days, counted alike"


def _of_row(table: JointTable, row: Row, source: Original, known: Known, *, hashed: bool) -> Original:
    """Return the original of one row. Raises ScenarioError with all that is wrong with it."""
    root, wrong, places = source.root, list[Problem](), dict[str, str]()
    for path, text in zip(table.paths, row.texts, strict=True):
        try:
            root, set_there = _set(root, path, text, table.file)
            places |= dict.fromkeys(set_there, path)
        except ScenarioError as error:
            wrong += [_at(each, table, row.line, path) for each in error.problems]
    if not wrong:
        try:
            found = of_tree(root, Problems(table.file), source.folder, source.stem, known=known, hashed=hashed)
        except ScenarioError as error:
            wrong = [_placed(each, table, row.line, source, places) for each in error.problems]
        else:
            wrong = [Problem(table.file, row.line, *each) for each in _unlike(found, source.scenario)]
    if wrong:
        raise ScenarioError(wrong)
    light = dataclasses.replace(found, file=source.file, lines={}, text="", beside=None, tree=None)
    return dataclasses.replace(source, root=root, scenario=light, raw=None)


def _set(root: Mapping, path: str, text: str, label: str) -> tuple[Mapping, list[str]]:
    """Return the tree with a value set as `--vary` sets it, and the places it then stands at."""
    keys, value = split(root, path, label), value_node(text, path, label)
    if is_range(value):
        raise ScenarioError([Problem(label, 0, path, "found a range", "one value", "each row is one draw")])
    places = []
    for there in places_of(root, keys, None):
        check_recorded(root, there, path, label)
        root = set_at(root, there, value, label)
        node = find(root, there)
        places.append(path if node is None else node.path)
    return root, places


def _at(problem: Problem, table: JointTable, line: int, path: str) -> Problem:
    return dataclasses.replace(problem, file=table.file, line=line, field=path)


def _placed(problem: Problem, table: JointTable, line: int, source: Original, places: dict[str, str]) -> Problem:
    """Return a problem at its row and column; where the file says the value, with its place there."""
    mine = [path for place, path in places.items() if _touches(problem.field, place)]
    if mine:
        return _at(problem, table, line, mine[0])
    stands = f"in {source.file}" + (f", line {problem.line}" if problem.line else "")
    hint = f"{problem.hint}; {stands}" if problem.hint else stands
    return dataclasses.replace(problem, file=table.file, line=line, hint=hint)


def _touches(field: str, path: str) -> bool:
    """Return whether a field is what a column sets, lies in it, or holds it."""
    return bool(field) and (f"{field}.".startswith((f"{path}.", f"{path}[")) or path.startswith(f"{field}."))


def _unlike(one: Scenario, other: Scenario) -> Iterator[tuple[str, str, str, str]]:
    """Yield what is not comparable in two scenarios, as field, found, allowed, hint of a problem."""
    if one.strategies != other.strategies:
        yield "strategies", "found other strategies than in the file", ", ".join(other.strategies), SAME
        return
    for name, hospital in other.hospitals.items():
        first, second = _parts(hospital), _parts(one.hospitals[name])
        for what in first:
            if first[what] != second[what]:
                yield (
                    what,
                    f"under {quote(name)} found other {what} than in the file",
                    "the same in each row",
                    SAME,
                )


def _parts(hospital: Hospital) -> dict[str, object]:
    """Return what a hospital has, so far as its figures could else not be put together."""
    cylinders = hospital.cylinders
    return {
        "horizon": (hospital.start, hospital.horizon_s),
        "classes of patients": [each.name for each in hospital.patients],
        "wards": [each.name for each in hospital.wards],
        "sources": (cylinders is None, hospital.concentrators is None, hospital.manifold is None),
        "back-ups and cylinders sent on": (
            hospital.has_backups,
            cylinders is None or not cylinders.send_part_used,
        ),
        "currency": None if hospital.costs is None else hospital.costs.currency,
        "counting of a shortfall": (hospital.tolerated_gap_s, hospital.shortfall),
    }


def _grouped(problems: Sequence[Problem]) -> Iterator[Problem]:
    """Yield each problem once, at its first row, with the other rows that have it."""
    groups: dict[tuple[str, str, str, str], list[Problem]] = {}
    for problem in problems:
        groups.setdefault((problem.field, problem.found, problem.allowed, problem.hint), []).append(problem)
    for first, *others in groups.values():
        lines = ", ".join(str(each.line) for each in others[:ROWS_SHOWN])
        more = f"also on line{'s' if len(others) > 1 else ''} {lines}" if others else ""
        more += f" and {len(others) - ROWS_SHOWN} more" if len(others) > ROWS_SHOWN else ""
        yield dataclasses.replace(first, hint="; ".join(filter(None, (first.hint, more))))


def require_no_draws(draws: object, what: str, why: str) -> None:
    """Raise O2simError where draws are asked for together with what they do not go with."""
    if draws is not None:
        raise O2simError(f"draws do not go with {what}: {why}")
