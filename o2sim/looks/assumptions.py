"""Every assumption of a scenario, by its source and the table of fields: its value, and where that comes from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from o2sim.scenario.keys.fields import CHANGEABLE, SOURCES, TOP, Field, Section
from o2sim.scenario.text.nodes import Listing, Mapping, Node
from o2sim.scenario.text.source import Source, flat
from o2sim.scenario.types.units import MODEL

FOLLOWS = "as follows"
STATED = "stated, without a source"
WHOSE = TOP.field("figures")  # a statement of the author, for which there is no source to ask


@dataclass(frozen=True)
class Assumption:
    """One key: its dotted path, its value as a text, where that comes from, and what the key means."""

    path: str
    value: str
    origin: str
    meaning: str

    @property
    def is_heading(self) -> bool:
        """Return True for a section, whose value is the keys within it."""
        return self.value == FOLLOWS


def assumptions(source: Source) -> dict[str, list[Assumption]]:
    """Return the assumptions of the scenario by part: an empty text for what stands alone, else the section."""
    found: dict[str, list[Assumption]] = {"": []}
    for item in TOP.fields:
        if item.name != "strategies":
            rows = list(_key(source, item, source.root.entries.get(item.name), item.name))
            found.setdefault("" if item.section is None or len(rows) == 1 else item.name, []).extend(rows)
    return found


def changes(source: Source) -> dict[str, list[Assumption]]:
    """Return what each strategy of a file states: its sources and its changes, a new section in full."""
    listed = source.root.entries.get("strategies")
    if not isinstance(listed, Mapping):
        return {}
    return {
        name: list(_changes(source, change, source.root, (SOURCES, *CHANGEABLE), f"strategies.{name}."))
        for name, change in listed.entries.items()
        if isinstance(change, Mapping)
    }


def _changes(
    source: Source, change: Mapping, base: Mapping, fields: tuple[Field, ...], path: str
) -> Iterator[Assumption]:
    """Yield what a change states, down to single keys where the scenario has the section already."""
    for item in fields:
        node, before = change.entries.get(item.name), base.entries.get(item.name)
        here = f"{path}{item.name}"
        if node is None:
            continue
        if item.section is None or not isinstance(node, Mapping) or not isinstance(before, Mapping):
            yield from _key(source, item, node, here)
        elif item.kind == "named sections":
            for name, child in node.entries.items():
                inner = before.entries.get(name)
                if isinstance(child, Mapping) and isinstance(inner, Mapping):
                    yield from _changes(source, child, inner, item.section.fields, f"{here}.{name}.")
        else:
            yield from _changes(source, node, before, item.section.fields, f"{here}.")


def _key(source: Source, item: Field, node: Node | None, path: str) -> Iterator[Assumption]:
    """Yield a key and all keys within it."""
    if node is None:
        yield Assumption(path, *_left_out(item), item.help)
        if item.kind == "section" and item.section is not None and not item.otherwise:
            yield from _section(source, item.section, Mapping(0, path), f"{path}.")
    elif item.section is None or not isinstance(node, Mapping | Listing):
        unsaid = "" if item.kind == "text" or item is WHOSE else STATED
        yield Assumption(path, flat(node), source.comment(node) or unsaid, item.help)
    else:
        yield Assumption(path, FOLLOWS, source.comment(node), item.help)
        for name, child in _parts(item, node):
            yield from _section(source, item.section, child, f"{path}{name}.")


def _left_out(item: Field) -> tuple[str, str]:
    """Return the value and the origin of a key that the file does not state."""
    if item.default is not None:
        return item.default or "nothing", f"default: {item.mark}" if item.mark else "default"
    if item.otherwise:
        return item.otherwise, f"left out ({item.mark})" if item.mark else "left out"
    return FOLLOWS if item.section else "nothing", "left out"


def _parts(item: Field, node: Mapping | Listing) -> Iterator[tuple[str, Mapping]]:
    """Yield (name to add to the path, mapping) for each mapping of keys that a section holds."""
    if isinstance(node, Mapping) and item.kind != "named sections":
        yield "", node
        return
    named = (
        ((f"[{place}]", child) for place, child in enumerate(node.items, 1))
        if isinstance(node, Listing)
        else ((f".{name}", child) for name, child in node.entries.items())
    )
    yield from ((name, child) for name, child in named if isinstance(child, Mapping))


def _of_every_model(node: Mapping) -> set[str]:
    """Return the keys that every model within a section states; none without models."""
    models = node.entries.get("models")
    named = models.entries.values() if isinstance(models, Mapping) else ()
    stated = [set(each.entries) for each in named if isinstance(each, Mapping)]
    return set.intersection(*stated) if stated else set()


def _section(source: Source, section: Section, node: Mapping, path: str) -> Iterator[Assumption]:
    """Yield the keys of one mapping; those that another one stated there stands in for are passed over.

    A model of concentrators has what holds for all models where it states nothing, and they what no model states.
    """
    replaced = {name for stated, names in section.instead if stated in node.entries for name in names}
    replaced |= set(MODEL.names) if section is MODEL else _of_every_model(node)
    for item in section.fields:
        child = node.entries.get(item.name)
        if child is not None or item.name not in replaced:
            yield from _key(source, item, child, f"{path}{item.name}")
