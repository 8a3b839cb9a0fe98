"""What is owned, by the file, and used by no strategy: nobody would see it anywhere."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.errors import Problem
from o2sim.scenario.building.owned import PLACES
from o2sim.scenario.types.hospital import Scenario


def idle(scenario: Scenario) -> Iterator[Problem]:
    """Yield what the file says is owned, and no strategy has a use for."""
    options = scenario.options.hospitals.values() if scenario.options is not None else ()
    used = {each.item for hospital in (*scenario.hospitals.values(), *options) for each in hospital.owned}
    for place in PLACES:
        line = scenario.lines.get(place.path)
        if line and place.item not in used and not _none(scenario, place.path):
            found, hint = f"{place.item} owned, but no strategy has any", "add what they belong to, or delete it"
            yield Problem(scenario.file, line, place.path, found, "", hint)


def _none(scenario: Scenario, path: str) -> bool:
    """Return True where the file says that none is owned."""
    node = scenario.tree
    for key in path.split("."):
        node = node.entries.get(key) if node is not None else None
    return getattr(node, "text", "") in ("0", "false")
