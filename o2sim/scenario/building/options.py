"""Builds a Hospital for each combination of choices in the `options` section of a file.

An option is the strategy named by `of` with one choice of each row of `vary` laid over it, exactly as a strategy
lays its changes over the scenario. A row is a dotted key with a list of values, or a name with named sets of
changes, for keys that must move together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from o2sim.scenario.building.reader import Reader, is_name
from o2sim.scenario.building.strategies import hospital_under, merge, sources_of, strategy_changes
from o2sim.scenario.keys.field import Field, Section
from o2sim.scenario.keys.fields import STRATEGY
from o2sim.scenario.keys.record import section_of
from o2sim.scenario.text.nodes import Listing, Mapping, Node, describe
from o2sim.scenario.text.problems import Problems, nearest, quote
from o2sim.scenario.text.source import flat
from o2sim.scenario.types.hospital import General, Hospital, Options

MOST_OPTIONS = 200
AS_IT_IS = "as it is"  # an option that changes nothing


@dataclass(frozen=True)
class _Choice:
    """One choice of a row: how it is named, and the change it makes."""

    label: str
    change: Mapping


def read_options(reader: Reader, root: Mapping, general: General) -> Options | None:
    """Return the options of a file, None where it has none or they are refused; problems are noted on the way."""
    node, section = root.entries.get("options"), section_of(Options)
    if node is None:
        return None
    if not isinstance(node, Mapping):
        reader.problems.add(node, f"found {describe(node)}", "a mapping of of and vary")
        return None
    values = reader.section(node, section)
    if not values.sound:
        return None
    of, strategies = values["of"], strategy_changes(reader, root)
    if of not in strategies:
        found = f"no strategy is named {quote(of)}"
        reader.problems.add(values.at("of"), found, f"one of {', '.join(strategies)}", nearest(of, strategies))
        return None
    rows = _rows(reader, values["vary"])
    if rows is None:
        return None
    combinations = list(product(*rows.values()))
    labels = [tuple(choice.label for choice in choices) for choices in combinations]
    names = option_names(list(rows), labels)
    hospitals: dict[str, Hospital] = {}
    for name, choices in zip(names, combinations, strict=True):
        change = strategies[of]
        for choice in choices:
            change = merge(reader.problems, change, choice.change)
        hospital = hospital_under(reader, root, general, name, change, sources_of(reader, root, change))
        if hospital is not None:
            hospitals[name] = hospital
        elif reader.problems.full:
            break
    if len(hospitals) < len(names):
        return None
    return Options(of, tuple(rows), dict(zip(names, labels, strict=True)), hospitals)


def _rows(reader: Reader, vary: Mapping) -> dict[str, list[_Choice]] | None:
    """Return the choices of each row, None where one is refused."""
    rows: dict[str, list[_Choice]] = {}
    problems = reader.problems
    before = len(problems)
    for key, node in vary.entries.items():
        if isinstance(node, Listing) and node.items:
            rows[key] = _values(problems, key, node)
        elif isinstance(node, Mapping) and node.entries:
            rows[key] = _named(reader, node)
        else:
            allowed = "a list of values such as [20, 40], or names, each with its changes"
            problems.add(node, f"found {describe(node)}", allowed)
    count = math.prod(map(len, rows.values()))
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
    choices: list[_Choice] = []
    for item in node.items:
        choice = _Choice(flat(item), _inside(parts, item, node.line))
        if choice.label in [each.label for each in choices]:
            problems.add(item, f"found {quote(choice.label)} a second time", "each value once")
        choices.append(choice)
    return choices


def _inside(keys: Sequence[str], value: Node, line: int) -> Mapping:
    """Return a mapping that holds a value some keys deep, all of it at the value's place."""
    key, *deeper = keys
    return Mapping(line, value.path, {key: _inside(deeper, value, line) if deeper else value})


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


def _named(reader: Reader, node: Mapping) -> list[_Choice]:
    """Return the named sets of changes of a row."""
    found, add = [], reader.problems.add
    for name, each in node.entries.items():
        if not reader.fits_as_name(name, each):
            continue
        if not isinstance(each, Mapping) or "sources" in each.entries:
            allowed = "changes such as {cylinders: {fleet: 40}}, without sources"
            add(each, f"found {describe(each)}", allowed)
            continue
        for key in each.entries:
            if key not in STRATEGY.names:
                hint = nearest(key, STRATEGY.names)
                add(each.entries[key], f"the key {quote(key)} is unknown", "a key of a strategy", hint)
        found.append(_Choice(name, each))
    return found


def option_names(keys: Sequence[str], choices: Sequence[Sequence[str]]) -> list[str]:
    """Return a name for each option: what is chosen, or its number where that would be too long.

    choices: what each option takes of each key, an empty text for nothing.
    """
    short = [_last_word(key) for key in keys]
    short = [word if short.count(word) == 1 else key for word, key in zip(short, keys, strict=True)]
    names = [
        ", ".join(f"{key} {choice}" for key, choice in zip(short, each, strict=True) if choice) or AS_IT_IS
        for each in choices
    ]
    if all(map(is_name, names)) and len(set(names)) == len(names):
        return names
    return [f"option {number}" for number in range(1, len(names) + 1)]


def _last_word(key: str) -> str:
    """Return the last word of a dotted key, the one before it for a count."""
    *above, last = key.split(".")
    return (above[-1] if above and last == "count" else last).replace("_", " ")
