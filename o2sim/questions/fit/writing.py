"""Writes what was fitted over the text of a base: comments beside it, a head above, all else letter by letter."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import TypeVar

from o2sim.errors import Problem, ScenarioError, plain
from o2sim.questions.fit.base import OWN, with_classes
from o2sim.questions.fit.choosing import PATIENTS, Path, Unused, overlap
from o2sim.questions.fit.levels import NOTE, beyond, scaled_levels
from o2sim.questions.fit.splicing import New, with_values
from o2sim.questions.fit.values import Value
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.building.uncertain import MOST_UNCERTAIN, is_range, resolved
from o2sim.scenario.changing.fleet_levels import STRATEGIES, listed_strategies
from o2sim.scenario.changing.joint import require_joint
from o2sim.scenario.changing.override import Original, find, likely_root, value_node
from o2sim.scenario.changing.splice import flow
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Mapping, Node, Scalar
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK
from o2sim.scenario.types.hospital import Scenario
from o2sim.tabular import Rows

RECORDED = {  # a key that takes recorded rows as they were, and what it stands in place of
    ("power", "grid", "file"): (("power", "grid", "up"), ("power", "grid", "down")),
}
REGISTER = "register"
OF_REGISTER = ("admissions", "flow", "duration", "hypoxaemic", "given_without_need", "season", "overdispersion")
LINE = 112
Made = TypeVar("Made")


@dataclass(frozen=True)
class Written:
    """The text and its scenario, the table of draws, what stands in both, what does not and why.

    likes: classes that the base did not have, by the one of the base that each is like.
    """

    text: str
    scenario: Scenario
    draws: Rows
    values: tuple[Value, ...]
    unused: tuple[Unused, ...]
    likes: dict[str, str]
    cautions: tuple[str, ...]


def written(source: Original, values: Sequence[Value], label: str) -> Written:
    """Return the base with values written into it, and their draws.

    What the base cannot take is left out and said. Raises ScenarioError where even the base does not load.
    """
    raw = source.raw or source.root
    values, unused, names = _that_fit(raw, values)
    values, few_ranges = _few_enough(raw, values)
    text, likes = with_classes(source.text, raw, names)
    kept, refused, (said, scenario, levels) = _tried(values, lambda some: _with_levels(source, text, some, label))
    unused += refused
    own, cautions = _own_of_strategies(raw, kept)
    _, undrawn, draws = _tried([each for each in kept if each not in own], lambda some: _drawn(scenario, some))
    cautions += [
        f"{'.'.join(path)}: written as the base's share of all cylinders; the records have the fleet alone."
        for path, _ in levels
    ]
    cautions += [
        f"{each}: written without a range, as a scenario takes {MOST_UNCERTAIN}; its range is in the draws."
        for each in few_ranges
    ]
    cautions += [f"{each.key}: its draws are not in the table of draws ({each.why})." for each in undrawn]
    return Written(said, scenario, draws, tuple(kept), tuple(unused), likes, tuple(cautions))


def _that_fit(raw: Mapping, values: Sequence[Value]) -> tuple[list[Value], list[Unused], list[str]]:
    """Return the values that have a place in the base, those that have none, and classes to be put there."""
    there = raw.entries.get(PATIENTS)
    known = set(there.entries) if isinstance(there, Mapping) else set[str]()
    admitted = {each.path[1] for each in values if each.path[0] == PATIENTS and each.path[2:] == ("admissions",)}
    kept, unused, lacking = list[Value](), list[Unused](), list[str]()
    for value in values:
        why = _no_place(raw, value.path)
        if value.path[0] == PATIENTS and value.path[1] not in known:
            lacking.append(value.path[1])
            if value.path[1] not in admitted:
                why = "the base has no such class, and the records do not give how many come"
        if why:
            unused.append(Unused(value.key, value.part, why))
        else:
            kept.append(value)
    return kept, unused, [name for name in dict.fromkeys(lacking) if name in admitted]


def _few_enough(raw: Mapping, values: Sequence[Value]) -> tuple[list[Value], list[str]]:
    """Return the values with no more ranges than a scenario takes, and the keys of those now without."""
    stays = [
        each.path for each in resolved(raw, Problems(""))[1]
        if not any(overlap(tuple(each.path.split(".")), value.path) for value in values)
    ]  # fmt: skip
    room = MOST_UNCERTAIN - len(stays)
    found, without = list[Value](), list[str]()
    for value in values:
        count = value.text.count("likely:")
        if count > room:
            without.append(value.key)
            value = dataclasses.replace(value, text=flow(_at_likely(value_node(value.text, value.key, ""))))
            count = 0
        room -= count
        found.append(value)
    return found, without


def _at_likely(node: Node) -> Node:
    """Return a value with the likely number in place of each range."""
    if isinstance(node, Mapping):
        if is_range(node):
            return node.entries["likely"]
        return dataclasses.replace(node, entries={key: _at_likely(each) for key, each in node.entries.items()})
    return node


def _no_place(raw: Mapping, path: Path) -> str:
    """Return why a value has no place in the base, an empty text where it has one."""
    if path == ("cylinders", "fleet") and nodes.find(raw, ("cylinders", "sizes")) is not None:
        return (
            "the base has cylinders of several sizes, and the stock card does not say how many there are of each"
        )
    for stated, instead in RECORDED.items():
        if path in instead and nodes.find(raw, stated) is not None:
            return f"the base has recorded rows in its place ({'.'.join(stated)})"
    register = (*path[:2], REGISTER)
    if (
        path[0] == PATIENTS
        and path[2:3] in [(key,) for key in OF_REGISTER]
        and nodes.find(raw, register) is not None
    ):
        return f"the base has recorded patients in its place ({'.'.join(register)})"
    above = [nodes.find(raw, path[:place]) for place in range(1, len(path))]
    if any(isinstance(each, Scalar) for each in above):
        return "the base says in one word that there is none of it"
    return ""


def _tried(
    values: Sequence[Value], make: Callable[[Sequence[Value]], Made]
) -> tuple[list[Value], list[Unused], Made]:
    """Return what can be made of values, without those that are refused; each of these with the reason."""
    kept, refused = list(values), list[Unused]()
    while True:
        try:
            return kept, refused, make(kept)
        except ScenarioError as error:
            blamed = {id(value): problem for problem in error.problems for value in kept if _is_of(problem, value)}
            if not blamed:
                blamed = _one_to_blame(kept, make, error)
            refused += [
                Unused(value.key, value.part, _reason(blamed[id(value)])) for value in kept if id(value) in blamed
            ]
            kept = [value for value in kept if id(value) not in blamed]


def _one_to_blame(
    values: Sequence[Value], make: Callable[[Sequence[Value]], Made], error: ScenarioError
) -> dict[int, Problem]:
    """Return the first value without which the rest can be made, where a problem names a key of the base.

    Raises the error where there is none.
    """
    for value in values:
        try:
            make([each for each in values if each is not value])
        except ScenarioError:
            continue
        return {id(value): error.problems[0]}
    raise error


def _is_of(problem: Problem, value: Value) -> bool:
    """Return whether a problem is of a value: at its key, within it, or at the section that it lies in."""
    field = problem.field
    inside = f"{field}.".startswith((f"{value.key}.", f"{value.key}["))
    return bool(field) and (inside or ("." in field and value.key.startswith(f"{field}.")))


def _reason(problem: Problem) -> str:
    allowed = f"; allowed: {problem.allowed}" if problem.allowed else ""
    return f"it does not load there: {problem.field}: {problem.found}{allowed}"


Levels = list[tuple[Path, str]]


def _with_levels(source: Original, text: str, values: Sequence[Value], label: str) -> tuple[str, Scenario, Levels]:
    """Return the text with values in it, its scenario, and levels that moved with the fleet. Raises ScenarioError.

    Levels of a base stay unless it does not load with them, or the fleet is too small; o2sim's own are shares.
    """
    new = [_new(each, label) for each in values]
    said = with_values(text, new, label)
    levels: Levels = list(scaled_levels(source.raw or source.root, values))
    if levels and source.file != OWN and not beyond(source.raw or source.root, values):
        try:
            return said, loaded(source, said, label), []
        except ScenarioError:
            pass
    if levels:
        said = with_values(
            said, [New(path, value_node(level, path[-1], label), NOTE) for path, level in levels], label
        )
    return said, loaded(source, said, label), levels


def _new(value: Value, label: str) -> New:
    """Return what is spliced in of a value; what values of a section share is said once, at the section."""
    brief = value.part.brief.get(value.key)
    if brief is None:
        return New(value.path, value_node(value.text, value.key, label), note_of(value))
    if "likely:" not in value.text:
        brief = brief.removesuffix(", 90 % range")
    note = plain(f"records, {value.part.sheet}: {brief}")
    return New(value.path, value_node(value.text, value.key, label), note, note_of(value))


def loaded(source: Original, text: str, label: str) -> Scenario:
    """Return the scenario that a text made of a base says. Raises ScenarioError."""
    problems = Problems(label)
    root = nodes.parse(text.removeprefix(BYTE_ORDER_MARK), problems)
    scenario = of_tree(root, problems, source.folder, source.stem)
    return dataclasses.replace(scenario, text=text, beside=source.folder)


def note_of(value: Value) -> str:
    """Return what the comment beside a value says: the book, and what of it counted."""
    kept = f"; {' and '.join(value.kept)} as in the base" if value.kept else ""
    return plain(f"records, {value.part.sheet}: {value.part.said}{kept}")


def _own_of_strategies(raw: Mapping, values: Sequence[Value]) -> tuple[list[Value], list[str]]:
    """Return the values that some strategy states for itself, which would overwrite it in a draw, and cautions."""
    found, cautions = [], []
    for value in values:
        names = [name for name in listed_strategies(raw) if find(raw, [STRATEGIES, name, *value.path]) is not None]
        if names:
            found.append(value)
            said = " and ".join(f"“{name}”" for name in names)
            cautions.append(
                f"{value.key}: {said} of the base {'states' if len(names) == 1 else 'state'} a value of "
                f"{'its' if len(names) == 1 else 'their'} own, which stays; so it is in no draw."
            )
    return found, cautions


def _drawn(scenario: Scenario, values: Sequence[Value]) -> Rows:
    """Return the table of draws, as it is taken by whoever lays it over the scenario. Raises ScenarioError."""
    columns = {head: cells for value in values for head, cells in value.columns.items() if len(set(cells)) > 1}
    if not columns:
        return Rows((), ())
    table = Rows(tuple(columns), tuple(zip(*columns.values(), strict=True)))
    tree = scenario.tree
    assert tree is not None
    require_joint(
        table, Original(likely_root(tree), scenario.file, scenario.beside, scenario.name, scenario, tree)
    )
    return table


def with_head(text: str, lines: Sequence[str]) -> str:
    """Return the text with comment lines above it, each broken where it is too long."""
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    newline = "\r\n" if "\r\n" in text else "\n"
    said = [f"# {part}" for line in lines for part in wrap(plain(line), LINE, subsequent_indent="  ")]
    return mark + "".join(f"{line}{newline}" for line in said) + text.removeprefix(BYTE_ORDER_MARK)
