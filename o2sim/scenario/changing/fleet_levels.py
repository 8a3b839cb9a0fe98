"""Moves the levels of the reorder rule with the fleet, and says what became of them.

Under a reorder point that stays, a bigger fleet orders later, and a smaller one never stops ordering. So whoever
changes the fleet moves full cylinders at the start, reorder point and order-up-to level, where they are stated, by
the same number: for each strategy from what the file says of it. A level that is changed itself is left as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Sequence
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass
from typing import Literal

from o2sim.scenario.text.nodes import Mapping, Scalar, find
from o2sim.scenario.types.hospital import Scenario
from o2sim.typed import item

FLEET = "cylinders.fleet"
LEVELS = ("cylinders.full_at_start", "resupply.reorder_point", "resupply.order_up_to")
STRATEGIES = "strategies"
Keys = tuple[str, ...]
_FLEET: Keys = ("cylinders", "fleet")
_SIZES: Keys = ("cylinders", "sizes")
_TOTALS: tuple[Keys, ...] = (_FLEET, ("cylinders", "full_at_start"))  # of all sizes
_WHOLE = re.compile(r"[+-]?[0-9]{1,9}")
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


def moves(before: Mapping, after: Mapping, changed: Collection[str]) -> dict[Keys, str]:
    """Return where levels are to be set (keys: text) so that each moves with the fleet of its strategy.

    before: as the file is; after: with changes; changed: the dotted places of these. Of several sizes of cylinders
    the levels of each move with its own fleet, and totals, where they are stated, with all.
    """
    found: dict[Keys, str] = {}
    for keys, fleets in _followed(after).items():
        for name in (None, *listed_strategies(after)):
            place = _place(after, name, keys)
            wanted = None if ".".join(place) in changed else _moved(before, after, name, keys, fleets)
            if wanted is None:
                continue
            there = found.get(place) or _text(after, place)
            if there is None or _whole(there) != wanted:
                found[keys if name is None else (STRATEGIES, name, *keys)] = str(wanted)
    return found


def _followed(root: Mapping) -> dict[Keys, list[Keys]]:
    """Return where levels stand, each with the fleets that it moves with."""
    sizes = find(root, _SIZES)
    names = list(sizes.entries) if isinstance(sizes, Mapping) else []
    if not names:
        return {tuple(level.split(".")): [_FLEET] for level in LEVELS}
    found = {level: [_fleet_of(name)] for name in names for level in _levels_of(name)}
    return found | {total: [_fleet_of(name) for name in names] for total in _TOTALS}


def _fleet_of(size: str) -> Keys:
    return (*_SIZES, size, "fleet")


def _levels_of(size: str) -> tuple[Keys, ...]:
    of_rule: Keys = ("resupply", "sizes", size)
    return (*_SIZES, size, "full_at_start"), (*of_rule, "reorder_point"), (*of_rule, "order_up_to")


def said(levels: AnyMapping[Keys, str]) -> str:
    """Return levels in words, for the label of a tree in which they moved."""
    return ", ".join(f"{'.'.join(keys)} = {text}" for keys, text in levels.items())


def levels_beside(root: Mapping, changed: Collection[str], names: Iterable[str]) -> Beside:
    """Return the levels that move with the fleet under any of these strategies, and those that are changed too.

    root: with the changes; changed: their dotted places. Nothing where no fleet is changed.
    """
    views = [name if name in listed_strategies(root) else None for name in names]
    followed, moved, varied = _followed(root), set[Keys](), set[Keys]()
    for name in views:
        for level, fleets in followed.items():
            place = _place(root, name, level)
            if find(root, place) is None or level == _FLEET:
                continue
            if any(".".join(_place(root, name, fleet)) in changed for fleet in fleets):
                (varied if ".".join(place) in changed else moved).add(level)
    return _in_order(followed, moved), _in_order(followed, varied)


def _in_order(levels: Iterable[Keys], some: Collection[Keys]) -> tuple[str, ...]:
    return tuple(".".join(level) for level in levels if level in some)


def what_became(
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


def _moved(before: Mapping, after: Mapping, name: str | None, keys: Keys, fleets: Iterable[Keys]) -> int | None:
    """Return what a level becomes under a strategy (None: in the shared sections); None where nothing is said."""
    level, stated = _whole(_text(before, _place(before, name, keys))), False
    for fleet in fleets:
        old, new = (_whole(_text(root, _place(root, name, fleet))) for root in (before, after))
        if level is not None and old is not None and new is not None:
            level, stated = level + new - old, True
    return level if stated else None


def _place(root: Mapping, name: str | None, keys: Keys) -> Keys:
    """Return where a strategy's value stands: in its own changes, else in the sections that all share."""
    own = (STRATEGIES, name or "", *keys)
    return own if name is not None and find(root, own) is not None else keys


def listed_strategies(root: Mapping) -> list[str]:
    """Return the names of the strategies that a file lists."""
    listed = root.entries.get(STRATEGIES)
    return list(listed.entries) if isinstance(listed, Mapping) else []


def _text(root: Mapping, keys: Keys) -> str | None:
    node = find(root, keys)
    return node.text if isinstance(node, Scalar) else None


def _whole(text: str | None) -> int | None:
    """Return a whole number; None for what is none, which the loader refuses."""
    return int(text) if text is not None and _WHOLE.fullmatch(text) else None
