"""Sets some fields of a scenario file to new values and loads the result.

A field is a dotted path such as `cylinders.fleet`, `patients.adults.flow`, `power.grid.down.median` (the name of
the law may be left out), `resupply.road_closures[1].chance_per_day` or, by the name of a model,
`concentrators.units.ten.count`. Whatever is set goes through the loader as if it stood in the file, so that every
check holds and the hash tells the changed scenario apart.
"""

from __future__ import annotations

import dataclasses
import re
from codecs import BOM_UTF8
from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario.building.beside import Given
from o2sim.scenario.building.loading import of_tree, text_of
from o2sim.scenario.building.uncertain import resolved
from o2sim.scenario.changing.fleet_levels import STRATEGIES, Keys, listed_strategies, moves, said
from o2sim.scenario.changing.recorded_parts import check_recorded
from o2sim.scenario.changing.unit_rows import by_model, check_units, model_names, row_of, with_row
from o2sim.scenario.keys.fields import TOP, Section
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar, describe
from o2sim.scenario.text.problems import Problems, nearest, quote
from o2sim.scenario.text.short import short
from o2sim.scenario.text.source import BYTE_ORDER_MARK, flat
from o2sim.scenario.types.hospital import Scenario

_PLACE = re.compile(r"(?P<key>.*)\[(?P<place>[0-9]{1,4})\]")  # a place in a list, from 1


@dataclass(frozen=True)
class Original:
    """The values of a scenario file, read once and ready to be loaded with some of them changed."""

    root: Mapping
    file: str
    folder: Given | Path | None  # where CSV files it names lie; None for a text
    stem: str
    scenario: Scenario  # as it stands
    raw: Mapping | None = None  # root with its uncertain numbers as written; root has the likely ones
    text: str = field(default="", repr=False, compare=False)


@dataclass(frozen=True)
class Changed:
    """The tree of a file with changes in it, where these stand, and what errors call it."""

    root: Mapping
    set_there: tuple[Keys, ...]  # fields that were asked for
    levels: dict[Keys, str]  # levels that moved with the fleet, and what they became
    label: str

    @property
    def asked(self) -> set[str]:
        """Return the places that were asked for, dotted."""
        return set(map(".".join, self.set_there))

    def is_asked(self, field: str) -> bool:
        """Return whether a field was asked for, or lies in one that was."""
        return any(f"{field}.".startswith((f"{place}.", f"{place}[")) for place in self.asked)

    @property
    def values(self) -> dict[Keys, Node]:
        """Return all that is set, by its place."""
        found = {keys: find(self.root, keys) for keys in dict.fromkeys((*self.set_there, *self.levels))}
        return {keys: node for keys, node in found.items() if node is not None}


def original(path: str | Path | Scenario) -> Original:
    """Return the original in a file, or of a scenario that was loaded. Raises ScenarioError as scenario.load does.

    Raises O2simError for a scenario made by changing another, of which there is no text.
    """
    if isinstance(path, Scenario):
        if not path.text:
            raise O2simError(
                f"{path.file}: this scenario was made by changing another, so that its fields cannot be changed "
                "again; allowed: the file, or what load or loads gave"
            )
        return _original(path.text, Problems(path.file), path.beside, path.name)
    if not isinstance(path, str | Path):
        raise O2simError(f"found {type(path).__name__}; allowed: a scenario, or the path of its file")
    problems, file = Problems(str(path)), Path(path)
    source = _original(text_of(file, problems), problems, file.parent, file.stem)
    marked = file.read_bytes().startswith(BOM_UTF8)  # so that a copy of the file can begin as it does
    return dataclasses.replace(source, text=f"{BYTE_ORDER_MARK}{source.text}") if marked else source


def original_of(text: str, file: str = "<text>") -> Original:
    """Return the original in a text; file is its name in messages. Raises ScenarioError as scenario.loads does."""
    return _original(text, Problems(file), None, "scenario")


def _original(text: str, problems: Problems, folder: Given | Path | None, stem: str) -> Original:
    root = nodes.parse(text, problems)
    scenario = of_tree(root, problems, folder, stem)
    return Original(likely_root(root), problems.file, folder, stem, scenario, root, text)


def likely_root(root: Mapping) -> Mapping:
    """Return a tree that loads at the likely values of what is uncertain in it."""
    return resolved(root, Problems(""))[0]


