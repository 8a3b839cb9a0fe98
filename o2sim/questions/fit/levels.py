"""Levels of the store that follow a fitted fleet: those of the base belong to its own and may not go with it.

No book has the reorder rule. Where the base's levels would not load with the fleet of the records, or are o2sim's
own shares of all cylinders, they become the same share of the fleet that was fitted, and that is said.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Sequence

from o2sim.questions.fit.values import Value
from o2sim.scenario.changing.override import value_node
from o2sim.scenario.changing.splice import flow
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, find

FLEET = ("cylinders", "fleet")
LEVELS = (("resupply", "reorder_point"), ("resupply", "order_up_to"), ("cylinders", "full_at_start"))
NOTE = "not in the records: the base's share of all cylinders"


def scaled_levels(root: Mapping, values: Sequence[Value]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield the path and the text of each level of a base, as the same share of the fleet that was fitted."""
    fitted = _fitted(values)
    before = _likely(find(root, FLEET))
    if fitted is None or not before or fitted == before:
        return
    for path in LEVELS:
        node = find(root, path)
        if node is not None and _likely(node) is not None:
            yield path, flow(_times(node, fitted / before))


def beyond(root: Mapping, values: Sequence[Value]) -> bool:
    """Return whether a base orders at the fleet that was fitted, or has a level above it: there are no empties."""
    fitted = _fitted(values)
    levels = [_likely(find(root, path)) for path in LEVELS]
    highest = [None if fitted is None else fitted - 1, fitted, fitted]
    return any(
        each is not None and most is not None and each > most for each, most in zip(levels, highest, strict=True)
    )


def _fitted(values: Sequence[Value]) -> int | None:
    texts = [each.text for each in values if each.path == FLEET]
    return _likely(value_node(texts[0], "fleet", "")) if texts else None


def _likely(node: Node | None) -> int | None:
    """Return a whole number, the likely one of a range; None for what is neither."""
    if isinstance(node, Mapping):
        node = node.entries.get("likely")
    return int(node.text) if isinstance(node, Scalar) and node.text.isdigit() else None


def _times(node: Node, share: float) -> Node:
    """Return a number or a range with each whole number multiplied, rounded down."""
    if isinstance(node, Scalar):
        return dataclasses.replace(node, text=str(math.floor(int(node.text) * share)))
    assert isinstance(node, Mapping)
    entries = {name: _times(each, share) for name, each in node.entries.items()}
    texts = [each.text for each in entries.values() if isinstance(each, Scalar)]
    return entries["likely"] if len(set(texts)) == 1 else dataclasses.replace(node, entries=entries)
