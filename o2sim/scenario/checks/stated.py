"""The values that a file states, by their keys, and what one text at a key is read as."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from o2sim.quantities import units
from o2sim.scenario.building.beside import Given
from o2sim.scenario.building.reader import Reader
from o2sim.scenario.building.uncertain import FORM, is_range
from o2sim.scenario.building.values import Money
from o2sim.scenario.keys.field import MONEY_PER, Field, Section
from o2sim.scenario.keys.fields import STRATEGY, TOP
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.text.source import flat
from o2sim.scenario.types.laws import Law

Value = float | Law


@dataclass(frozen=True)
class Stated:
    """One value of a file. pattern: its key as in the tables, `*` for a name, `[]` for a place in a list.

    beside: what else the section says.
    """

    pattern: str
    field: Field
    node: Node
    beside: Mapping

    @property
    def name(self) -> str:
        """Return the key alone."""
        return self.field.name

    @property
    def text(self) -> str:
        """Return the value in one line, as it may stand behind the key."""
        return one_line(self.node)


def one_line(node: Node) -> str:
    """Return a value as it may stand behind a key."""
    return f"{{{flat(node)}}}" if isinstance(node, Mapping) else flat(node)


def stated(root: Mapping) -> Iterator[Stated]:
    """Yield every value that a tree states at a known key: of the scenario, then of each strategy."""
    yield from _in_section(root, TOP, "")
    strategies = root.entries.get("strategies")
    if isinstance(strategies, Mapping):
        for each in strategies.entries.values():
            if isinstance(each, Mapping):
                yield from _in_section(each, STRATEGY, "")


def _in_section(node: Mapping, section: Section, above: str) -> Iterator[Stated]:
    for key, child in node.entries.items():
        field = section.field(key)
        if field is None or field.name in ("strategies", "options"):
            continue
        pattern, inside = f"{above}{key}", field.section
        if inside is None or field.kind == "register":
            yield Stated(pattern, field, child, node)
        elif field.kind == "section" and isinstance(child, Mapping):
            yield from _in_section(child, inside, f"{pattern}.")
        else:
            mark = ".*." if field.kind == "named sections" else "[]."
            children = child.items if isinstance(child, Listing) else list(getattr(child, "entries", {}).values())
            for each in children:
                if isinstance(each, Mapping):
                    yield from _in_section(each, inside, f"{pattern}{mark}")


def values_of(node: Node, field: Field, folder: Given | Path | None = None) -> list[Value]:
    """Return what a value is read as, in internal units: three of an uncertain number, none where it is refused.

    Of a law with uncertain parameters it is the law at the likely ones. Words such as `never` are no value.
    """
    if is_range(node) and isinstance(node, Mapping):
        return [value for end in FORM if end in node.entries for value in values_of(node.entries[end], field)]
    if isinstance(node, Scalar) and node.text.strip() in dict(field.words):
        return []
    reader = Reader(Problems(""), folder)
    found: object = None
    with contextlib.suppress(RefusedError):
        found = reader.fields(Mapping(0, "", {field.name: _likely(node)}), (field,)).data.get(field.name)
    found = found.amount if isinstance(found, Money) else found
    if len(reader.problems) or isinstance(found, bool) or not isinstance(found, int | float | Law):
        return []
    return [found]


def _likely(node: Node) -> Node:
    """Return a law with its likely values in place of uncertain ones."""
    if not isinstance(node, Mapping):
        return node
    if is_range(node) and set(node.entries) == set(FORM):
        return node.entries["likely"]
    return Mapping(node.line, node.path, {key: _likely(child) for key, child in node.entries.items()})


def limit(text: str, field: Field) -> float:
    """Return one end of a usual range in the internal unit of a key."""
    plain = field.kind.removeprefix("law of ")
    if plain == "whole":
        return float(text)
    if plain in MONEY_PER:
        return units.read_money(text, MONEY_PER[plain])[0]
    if plain == "fuel rate":
        return 60 * units.read(text, "flow")
    return units.read(text, plain)  # type: ignore[arg-type]
