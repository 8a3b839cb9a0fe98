"""The `options` section of a file in, a Hospital for each combination of its choices out.

An option is the strategy named by `of` with one choice of each row of `vary` laid over it, exactly as a strategy
lays its changes over the scenario. A row is a dotted key with a list of values, or a name with named sets of
changes, for keys that must move together.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from o2sim.scenario.building.reader import LONGEST_NAME, Reader
from o2sim.scenario.building.strategies import changed, option_hospital, strategy_changes
from o2sim.scenario.keys.field import Field, Section
from o2sim.scenario.keys.fields import STRATEGY, TOP
from o2sim.scenario.text.nodes import Listing, Mapping, Node, describe
from o2sim.scenario.text.problems import Problems, nearest, quote
from o2sim.scenario.text.source import flat
from o2sim.scenario.types.hospital import General, Hospital, Options

MOST_OPTIONS = 200


@dataclass(frozen=True)
class _Choice:
    """One choice of a row: how it is named, and the change it makes."""

    label: str
    change: Mapping


def read_options(reader: Reader, root: Mapping, general: General) -> Options | None:
    """Return the options of a file, None where it has none or they are refused; problems are noted on the way."""
    node = root.entries.get("options")
    if node is None:
        return None
    field = TOP.field("options")
    assert field is not None
    assert field.section is not None
    if not isinstance(node, Mapping):
        reader.problems.add(node, f"found {describe(node)}", "a mapping of of and vary")
        return None
    values = reader.section(node, field.section)
    if not values.has("of", "vary"):
        return None
    strategies = strategy_changes(reader, root)
    if values["of"] not in strategies:
        hint = nearest(values["of"], strategies)
        found = f"no strategy is named {quote(values['of'])}"
        reader.problems.add(values.at("of"), found, f"one of {', '.join(strategies)}", hint)
        return None
    rows = _rows(reader.problems, values["vary"])
    if rows is None:
        return None
    return _options(reader, root, general, (str(values["of"]), strategies[values["of"]]), rows)


def _options(
    reader: Reader,
    root: Mapping,
    general: General,
    base: tuple[str, Mapping],
    rows: dict[str, list[_Choice]],
) -> Options | None:
    combinations = list(product(*rows.values()))
    names = _names(list(rows), combinations)
    hospitals: dict[str, Hospital] = {}
    for name, choices in zip(names, combinations, strict=True):
        change = base[1]
        for choice in choices:
            change = changed(reader.problems, change, choice.change)
        hospital = option_hospital(reader, root, general, name, change)
        if hospital is not None:
            hospitals[name] = hospital
        elif reader.problems.full:
            break
    if len(hospitals) < len(names):
        assert len(reader.problems)  # none is left out unsaid
        return None
    stated = {
        name: tuple(choice.label for choice in choices) for name, choices in zip(names, combinations, strict=True)
    }
    return Options(base[0], tuple(rows), stated, hospitals)


def _rows(problems: Problems, vary: Mapping) -> dict[str, list[_Choice]] | None:
    """Return the choices of each row, None where one is refused."""
    rows: dict[str, list[_Choice]] = {}
    before = len(problems)
    for key, node in vary.entries.items():
        if isinstance(node, Listing) and node.items:
            rows[key] = _values(problems, key, node)
        elif isinstance(node, Mapping) and node.entries:
            rows[key] = [_Choice(name, each) for name, each in _named(problems, node)]
        else:
            allowed = "a list of values such as [20, 40], or names, each with its changes"
            problems.add(node, f"found {describe(node)}", allowed)
    count = 1
    for choices in rows.values():
        count *= len(choices)
    if count > MOST_OPTIONS:
        hint = "leave out values, or vary fewer keys at once"
        problems.add(vary, f"found {count:,} combinations", f"at most {MOST_OPTIONS}", hint)
    return rows if len(problems) == before else None


def _values(problems: Problems, key: str, node: Listing) -> list[_Choice]:
    """Return a choice for each value of a dotted key."""
    parts = key.split(".")
    known = [name for name in STRATEGY.names if name != "sources"]
    field = _field(STRATEGY, parts)
    if parts[0] not in known or (field is None and len(parts) > 1):
        hint = nearest(parts[0], known) if parts[0] not in known else _near(parts)
        problems.add(node, f"the key {quote(key)} is unknown", "a dotted key such as cylinders.fleet", hint)
        return []
    labels = [flat(item) for item in node.items]
    for place, label in enumerate(labels):
        if label in labels[:place]:
            problems.add(node.items[place], f"found {quote(label)} a second time", "each value once")
    return [
        _Choice(label, _inside(parts, item, node.line)) for label, item in zip(labels, node.items, strict=True)
    ]


def _field(section: Section, parts: list[str]) -> Field | None:
    """Return the field that a dotted key names; below the name of a class it is one of the class's."""
    field = section.field(parts[0])
    rest = parts[1:]
    if field is not None and field.kind == "named sections":
        rest = rest[1:]
        return None if not rest else _field(field.section, rest) if field.section else None
    if field is None or not rest:
        return field
    return _field(field.section, rest) if field.section is not None and field.kind == "section" else None


def _near(parts: list[str]) -> str:
    above = _field(STRATEGY, parts[:-1])
    return nearest(parts[-1], above.section.names) if above is not None and above.section is not None else ""


def _inside(parts: list[str], value: Node, line: int) -> Mapping:
    """Return a mapping that holds a value at a dotted key."""
    node = value
    for part in reversed(parts):
        node = Mapping(line, value.path, {part: node})
    assert isinstance(node, Mapping)
    return node


def _named(problems: Problems, node: Mapping) -> list[tuple[str, Mapping]]:
    """Return the named sets of changes of a row."""
    found = []
    for name, each in node.entries.items():
        if len(name) > LONGEST_NAME or not name.isprintable():
            problems.add(each, "the name cannot be used", f"{LONGEST_NAME} printable characters")
        elif isinstance(each, Mapping) and "sources" not in each.entries:
            unknown = [key for key in each.entries if key not in STRATEGY.names]
            for key in unknown:
                hint = nearest(key, STRATEGY.names)
                problems.add(each.entries[key], f"the key {quote(key)} is unknown", "a key of a strategy", hint)
            found.append((name, each))
        else:
            allowed = "changes such as {cylinders: {fleet: 40}}, without sources"
            problems.add(each, f"found {describe(each)}", allowed)
    return found


def _names(keys: list[str], combinations: list[tuple[_Choice, ...]]) -> list[str]:
    """Return a name for each option: what is chosen, or its number where that would be too long."""
    short = [short_key(key, keys) for key in keys]
    names = [
        ", ".join(f"{key} {choice.label}" for key, choice in zip(short, choices, strict=True))
        for choices in combinations
    ]
    plain = all(len(name) <= LONGEST_NAME and name.isprintable() for name in names)
    return names if plain and len(set(names)) == len(names) else [f"option {n}" for n in range(1, len(names) + 1)]


def short_key(key: str, keys: list[str]) -> str:
    """Return the last word of a dotted key, the one before it for a count; the whole where that is unclear."""

    def last(each: str) -> str:
        parts = each.split(".")
        word = parts[-2] if parts[-1] == "count" and len(parts) > 1 else parts[-1]
        return word.replace("_", " ")

    return last(key) if [last(each) for each in keys].count(last(key)) == 1 else key
