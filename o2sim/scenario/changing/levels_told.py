"""A fleet that varies in, what became of the levels of the reorder rule beside it out: moved with it, or held."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from o2sim.scenario.types.hospital import Scenario
from o2sim.typed import item

Fate = Literal["moved", "held"]
MOVED: Fate = "moved"
HELD: Fate = "held"
Beside = tuple[tuple[str, ...], tuple[str, ...]]  # levels that move with the fleet, levels that are varied too


@dataclass(frozen=True)
class Levels:
    """What became of the levels of the reorder rule beside a fleet that varies."""

    levels: Fate | None = item("whether they moved with the fleet; null where no fleet varies beside a level")
    levels_moved: tuple[str, ...] = item()
    levels_varied: tuple[str, ...] = item("those with values of their own, so held")


def levels_told(
    scenario: Scenario, strategies: Sequence[str] | None, beside: Callable[[Sequence[str]], Beside], hold: bool
) -> Levels:
    """Return what became of the levels.

    beside: gives, for strategies with cylinders, the levels that can move and those that are varied too.
    """
    names = [
        name
        for name, hospital in scenario.hospitals.items()
        if hospital.cylinders is not None and (strategies is None or name in strategies)
    ]
    moved, varied = beside(names)
    found: Fate | None = MOVED if moved and not hold else HELD if moved or varied else None
    return Levels(found, tuple(moved) if found == MOVED else (), tuple(varied))
