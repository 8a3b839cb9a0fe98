"""A calm scenario text, one value of it changed, and a proposal of a message put in the place of that value."""

from __future__ import annotations

import re

from scenario_texts import WHOLE

from o2sim.errors import Problem, ScenarioError
from o2sim.scenario import Scenario, loads, warnings
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Mapping, Node, Scalar
from o2sim.scenario.text.problems import Problems

# `write KEY: VALUE`, as far as the proposal goes: to `in place of KEY`, a comma or semicolon outside brackets.
_VALUE = r"(?P<value>(?:\{[^;]*\}|\[[^\]]*\]|[^;,{\[]+?))"
PROPOSAL = re.compile(rf"\bwrite (?P<key>[A-Za-z_]+): {_VALUE}(?: in place of (?P<old>\w+))?(?=[;,)]|$)")
CALM = WHOLE.replace("high: 10 L/min", "high: 5 L/min").replace("vehicle_capacity: 12", "vehicle_capacity: 30")
CALM = CALM.replace("    hypoxaemic:", "    recognised: 90 %\n    hypoxaemic:")


def with_value(path: str, value: str, text: str = CALM) -> str:
    """Return a scenario text with the value at a dotted path set, be it one that loads or not."""
    root = nodes.parse(text, Problems("<text>"))
    node = nodes.parse(f"value: {value}\n", Problems("<text>")).entries["value"]
    return as_text(nodes.put(root, path.split("."), node))


def without(path: str, text: str) -> str:
    """Return a scenario text without the key at a dotted path."""
    return as_text(_without(nodes.parse(text, Problems("<text>")), path.split(".")))


def _without(node: Mapping, keys: list[str]) -> Mapping:
    key, *deeper = keys
    entries = dict(node.entries)
    inside = entries.get(key)
    if deeper and isinstance(inside, Mapping):
        entries[key] = _without(inside, deeper)
    else:
        entries.pop(key, None)
    return Mapping(node.line, node.path, entries)


def as_text(root: Mapping) -> str:
    """Return a tree as a text, one section a line."""
    return "".join(f"{_quoted(key)}: {_bracketed(child)}\n" for key, child in root.entries.items())


def _bracketed(node: Node) -> str:
    if isinstance(node, Mapping):
        return "{" + ", ".join(f"{_quoted(key)}: {_bracketed(child)}" for key, child in node.entries.items()) + "}"
    if isinstance(node, Scalar):
        return _quoted(node.text)
    return "[" + ", ".join(map(_bracketed, node.items)) + "]"


def _quoted(text: str) -> str:
    return f'"{text}"' if re.search(r"[,:{}\[\]#']|^[-!*&%@`]", text) else text


def applied(text: str, problem: Problem) -> str:
    """Return a text with what a problem proposes to write at its place, or in place of another key."""
    match = PROPOSAL.search(problem.hint)
    assert match is not None, f"no proposal in: {problem}"
    above = problem.field.rpartition(".")[0]
    if match["old"]:
        text = without(f"{above}.{match['old']}".lstrip("."), text)
    return with_value(f"{above}.{match['key']}".lstrip("."), match["value"].strip(), text)


def problems_of(text: str) -> list[Problem]:
    """Return what is wrong with a text or, where it loads, what is doubtful in it."""
    try:
        return warnings(loads(text))
    except ScenarioError as error:
        return list(error.problems)


def at(scenario: Scenario, path: str) -> object:
    """Return what a scenario of one text holds, by attributes of its last strategy; classes by their names."""
    found: object = list(scenario.hospitals.values())[-1]
    for name in path.split("."):
        if isinstance(found, tuple):
            found = next(each for each in found if each.name == name)
        else:
            found = getattr(found, name)
    return found
