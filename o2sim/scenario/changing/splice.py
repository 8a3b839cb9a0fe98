"""Writes new values into the text of a scenario file; all else stays, letter by letter.

A value that stands there is replaced where it stands. One that does not is added behind the last entry of the
mapping it belongs to: within the braces where that is written in braces, else on a line of its own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.nodes import MappingNode, ScalarNode, SequenceNode

from o2sim.errors import O2simError, OutputError, ScenarioError
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.changing.fleet_levels import STRATEGIES, Keys
from o2sim.scenario.changing.override import Changed, Original
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK, comment_in
from o2sim.scenario.types.hospital import Scenario

LONGEST_LINE = 118  # a longer one is broken within its braces
DEEPEST_COLUMN = 40  # but not where the braces begin further right
_PLAIN = re.compile("[0-9A-Za-z][0-9A-Za-z./%_-]*(?: [0-9A-Za-z./%_-]+)*")  # stands as it is, to YAML too (a test)
Edit = tuple[int, int, str]  # from, to, what stands there then


@dataclass(frozen=True)
class Block:
    """Lines that differ between two texts: first and last of the old ones (last < first: after last), the new."""

    first: int
    last: int
    lines: tuple[str, ...]


def spliced(text: str, values: AnyMapping[Keys, Node]) -> str:
    """Return the text of a file that loads with the values of some fields set."""
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    text = text.removeprefix(BYTE_ORDER_MARK)
    wanted = list(_together(text, values).items())
    while wanted:
        text, wanted = _set_at_once(text, wanted)
    return mark + text


def _set_at_once(text: str, wanted: Sequence[tuple[Keys, Node]]) -> tuple[str, list[tuple[Keys, Node]]]:
    """Return the text with the values set of which no two touch one line, and those left for the text it is then.

    Reading the text is what takes time: it is done once for all values that lie apart.
    """
    root: Any = YAML(typ="safe", pure=True).compose(text)
    edits, left = list[Edit](), list[tuple[Keys, Node]]()
    touched = set[int]()
    for keys, node in wanted:
        found = _edits(text, root, keys, node)
        lines = {line for edit in found for line in _lines(text, edit)}
        if touched & lines:
            left.append((keys, node))
        else:
            edits += found
        touched |= lines
    for first, last, said in sorted(edits, reverse=True):
        text = text[:first] + said + text[last:]
    return text, left


def _lines(text: str, edit: Edit) -> range:
    """Return the numbers of the lines that an edit touches."""
    first = text.count("\n", 0, edit[0])
    return range(first, first + text.count("\n", edit[0], edit[1]) + 1)


def blocks(before: str, after: str) -> list[Block]:
    """Return the lines of a text that are others in the next one."""
    old, new = before.splitlines(), after.splitlines()
    found = SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    return [Block(i + 1, j, tuple(new[k:m])) for what, i, j, k, m in found if what != "equal"]


def flow(node: Node) -> str:
    """Return a value in one line as it may stand anywhere, within braces too."""
    if isinstance(node, Scalar):
        return _quoted(" ".join(node.text.split()))
    if isinstance(node, Listing):
        return f"[{', '.join(map(flow, node.items))}]"
    return f"{{{', '.join(f'{_quoted(key)}: {flow(child)}' for key, child in node.entries.items())}}}"


def _quoted(text: str) -> str:
    """Return a text as it is where YAML reads it so within braces, else in quotes."""
    if _PLAIN.fullmatch(text):
        return text
    try:
        read = YAML(typ="safe", pure=True).compose(f"{{{text}: [{text}]}}")
        ((key, listed),) = read.value
        plain = key.value == text == listed.value[0].value and len(listed.value) == 1 and key.style is None
    except (YAMLError, ValueError, LookupError, AttributeError, TypeError):
        plain = False
    return text if plain else json.dumps(text, ensure_ascii=False)


def _together(text: str, values: AnyMapping[Keys, Node]) -> dict[Keys, Node]:
    """Return the same values, those below one key that is missing in the text as one mapping at that key."""
    root = YAML(typ="safe", pure=True).compose(text)
    found: dict[Keys, Node] = {}
    for keys, node in values.items():
        here, depth = root, 0
        while depth < len(keys) - 1 and isinstance(here, MappingNode):
            below = next((child for name, child in here.value if name.value == keys[depth]), None)
            if below is None:
                break
            here, depth = below, depth + 1
        at = keys[: depth + 1]
        found[at] = _below(keys[depth + 1 :], node, found.get(at))
    return found


def _below(keys: Sequence[str], value: Node, node: Node | None = None) -> Node:
    """Return a mapping with a value at some keys deep, the value itself without any."""
    return nodes.put(node if isinstance(node, Mapping) else Mapping(0, ""), keys, value) if keys else value


def _edits(text: str, root: Any, keys: Keys, node: Node) -> list[Edit]:
    """Return what to change so that a value stands at the keys; root: what the YAML library made of the text."""
    here, key = root, None
    for place, name in enumerate(keys):
        found = next((pair for pair in here.value if pair[0].value == name), None)
        rest = keys[place + 1 :]
        if found is None:
            return [_added(text, here, name, _below(rest, node))]
        key, below = found
        if rest and not isinstance(below, MappingNode):
            return [_replaced(text, key, below, _below(rest, node))]
        here = below
    return _merged(text, key, here, node)


def _merged(text: str, key: Any, there: Any, node: Node) -> list[Edit]:
    """Return what to change at a value: only what differs, where its form is the same. key: None in a list."""
    if isinstance(there, ScalarNode) and isinstance(node, Scalar):
        return [] if there.value == node.text else [_replaced(text, key, there, node)]
    pairs: list[tuple[Any, Any, Node]] | None = None
    if isinstance(there, MappingNode) and isinstance(node, Mapping):
        if [name.value for name, _ in there.value] == list(node.entries):
            pairs = [(name, child, node.entries[name.value]) for name, child in there.value]
    elif isinstance(there, SequenceNode) and isinstance(node, Listing) and len(there.value) == len(node.items):
        pairs = [(None, child, wanted) for child, wanted in zip(there.value, node.items, strict=True)]
    if pairs is None:
        return [_replaced(text, key, there, node)]
    return [edit for name, child, wanted in pairs for edit in _merged(text, name, child, wanted)]


def _replaced(text: str, key: Any, there: Any, node: Node) -> Edit:
    """Return what puts another value in the place of one; the comments of several lines go behind it."""
    first, last = there.start_mark.index, value_end(text, there)
    if key is not None and there.end_mark.index == first:  # nothing stands there
        first = last = text.index(":", key.end_mark.index) + 1
    if isinstance(there, ScalarNode) or there.flow_style:
        gap = "" if text[first - 1 : first].strip() in ("", "[", "{") else " "
        return first, last, gap + flow(node)
    first, last = (first if key is None else text.index(":", key.end_mark.index) + 1), line_end(text, last)
    said = "; ".join(filter(None, map(comment_in, text[first:last].splitlines())))
    return first, last, f"{'' if key is None else ' '}{flow(node)}{f'   # {said}' if said else ''}"


def _added(text: str, here: Any, key: str, node: Node) -> Edit:
    """Return what adds a key behind the last entry of a mapping."""
    entry = f"{_quoted(key)}: {flow(node)}"
    newline = "\r\n" if "\r\n" in text else "\n"
    column = here.value[0][0].start_mark.column if here.value else 0
    last = value_end(text, here.value[-1][1]) if here.value else here.start_mark.index + 1
    if not here.flow_style:
        end = line_end(text, last)
        return end, end, f"{newline}{' ' * column}{entry}"
    if not here.value:
        return last, last, entry
    long = _length(text, last) + len(entry) + 2 > LONGEST_LINE and column <= DEEPEST_COLUMN
    return last, last, f",{newline}{' ' * column}{entry}" if long else f", {entry}"


def _length(text: str, place: int) -> int:
    """Return how long the line of a place is, its comment apart."""
    line = text[text.rfind("\n", 0, place) + 1 : line_end(text, place)]
    comment = comment_in(line)
    return len(line[: line.rindex(comment)].rstrip("# ")) if comment else len(line)


def value_end(text: str, node: Any) -> int:
    """Return where a value ends: that of its last entry where it is written over lines of its own."""
    while not isinstance(node, ScalarNode) and not node.flow_style and node.value:
        node = node.value[-1][1] if isinstance(node, MappingNode) else node.value[-1]
    return len(text[: node.end_mark.index].rstrip()) if isinstance(node, ScalarNode) else node.end_mark.index


def line_end(text: str, place: int) -> int:
    """Return the end of the line of a place, before what ends it."""
    end = text.find("\n", place)
    end = len(text) if end < 0 else end
    return end - 1 if end > place and text[end - 1] == "\r" else end


def as_keys(there: Changed, strategy: str) -> dict[str, str]:
    """Return all that is set, levels included: keys as they stand under the strategy, texts of their values."""
    own = (STRATEGIES, strategy)
    return {".".join(k[2:] if k[:2] == own else k): flow(node) for k, node in there.values.items()}


def written(source: Original, there: Changed, wanted: Scenario) -> str:
    """Return the text of the file with the changes in it, all else as it was.

    wanted: what the text has to be: every hospital is compared, so that what is written is what was promised.
    Raises O2simError where there is no such text.
    """
    if not source.text:
        raise O2simError(f"{source.file}: there is no text of this scenario to write the answer into")
    text = spliced(source.text, there.values)
    label = f"{source.file} with the answer written into it"
    found = of_tree(_parsed(text, label), Problems(label), source.folder, source.stem)
    if dict(found.hospitals) != dict(wanted.hospitals):
        raise O2simError(f"{label}: it would not say the same; write the values by hand")
    return text


def require_readable_in(source: Original, folder: Path) -> None:
    """Raise OutputError where a copy of the file in a folder would not find the files that it names."""
    if not isinstance(source.folder, Path) or not source.text or folder.resolve() == source.folder.resolve():
        return
    try:
        of_tree(_parsed(source.text, source.file), Problems(source.file), folder, source.stem)
    except ScenarioError as error:
        raise OutputError(
            f"{folder}: a copy of {source.file} there would miss the files it names; write it into "
            f"{source.folder}, or copy these too ({error.problems[0].found})"
        ) from error


def _parsed(text: str, label: str) -> nodes.Mapping:
    return nodes.parse(text.removeprefix(BYTE_ORDER_MARK), Problems(label))
