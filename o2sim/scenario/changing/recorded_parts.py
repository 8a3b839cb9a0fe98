"""Refuses to vary what a recorded list of cuts or a register has no figures of, and says what can be varied."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.errors import Problem, ScenarioError
from o2sim.scenario.text.nodes import Mapping, Node
from o2sim.scenario.types.patients import PatientClass

_GRID = ("power", "grid")
_NO_REGISTER = dict(PatientClass.instead)["register"]
_LAWS_OF_GRID = ("up", "down")


def check_recorded(root: Mapping, keys: Sequence[str], path: str, label: str) -> None:
    """Raise ScenarioError where a value would be set of a recorded grid or of recorded patients.

    keys: where it would be set, perhaps within a strategy, whose own changes come first.
    """
    own = keys[:2] if keys[0] == "strategies" else ()
    inner = tuple(keys[len(own) :])
    if len(inner) < 3:
        return
    key = inner[2]
    if inner[:2] == _GRID and key in _LAWS_OF_GRID and _is_recorded(root, own, _GRID, "file", _LAWS_OF_GRID):
        found = f"the grid is a recorded list of cuts (power.grid.file), which has no {key} to vary"
        allowed = "power.grid.scale, such as power.grid.scale = 1, 2, 4: each cut lasts so many times as long"
        raise _refusal(label, path, found, allowed, "or write up and down in place of file")
    if (
        inner[0] == "patients"
        and key in _NO_REGISTER
        and _is_recorded(root, own, inner[:2], "register", _NO_REGISTER)
    ):
        found = f"the patients of {inner[1]} are those of a register, which has no {key} to vary"
        allowed = "what stands ready for them, such as cylinders.fleet, concentrators.count, resupply.lead_time"
        hint = "nothing of recorded patients varies; a strategy may state admissions, flow and duration instead"
        raise _refusal(label, path, found, allowed, hint)


def _is_recorded(
    root: Mapping, own: Sequence[str], section: Sequence[str], record: str, instead: Sequence[str]
) -> bool:
    """Return whether a section has a record, as a strategy sees it: what stands in place of it takes it away."""
    for where in ([*own, *section], section) if own else (section,):
        node: Node | None = root
        for key in where:
            node = node.entries.get(key) if isinstance(node, Mapping) else None
        if node is None:
            continue
        if not isinstance(node, Mapping):
            return False
        if record in node.entries:
            return record == "file" or isinstance(node.entries[record], Mapping)
        if set(instead) & set(node.entries):
            return False
    return False


def _refusal(label: str, field: str, found: str, allowed: str, hint: str) -> ScenarioError:
    return ScenarioError([Problem(label, 0, field, found, allowed, hint)])
