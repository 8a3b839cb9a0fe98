"""Reads plain numbers, and laws and lists of them, without the YAML library: tables of draws hold thousands.

What it takes is the same to YAML, node for node (a test compares them); all else is left to nodes.parse.
"""

from __future__ import annotations

import re

from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar, child_path

_VALUE = re.compile("[0-9][0-9A-Za-z.%/-]*(?: [0-9A-Za-z%/][0-9A-Za-z.%/-]*)*")  # 3 h, 2.5 / day, 40 %, 2026-06-14
_KEY = re.compile("([a-z_]{1,40}): ")
_DEEPEST = 8  # levels; a law of a closure has 3
_Found = tuple[Node, int] | None  # a node, and where the text goes on behind it


def short(text: str, path: str) -> Node | None:
    """Return the node of `3 h`, `{gamma: {mean: 3 h, sd: 2 h}}`, `[{chance_per_day: 2 %}]`; else None."""
    found = _node(text, 0, path, _DEEPEST)
    return found[0] if found is not None and found[1] == len(text) else None


def _node(text: str, at: int, path: str, deepest: int) -> _Found:
    opened = text[at : at + 1]
    if opened == "{" and deepest:
        return _mapping(text, at + 1, path, deepest - 1)
    if opened == "[" and deepest:
        return _listing(text, at + 1, path, deepest - 1)
    value = _VALUE.match(text, at)
    return None if value is None else (Scalar(1, path, value[0]), value.end())


def _mapping(text: str, at: int, path: str, deepest: int) -> _Found:
    entries: dict[str, Node] = {}
    while (key := _KEY.match(text, at)) and key[1] not in entries:
        found = _node(text, key.end(), child_path(path, key[1]), deepest)
        if found is None:
            return None
        entries[key[1]], end = found
        if text[end : end + 1] == "}":
            return Mapping(1, path, entries), end + 1
        if text[end : end + 2] != ", ":
            return None
        at = end + 2
    return None


def _listing(text: str, at: int, path: str, deepest: int) -> _Found:
    items: list[Node] = []
    while found := _node(text, at, f"{path}[{len(items) + 1}]", deepest):
        node, end = found
        items.append(node)
        if text[end : end + 1] == "]":
            return Listing(1, path, items), end + 1
        if text[end : end + 2] != ", ":
            return None
        at = end + 2
    return None
