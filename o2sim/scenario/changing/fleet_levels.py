"""The tree of a file and the tree with another fleet in, what its levels of the reorder rule become out.

Under a reorder point that stays, a bigger fleet orders later, and a smaller one never stops ordering. So whoever
changes the fleet moves full cylinders at the start, reorder point and order-up-to level, where they are stated, by
the same number: for each strategy from what the file says of it. A level that is changed itself is left as it is.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from collections.abc import Mapping as AnyMapping

from o2sim.scenario.text.nodes import Mapping, Node, Scalar

FLEET = "cylinders.fleet"
LEVELS = ("cylinders.full_at_start", "resupply.reorder_point", "resupply.order_up_to")
STRATEGIES = "strategies"
Keys = tuple[str, ...]
_WHOLE = re.compile(r"[+-]?[0-9]{1,9}")


def moves(before: Mapping, after: Mapping, changed: Collection[str]) -> dict[Keys, str]:
    """Return where levels are to be set (keys: text) so that each moves with the fleet of its strategy.

    before: as the file is; after: with changes; changed: the dotted places of these.
    """
    found: dict[Keys, str] = {}
    for level in LEVELS:
        keys = tuple(level.split("."))
        for name in (None, *_listed(after)):
            place = _place(after, name, keys)
            wanted = None if ".".join(place) in changed else _moved(before, after, name, keys)
            if wanted is None:
                continue
            there = found.get(place) or _text(after, place)
            if there is None or _whole(there) != wanted:
                found[keys if name is None else (STRATEGIES, name, *keys)] = str(wanted)
    return found


def said(levels: AnyMapping[Keys, str]) -> str:
    """Return levels in words, for the label of a tree in which they moved."""
    return ", ".join(f"{'.'.join(keys)} = {text}" for keys, text in levels.items())


def levels_beside(
    root: Mapping, changed: Collection[str], names: Iterable[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the levels that move with the fleet under any of these strategies, and those that are changed too.

    root: with the changes; changed: their dotted places. Nothing where no fleet is changed.
    """
    views = [name if name in _listed(root) else None for name in names]
    moved, varied = set[str](), set[str]()
    for name in views:
        if ".".join(_place(root, name, tuple(FLEET.split(".")))) not in changed:
            continue
        for level in LEVELS:
            place = _place(root, name, tuple(level.split(".")))
            if _at(root, place) is not None:
                (varied if ".".join(place) in changed else moved).add(level)
    return tuple(each for each in LEVELS if each in moved), tuple(each for each in LEVELS if each in varied)


def _moved(before: Mapping, after: Mapping, name: str | None, keys: Keys) -> int | None:
    """Return what a level becomes under a strategy (None: in the shared sections); None where nothing is said."""
    fleet = tuple(FLEET.split("."))
    old, new = (_whole(_text(root, _place(root, name, fleet))) for root in (before, after))
    level = _whole(_text(before, _place(before, name, keys)))
    return None if old is None or new is None or level is None else level + new - old


def _place(root: Mapping, name: str | None, keys: Keys) -> Keys:
    """Return where a strategy's value stands: in its own changes, else in the sections that all share."""
    own = (STRATEGIES, name or "", *keys)
    return own if name is not None and _at(root, own) is not None else keys


def _listed(root: Mapping) -> list[str]:
    listed = root.entries.get(STRATEGIES)
    return list(listed.entries) if isinstance(listed, Mapping) else []


def _at(root: Mapping, keys: Keys) -> Node | None:
    node: Node | None = root
    for key in keys:
        node = node.entries.get(key) if isinstance(node, Mapping) else None
    return node


def _text(root: Mapping, keys: Keys) -> str | None:
    node = _at(root, keys)
    return node.text if isinstance(node, Scalar) else None


def _whole(text: str | None) -> int | None:
    """Return a whole number; None for what is none, which the loader refuses."""
    return int(text) if text is not None and _WHOLE.fullmatch(text) else None
