"""Sets many values in the text of a base at once, each with its comment; all else stays letter by letter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ruamel.yaml import YAML

from o2sim.errors import O2simError
from o2sim.scenario.changing.splice import flow, line_end, spliced, value_end
from o2sim.scenario.text import nodes
from o2sim.scenario.text.desk_comment import next_comment
from o2sim.scenario.text.nodes import Node
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import BYTE_ORDER_MARK, comment_in

if TYPE_CHECKING:  # the desk writes values too, without what fits them
    from o2sim.questions.fit.choosing import Path


@dataclass(frozen=True)
class New:
    """A value to be set, and what its comment begins with.

    about: what its section says in its place, once for all its values; where that has no line of its own for it,
    beside each value.
    """

    path: Path
    node: Node
    note: str
    about: str = ""


def with_values(text: str, wanted: Sequence[New], label: str) -> str:
    """Return the text with values set, the comment beside each saying whence it is and what stood there before.

    Raises ScenarioError where the text is none of YAML.
    """
    before = _tree(text, label)
    about = {
        each.path[:-1]: each.about for each in wanted if each.about and _is_over_lines(before, each.path[:-1])
    }
    wanted = [replace(each, note=each.about) if each.about and each.path[:-1] not in about else each
              for each in wanted]  # fmt: skip
    new = [piece for each in wanted for piece in _pieces(nodes.find(before, each.path), each)]
    made = spliced(text, {each.path: each.node for each in new})
    after = _tree(made, label)
    for each in new:
        there = nodes.find(after, each.path)
        if there is None or flow(there) != flow(each.node):
            raise O2simError(f"{label}: {'.'.join(each.path)} cannot be written there; write it by hand")
    return _commented(made, new, about, before)


def _tree(text: str, label: str) -> nodes.Mapping:
    problems = Problems(label)
    root = nodes.parse(text.removeprefix(BYTE_ORDER_MARK), problems)
    problems.stop()
    return root


def _is_over_lines(root: nodes.Mapping, path: Path) -> bool:
    """Return whether a section has its values on lines below its own."""
    there = nodes.find(root, path)
    return isinstance(there, nodes.Mapping) and all(each.line > there.line for each in there.entries.values())


def _pieces(there: Node | None, new: New) -> Iterator[New]:
    """Yield what is written where: what stands over several lines goes line by line, each with its comment."""
    if isinstance(there, nodes.Mapping) and isinstance(new.node, nodes.Mapping):
        inside = new.node.entries
        if list(there.entries) == list(inside) and all(each.line > there.line for each in there.entries.values()):
            for name, child in inside.items():
                yield from _pieces(there.entries[name], New((*new.path, name), child, new.note))
            return
    yield new


def _commented(text: str, new: Sequence[New], about: AnyMapping[Path, str], before: nodes.Mapping) -> str:
    """Return the text with the comment of each line that has a new value; from the last line to the first.

    about: what is said of sections, on the line of their key.
    """
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    text = text.removeprefix(BYTE_ORDER_MARK)
    root = YAML(typ="safe", pure=True).compose(text)
    by_line: dict[int, list[tuple[str, New]]] = {}
    for each in new:
        name, value, is_alone = _place(root, each.path, text)
        by_line.setdefault(line_end(text, value_end(text, value)), []).append(
            ("" if is_alone else f"{name} ", each)
        )
    heads = {line_end(text, _pair(root, path)[0].end_mark.index): note for path, note in about.items()}
    for end in sorted({*by_line, *heads}, reverse=True):
        start = text.rfind("\n", 0, end) + 1
        line = text[start:end]
        line = _headed(line, heads[end]) if end in heads else _line(line, by_line[end], before)
        text = text[:start] + line + text[end:]
    return mark + text


def _headed(line: str, note: str) -> str:
    """Return the line of a section with what is said of all its values; what records said before makes way."""
    old = comment_in(line)
    bare = line[: line.rindex("#", 0, line.rindex(old))].rstrip() if old else line.rstrip()
    kept = "" if not old or old.startswith("records, ") else f"; {old}"
    return f"{bare}   # {note}{kept}"


def _line(line: str, here: Sequence[tuple[str, New]], before: nodes.Mapping) -> str:
    """Return a line with its comment saying whence its values are."""
    for who, each in here:
        old = comment_in(line)
        there = nodes.find(before, each.path)
        said = next_comment(" ".join(each.note.split()), who, None if there is None else flow(there), old)
        bare = line[: line.rindex("#", 0, line.rindex(old))] if old else line
        line = f"{bare}{'' if bare != bare.rstrip() else '  '}# {said}"
    return line


def _place(root: Any, path: Path, text: str) -> tuple[str, Any, bool]:
    """Return the last key on the way, its value, and whether its line says only that."""
    name, here = _pair(root, path)
    begin = name.start_mark.index
    return str(name.value), here, not text[text.rfind("\n", 0, begin) + 1 : begin].strip()


def _pair(root: Any, path: Path) -> tuple[Any, Any]:
    """Return the last key on the way, and its value."""
    here, name = root, None
    for key in path:
        name, here = next(pair for pair in here.value if pair[0].value == key)
    return name, here
