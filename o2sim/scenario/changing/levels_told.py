"""A fleet that varies in, what became of the levels of the reorder rule beside it out: moved with it, or held."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from o2sim.scenario.types.hospital import Scenario

MOVED, HELD = "moved", "held"
Beside = tuple[tuple[str, ...], tuple[str, ...]]  # levels that move with the fleet, levels that are varied too


def levels_told(
    scenario: Scenario, strategies: Sequence[str] | None, beside: Callable[[Sequence[str]], Beside], hold: bool
) -> dict[str, Any]:
    """Return `levels` (moved or held; None where no fleet varies beside a level) and which did and did not move.

    beside: gives, for strategies with cylinders, the levels that can move and those that are varied too.
    """
    names = [
        name
        for name, hospital in scenario.hospitals.items()
        if hospital.cylinders is not None and (strategies is None or name in strategies)
    ]
    moved, varied = beside(names)
    found = MOVED if moved and not hold else HELD if moved or varied else None
    return {
        "levels": found,
        "levels_moved": list(moved) if found == MOVED else [],
        "levels_varied": list(varied),
    }
