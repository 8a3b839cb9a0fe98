"""Takes single values out of the text of a scenario file; all else stays, letter by letter.

A value goes with its key: within braces up to its neighbour, else with its line and the comment on it. A section
that would be left empty goes with its last value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ruamel.yaml import YAML

from o2sim.scenario.changing.splice import line_end, value_end
from o2sim.scenario.text.nodes import Mapping
from o2sim.scenario.text.source import BYTE_ORDER_MARK


@dataclass(frozen=True)
class Removed:
    """A text without a value; place: where that stood, None where whole lines went; gone: what stood there."""

    text: str
    place: int | None
    gone: str


def removed(text: str, keys: Sequence[str]) -> Removed:
    """Return the text of a file without what stands at some keys; it loads and has them, in no list."""
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    text = text.removeprefix(BYTE_ORDER_MARK)
    first, last, is_within = _span(text, keys)
    place = len(mark) + first if is_within else None
    return Removed(mark + text[:first] + text[last:], place, text[first:last])


def without(root: Mapping, keys: Sequence[str]) -> Mapping:
    """Return the tree of a file without what stands at some keys."""
    key, *deeper = keys
    below = root.entries[key]
    if deeper and isinstance(below, Mapping):
        return replace(root, entries={**root.entries, key: without(below, deeper)})
    return replace(root, entries={name: child for name, child in root.entries.items() if name != key})


def leaving(text: str, keys: Sequence[str]) -> tuple[str, ...]:
    """Return the keys of what goes: the value itself, or the section that it is the last value of."""
    here: Any = YAML(typ="safe", pure=True).compose(text.removeprefix(BYTE_ORDER_MARK))
    depth = 0
    for place, key in enumerate(keys):
        if len(here.value) > 1:
            depth = place
        here = next(below for name, below in here.value if name.value == key)
    return tuple(keys[: depth + 1])


def _span(text: str, keys: Sequence[str]) -> tuple[int, int, bool]:
    """Return from where to where a text goes, and whether its line stays."""
    here: Any = YAML(typ="safe", pure=True).compose(text)
    *above, wanted = leaving(text, keys)
    for key in above:
        here = next(below for name, below in here.value if name.value == key)
    place = next(n for n, (name, _) in enumerate(here.value) if name.value == wanted)
    name, value = here.value[place]
    first, last = name.start_mark.index, value_end(text, value)
    if not here.flow_style:
        return *_lines(text, first, last), False
    if place:
        return value_end(text, here.value[place - 1][1]), last, True
    return first, here.value[1][0].start_mark.index if len(here.value) > 1 else last, True


def _lines(text: str, first: int, last: int) -> tuple[int, int]:
    """Return the lines that a value stands on with the end of the last; where none follows, of that before."""
    begin, end = text.rfind("\n", 0, first) + 1, line_end(text, last)
    after = text.find("\n", end) + 1
    if after:
        return begin, after
    return (line_end(text, begin - 2) if begin > 1 else begin), len(text)