def changed(
    source: Original, values: AnyMapping[str, str], strategy: str | None = None, *, move_levels: bool = False
) -> Changed:
    """Return the tree with fields set; values: texts as in the file, by path. Raises ScenarioError for no field.

    With a strategy its view alone is changed. Without one the change is for all: where a strategy states the field
    for itself, that is replaced too, since a change that some strategies ignore would not be seen to be one.
    move_levels: the levels of the reorder rule move with the fleet (see fleet_levels).
    """
    stated = ", ".join(f"{path} = {text}" for path, text in values.items())
    label = f"{source.file} with {stated}" if stated else source.file
    root, places = source.root, list[Keys]()
    for path, text in values.items():
        keys = split(root, path, label)
        value = value_node(text, path, label)
        for keys_there in places_of(root, keys, strategy):
            check_recorded(root, keys_there, path, label)
            check_units(root, keys_there, path, label)
            root = set_at(root, keys_there, value, label)
            places.append(_stated_as_whole(keys_there))
    moved = moves(source.root, root, set(map(".".join, places))) if move_levels else {}
    root = with_levels(root, moved)
    if moved:
        label = f"{label}, and with the fleet {said(moved)}"
    return Changed(root, tuple(places), moved, label)


def loaded(source: Original, there: Changed) -> Scenario:
    """Return the scenario in a tree with changes. Raises ScenarioError where it cannot be used."""
    scenario = of_tree(there.root, Problems(there.label), source.folder, source.stem)
    return dataclasses.replace(scenario, file=source.file)


def with_levels(root: Mapping, levels: AnyMapping[Keys, str]) -> Mapping:
    """Return the tree with levels of the reorder rule set."""
    for keys, text in levels.items():
        root = nodes.put(root, keys, Scalar(0, ".".join(keys), text))
    return root


def stated(source: Original, path: str, strategy: str) -> str | None:
    """Return what the file says at a path for a strategy, as written; None where it is left to a default."""
    keys = split(source.root, path, source.file)
    for where in (_own(strategy, keys), keys):
        node = find(source.root, where)
        if node is not None:
            return flat(node)
    return None


def split(root: Mapping, path: str, label: str) -> list[str]:
    """Return the keys of a dotted path; names of classes and strategies may hold dots and blanks themselves."""
    keys: list[str] = []
    node: Node | None = root
    rest = path.strip()
    while rest:
        entries = node.entries if isinstance(node, Mapping) else {}
        names = model_names(root, keys) if by_model([*keys, ""]) else list(entries)
        known = [key for key in names if rest == key or rest.startswith((f"{key}.", f"{key}["))]
        key = max(known, key=len) if known else re.split(r"\.", rest, maxsplit=1)[0].split("[")[0]
        rest = rest[len(key) :]
        node = row_of(node, key) if isinstance(node, Listing) else entries.get(key)
        while found := re.match(r"\[[0-9]{1,4}\]", rest):
            key, rest = key + found[0], rest[found.end() :]
            node = _at_place(node, found[0])
        if not key or (rest and not rest.startswith(".")) or rest == ".":
            raise _refusal(label, path, f"found the field {quote(path)}", "a dotted path such as cylinders.fleet")
        keys.append(key)
        rest = rest[1:]
        node = _inside_law(node, rest)
    if not keys:
        raise _refusal(label, "", "found no field", "a dotted path such as cylinders.fleet")
    _check_beginning(root, keys, path, label)
    return keys


def _check_beginning(root: Mapping, keys: Sequence[str], path: str, label: str) -> None:
    """Refuse a path that begins with no section of a scenario, or with a strategy that is not in the file."""
    if keys[0] not in TOP.names:
        hint = nearest(keys[0], TOP.names)
        raise _refusal(label, path, f"the key {quote(keys[0])} is unknown", ", ".join(TOP.names), hint)
    known = listed_strategies(root)
    if keys[0] == STRATEGIES and (len(keys) < 3 or keys[1] not in known):
        name = keys[1] if len(keys) > 1 else ""
        allowed = f"strategies.NAME.FIELD, NAME one of those in the file: {', '.join(known) or 'none'}"
        raise _refusal(label, path, f"found the strategy {quote(name)}", allowed, nearest(name, known))


def places_of(root: Mapping, keys: Sequence[str], strategy: str | None) -> list[list[str]]:
    """Return where a value has to be set to be seen by one strategy, or by all."""
    names = listed_strategies(root)
    if keys[0] == STRATEGIES:
        return [list(keys)]
    if strategy is not None and strategy in names:
        return [_own(strategy, keys)]
    own = [_own(name, keys) for name in names]
    return [list(keys), *(each for each in own if find(root, each[: _sections(each)]) is not None)]


def _own(strategy: str, keys: Sequence[str]) -> list[str]:
    return [STRATEGIES, strategy, *keys]


def _stated_as_whole(keys: Sequence[str]) -> Keys:
    """Return where the field stands that a value lies in; of a place in a list, the list."""
    *above, last = keys[: _sections(keys)]
    place = _PLACE.fullmatch(last)
    return (*above, place["key"] if place else last)


