"""Sets or takes out single values of the text of a scenario; comments say so and claim no longer the old one.

What stands in the text otherwise stays letter by letter. The new text is read again: unless what differs is what
was asked for, and nothing else, there is no new text.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.changing.override import split, value_node
from o2sim.scenario.changing.removing import leaving, removed, without
from o2sim.scenario.changing.splice import flow, line_end, spliced, value_end
from o2sim.scenario.text import nodes
from o2sim.scenario.text.desk_comment import desk_note, next_comment, removed_note
from o2sim.scenario.text.nodes import Mapping, Node, Scalar
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK, comment_in
from o2sim.scenario.types.hospital import Scenario

Key = str | tuple[str, ...]  # a dotted key, or its parts where one of them holds dots itself
Values = AnyMapping[Any, str | None]  # by Key: mappings of texts alone are such too
Notes = AnyMapping[Any, str]


@dataclass(frozen=True)
class NewText:
    """A text with values set in it, and the scenario that it says."""

    text: str
    scenario: Scenario


def change(
    text: str,
    values: Values,
    today: dt.date,
    *,
    notes: Notes | None = None,
    file: str = "<text>",
    folder: Path | None = None,
    stem: str = "scenario",
) -> NewText:
    """Return the text with values set today, by dotted key, and its scenario; None takes out what stands there.

    notes: by key what the comment says of a value that is nobody's own figure, such as its source. file: its name
    in messages; folder: where the files lie that it names; stem: its name where it says none.
    Raises ScenarioError, with all that is wrong, where a value cannot be set or the new text does not load.
    """
    new, found, said = text, list[Problem](), notes or {}
    for key, value in values.items():
        try:
            if value is None:
                new = take_out(new, key, note=removed_note(today), file=file)
            else:
                new = splice(new, key, value, note=said.get(key, desk_note(today)), file=file)
        except ScenarioError as error:
            found += error.problems
    if found:
        raise ScenarioError(found)
    root = _parsed(new, file)
    return NewText(new, of_tree(root, Problems(file), folder, stem))


def splice(text: str, key: Key, value: str, *, note: str | None = None, file: str = "<text>") -> str:
    """Return the text with one value set: what stands at a dotted key, or a line under the last of its section.

    value: as it might stand behind the key. The name of a law may be left out of the key. note: who says so, such
    as "from the desk, 28 Nov 2026"; the comment beside the value then begins with it and goes on with what stood
    there before. Without a note comments stay as they are.
    Raises ScenarioError, with the line, where a file is no plain YAML or the value stands in another form.
    """
    root = _parsed(text, file)
    keys = _keys(root, key, file)
    wanted = value_node(value, keys[-1] if isinstance(key, tuple) else key, file)
    before = nodes.find(root, keys)
    new = spliced(text, {tuple(keys): wanted})
    if note is not None:
        new = _noted(new, keys, before, " ".join(note.split()))
    if _said(_parsed(new, file)) != _said(nodes.put(root, keys, wanted)):
        line = before.line if before is not None else 0
        raise _refused(file, line, ".".join(keys), "found a value that cannot be replaced where it stands")
    return new


def take_out(text: str, key: Key, *, note: str, file: str = "<text>") -> str:
    """Return the text without what stands at a dotted key, nor the section that this would leave empty.

    A line of its own goes with the comment on it. Of a line that stays, the comment begins with the note and goes
    on with what stood there. Raises ScenarioError, with the line, where a file is no plain YAML, or a comment
    stands among what would go.
    """
    root = _parsed(text, file)
    keys = _keys(root, key, file)
    before = nodes.find(root, keys)
    if before is None:
        return text
    gone = leaving(text, keys)
    found = removed(text, gone)
    new = found.text
    if found.place is not None:
        stood = nodes.find(root, gone)
        assert stood is not None
        new = _commented(new, line_end(new, found.place), f"{gone[-1]} ", flow(stood), note)
    is_lost = found.place is not None and any(map(comment_in, found.gone.splitlines()))
    if is_lost or _said(_parsed(new, file)) != _said(without(root, gone)):
        raise _refused(file, before.line, ".".join(keys), "found a value that cannot be taken out where it stands")
    return new


def _parsed(text: str, file: str) -> Mapping:
    """Return the tree of a text. Raises ScenarioError where it has anchors, aliases, tags or merge keys."""
    problems = Problems(file)
    root = nodes.parse(text.removeprefix(BYTE_ORDER_MARK), problems)
    for node in nodes.walk(root):
        if isinstance(node, Mapping) and "<<" in node.entries:
            problems.add(
                node.entries["<<"], "found the merge key <<", "plain values", "put the keys themselves there"
            )
    problems.stop()
    return root


def _keys(root: Mapping, key: Key, file: str) -> list[str]:
    """Return the keys that lead to a value, names of laws included; refuse places in lists and other forms."""
    if isinstance(key, tuple):
        return list(key)
    found: list[str] = []
    node: Node = root
    for part in split(root, key, file):
        node = _law_entered(node, part, found)
        if isinstance(node, Mapping) and not part.endswith("]"):
            found.append(part)
            node = node.entries.get(part, Mapping(0, ""))
            continue
        where = ".".join(found) or "the top"
        said = f"found {nodes.describe(node)} at {where}, in which the desk writes no {part}"
        raise _refused(file, node.line, key, said)
    return found


def _law_entered(node: Node, part: str, found: list[str]) -> Node:
    """Return the parameters of a law where the next key is one of them, its name put to the keys found."""
    if isinstance(node, Mapping) and part not in node.entries and len(node.entries) == 1:
        ((name, inside),) = node.entries.items()
        if isinstance(inside, Mapping) and part in inside.entries:
            found.append(name)
            return inside
    return node


def _noted(text: str, keys: Sequence[str], before: Node | None, note: str) -> str:
    """Return the text with the comment beside a value made to say who wrote it and what stood there before."""
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    text = text.removeprefix(BYTE_ORDER_MARK)
    name, value, alone = _place(text, keys)
    stood = None if before is None else flow(before)
    end = line_end(text, value_end(text, value))
    return mark + _commented(text, end, "" if alone else f"{name} ", stood, note)


def _commented(text: str, end: int, who: str, stood: str | None, note: str) -> str:
    """Return the text with the comment of the line that ends at a place made to say what was done to a value."""
    start = text.rfind("\n", 0, end) + 1
    line = text[start:end]
    old = comment_in(line)
    said = next_comment(note, who, stood, old)
    bare = line[: line.rindex("#", 0, line.rindex(old))] if old else line
    gap = "" if bare != bare.rstrip() else "  "
    return f"{text[:start]}{bare}{gap}# {said}{text[end:]}"


def _place(text: str, keys: Sequence[str]) -> tuple[str, Any, bool]:
    """Return the last key that stands in the text on the way, its value, and whether its line says only that."""
    here: Any = YAML(typ="safe", pure=True).compose(text)
    for key in keys:
        name, here = next(pair for pair in here.value if pair[0].value == key)
    begin = name.start_mark.index
    return str(name.value), here, not text[text.rfind("\n", 0, begin) + 1 : begin].strip()


def _said(node: Node) -> object:
    """Return what a tree says, without its places."""
    if isinstance(node, Scalar):
        return " ".join(node.text.split())
    if isinstance(node, Mapping):
        return {key: _said(child) for key, child in node.entries.items()}
    return [_said(item) for item in node.items]


def _refused(file: str, line: int, field: str, found: str) -> O2simError:
    allowed = "a value alone, or one parameter of a law"
    return ScenarioError([Problem(file, line, field, found, allowed, "change it in the file, by hand")])
