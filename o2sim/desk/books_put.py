"""Puts figures of the books into the text of a scenario, each with a comment; all else stays letter by letter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from o2sim.errors import O2simError
from o2sim.scenario.changing.override import value_node
from o2sim.scenario.text import nodes
from o2sim.scenario.text.desk_comment import desk_note, records_note
from o2sim.scenario.text.nodes import Node, Scalar
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK, source_of

PATIENTS = "patients"
Groups = Sequence[Mapping[str, Any]]


def with_figures(text: str, groups: Groups, today: dt.date, file: str, folder: Path) -> str:
    """Return the text with all figures of some groups in it.

    Raises ScenarioError where it does not load, O2simError where a figure cannot be written where it stands.
    """
    from o2sim.questions.fit.base import with_classes
    from o2sim.questions.fit.splicing import New, with_values
    from o2sim.scenario.building.loading import of_tree

    text, _ = with_classes(text, _parsed(text, file), _lacking(_parsed(text, file), groups))
    wanted = [
        *(_new(each, records_note(today, each["note"]), file) for group in groups for each in group["values"]),
        *(_new(each, f"{desk_note(today)}: {each['note']}", file) for group in groups for each in group["levels"]),
    ]
    made = with_values(text, [New(*each) for each in wanted], file)
    expected = _parsed(text, file)
    for path, node, _ in wanted:
        expected = nodes.put(expected, path, node)
    root = _parsed(made, file)
    if _said(root) != _said(expected):
        raise O2simError(
            f"{file}: found figures that cannot be written without changing others; write them by hand"
        )
    of_tree(root, Problems(file), folder, Path(file).stem)
    return made


def differing(text: str, groups: Groups, file: str) -> list[dict[str, Any]]:
    """Return the groups of which a figure stands otherwise in the text, with what stands there."""
    root, found = _parsed(text, file), []
    for group in groups:
        there = [nodes.find(root, each["path"]) for each in group["values"]]
        new = [value_node(each["text"], each["key"], file) for each in group["values"]]
        if [None if each is None else _said(each) for each in there] != [*map(_said, new)]:
            found.append({**group, "there": [_short(each) for each in there]})
    return found


def _short(node: Node | None) -> str:
    """Return what stands in a file, a range by its likely value."""
    if node is None:
        return ""
    if isinstance(node, nodes.Mapping):
        if "likely" in node.entries:
            return _short(node.entries["likely"])
        return ", ".join(f"{name.replace('_', ' ')} {_short(each)}" for name, each in node.entries.items())
    return " ".join(node.text.split()) if isinstance(node, Scalar) else ", ".join(map(_short, node.items))


def _lacking(root: nodes.Mapping, groups: Groups) -> list[str]:
    """Return the classes of patients that the figures are of and the text has not."""
    there = root.entries.get(PATIENTS)
    known = there.entries if isinstance(there, nodes.Mapping) else {}
    named = (each["path"][1] for group in groups for each in group["values"] if each["path"][0] == PATIENTS)
    return [name for name in dict.fromkeys(named) if name not in known]


def _new(each: Mapping[str, Any], note: str, file: str) -> tuple[tuple[str, ...], Node, str]:
    return tuple(each["path"]), value_node(each["text"], each["key"], file), note


def _parsed(text: str, file: str) -> nodes.Mapping:
    return source_of(text.removeprefix(BYTE_ORDER_MARK), file).root


def _said(node: Node) -> object:
    """Return what a tree says, without its places."""
    if isinstance(node, Scalar):
        return " ".join(node.text.split())
    if isinstance(node, nodes.Mapping):
        return {key: _said(child) for key, child in node.entries.items()}
    return [_said(item) for item in node.items]


def chosen_of(groups: Iterable[Mapping[str, Any]], numbers: Iterable[str]) -> list[Mapping[str, Any]]:
    """Return the groups whose numbers a form has."""
    wanted = set(numbers)
    return [each for each in groups if str(each["number"]) in wanted]