def _sections(keys: Sequence[str]) -> int:
    """Return how many keys lead down to the first value that is not a section: the rest lies in a law or list."""
    section: Section | None = TOP
    named = False
    for place, key in enumerate(keys):
        if named:  # this key is the name of a class or a strategy
            named = False
            continue
        field = section.field(key) if section is not None else None
        if field is None or field.kind not in ("section", "named sections"):
            return place + 1
        section, named = field.section, field.kind == "named sections"
    return len(keys)


def set_at(root: Mapping, keys: list[str], value: Node, label: str) -> Mapping:
    """Return the tree with a value at the keys; a law or list that a strategy shares with all becomes its own."""
    depth = _sections(keys)
    outer, inner = keys[:depth], keys[depth:]
    place = _PLACE.fullmatch(outer[-1])
    if place is not None:
        outer, inner = [*outer[:-1], place["key"]], [f"[{place['place']}]", *inner]
    if inner:
        whole = find(root, outer)
        if whole is None and outer[0] == STRATEGIES:
            whole = find(root, outer[2:])
        if by_model(keys) and place is None:
            value = with_row(root, keys, whole, value, label)
        else:
            value = _within(whole, inner, value, label)
    return nodes.put(root, outer, nodes.moved(value, ".".join(outer)))


def _within(node: Node | None, keys: list[str], value: Node, label: str) -> Node:
    """Return a law or list with a value at the keys inside it."""
    if not keys:
        return value
    key, rest = keys[0], keys[1:]
    place = re.fullmatch(r"\[([0-9]+)\]", key)
    if place is not None and isinstance(node, Listing) and 1 <= int(place[1]) <= len(node.items):
        items = list(node.items)
        items[int(place[1]) - 1] = _within(items[int(place[1]) - 1], rest, value, label)
        return Listing(node.line, node.path, items)
    if place is None and isinstance(node, Mapping):
        law = _law_of(node, key)
        if law is not None:
            return Mapping(node.line, node.path, {law: _within(node.entries[law], keys, value, label)})
        return Mapping(
            node.line, node.path, {**node.entries, key: _within(node.entries.get(key), rest, value, label)}
        )
    found = "nothing" if node is None else describe(node)
    where = node.path if node is not None else key
    hint = "for a law write it whole, such as {gamma: {mean: 4 days, sd: 2 days}}" if place is None else ""
    raise _refusal(label, where, f"found {found}, in which there is no {key}", "a field that is there", hint)


def find(root: Node | None, keys: Sequence[str]) -> Node | None:
    """Return the node at the keys, the name of a law left out or not; None where there is none."""
    node = root
    for key in keys:
        place = _PLACE.fullmatch(key)
        plain = place["key"] if place else key
        if plain:
            if isinstance(node, Mapping) and plain not in node.entries:
                node = _inside_law(node, plain)
            if isinstance(node, Listing):
                node = row_of(node, plain)
            else:
                node = node.entries.get(plain) if isinstance(node, Mapping) else None
        if place is not None:
            node = _at_place(node, f"[{place['place']}]")
    return node


def _law_of(node: Mapping, key: str) -> str | None:
    """Return the only key of a mapping where it is a law's name and `key` is meant inside it."""
    if len(node.entries) == 1 and key not in node.entries:
        ((name, child),) = node.entries.items()
        return name if isinstance(child, Mapping) else None
    return None


def _inside_law(node: Node | None, rest: str) -> Node | None:
    """Return the parameters of a law where the next key is meant among them, else the node."""
    key = rest.split(".", 1)[0].split("[", 1)[0]
    if isinstance(node, Mapping) and key:
        law = _law_of(node, key)
        child = node.entries[law] if law is not None else None
        if isinstance(child, Mapping) and key in child.entries:
            return child
    return node


def _at_place(node: Node | None, place: str) -> Node | None:
    number = int(place.strip("[]"))
    return node.items[number - 1] if isinstance(node, Listing) and 1 <= number <= len(node.items) else None


def value_node(text: str, path: str, label: str) -> Node:
    """Return the node of a value as it might stand behind a key."""
    if not text.strip() or "\n" in text:
        found = quote(text.strip()) if text.strip() else "no value"
        raise _refusal(label, path, f"found {found}", "one value, such as 4 h")
    plain = short(text.strip(), "value")
    if plain is not None:
        return plain
    problems = Problems(label)
    node = nodes.parse(f"value: {text.strip()}\n", problems).entries["value"]
    problems.stop()  # aliases, tags and the like
    return node


def _refusal(label: str, field: str, found: str, allowed: str, hint: str = "") -> ScenarioError:
    return ScenarioError([Problem(label, 0, field, found, allowed, hint)])
