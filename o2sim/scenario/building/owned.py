"""What the facility owns already, gathered from the keys beside each count; no more than there are to be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import Node
from o2sim.scenario.types.listed import BY_KEY, Stated
from o2sim.scenario.types.owned import AGE, OWNED, Owned
from o2sim.scenario.types.units import Concentrators

_OF_A_LAYER = ("strategies.", "options.")


@dataclass(frozen=True)
class Place:
    """Where a scenario says that it owns an item: the section, what stands before `owned` in its keys.

    count: the key of how many there are to be, "" for a single thing; many: the number of them, of the built part.
    like: a key that says the age where `owned_age` does not.
    """

    item: str
    section: str
    before: str
    count: str
    many: Callable[[Any], int]
    like: str = ""

    @property
    def path(self) -> str:
        """Return the dotted path of the key."""
        return f"{self.section}.{self.before}{OWNED}"


def _counted(units: Concentrators, name: str) -> int:
    """Return how many units have what a field says, such as a monitor."""
    has = (group.count for group in units.groups if getattr(group.rules, name) not in (None, False))
    return sum(has)


PLACES = (  # items as in o2sim/money/cost.py
    Place("cylinders", "cylinders", "", "fleet", lambda part: part.fleet),
    Place("regulators", "cylinders", "regulators_", "regulators", lambda part: part.regulators),
    Place("splitters", "cylinders.splitters", "", "count", lambda part: part.count),
    Place("manifold", "manifold", "", "", lambda _: 1),
    Place("concentrators", "concentrators", "", "count", lambda part: part.count),
    Place("oxygen monitors", "concentrators", "monitors_", "count", lambda part: _counted(part, "oxygen_monitor")),
    Place("analyser", "concentrators", "analyser_", "", lambda part: int(_counted(part, "analyser_check_s") > 0)),
    Place("generator", "power.generator", "", "", lambda _: 1),
    Place("battery", "power.battery", "", "", lambda _: 1, like="age"),
    Place("solar panels", "power.solar", "", "", lambda _: 1),
    Place("stabiliser", "power", "stabiliser_", "", lambda part: int(part.stabiliser)),
    Place("humidifiers", "bedside", "humidifiers_", "humidifiers", lambda part: part.humidifiers or 0),
    Place("oximeters", "noticed.by_oximeter", "", "count", lambda part: part.count),
)


def owned(setting: Setting) -> tuple[Owned, ...]:
    """Return what is there already by item; what does not fit is noted."""
    found = [each for place in PLACES for each in _at(setting, place)]
    return (
        *found,
        *_of_units(setting),
        *_of_sizes(setting),
        *_of_sets(setting),
        *_of_lines(setting.hospital.data.get("equipment")),
    )


def lines_stated(values: Values) -> tuple[Stated, ...]:
    """Return how many a scenario says there are to be of lines of the list."""
    stated = ((name, each.get("count")) for name, each in values.whole.items() if each is not None)
    return tuple(Stated(name, count) for name, count in stated if count is not None)


def _at(setting: Setting, place: Place) -> Iterator[Owned]:
    """Yield what is owned of an item, nothing where the strategy has no such section."""
    values, part = _section(setting, place.section.split("."))
    if values is None or part is None:
        return
    keys = place.before + OWNED, place.before + AGE
    number, age_s = (values.data.get(name) for name in keys)
    if age_s and not number:
        values.fault(
            keys[1], f"{keys[1]}, but no {keys[0]}", "both together", f"state {keys[0]}, how many are there"
        )
    if age_s is None and place.like and values.has(keys[1]):
        age_s = values.data.get(place.like) or 0
    if not number or age_s is None:
        return
    if place.item == "regulators" and values.states("regulator_sets"):
        hint = "say in each kind of set how many are owned"
        values.fault(keys[0], f"{keys[0]} beside regulator_sets", "one of them", hint)
    there = place.many(part)
    if not there and place.before:
        return  # this strategy has none of them: checks/owned.py says so where no strategy has
    if number > there and not _lowered(values, keys[0], place.count):
        values.fault(
            keys[0], f"{number} {place.item} owned of {there}", f"owned of at most {place.count}",
            f"{there} are to be there in all: raise {place.count}, or lower {keys[0]}",
        )  # fmt: skip
    yield Owned(place.item, int(number), age_s)


def _section(setting: Setting, path: Sequence[str]) -> tuple[Values | None, Any]:
    """Return the values of a section and what was built of it, None for what is not there or was refused."""
    values, part = setting.hospital, setting.parts.get(path[0])
    for name in path:
        found = values.data.get(name)
        if not isinstance(found, Values):
            return None, None
        values = found
    for name in path[1:]:
        part = getattr(part, name, None)
    return values, part


def _lowered(values: Values, owned_key: str, count_key: str) -> bool:
    """Return True where a strategy, an option or a change needs fewer than the scenario has in the yard."""
    entries = values.node.entries
    count, number = entries.get(count_key), entries.get(owned_key)
    if count is None or number is None or _is_of_a_layer(number):
        return False
    return _is_of_a_layer(count) or (_is_change(count) and not _is_change(number))


def _is_change(node: Node) -> bool:
    return node.line == 0 or _is_of_a_layer(node)


def _is_of_a_layer(node: Node) -> bool:
    return node.path.startswith(_OF_A_LAYER)


def _of_units(setting: Setting) -> Iterator[Owned]:
    """Yield the owned concentrators of each entry of `units`; on a running clock an age is their running time."""
    units = setting.parts.get("concentrators")
    for group in units.listed if units is not None else ():
        if group.owned:
            yield Owned("concentrators", group.count, group.age_s)


def _of_sets(setting: Setting) -> Iterator[Owned]:
    """Yield the owned regulators of each kind of set."""
    stock = setting.hospital.data.get("cylinders")
    sets = stock.data.get("regulator_sets") if isinstance(stock, Values) else None
    for values in sets or ():
        number, count, age_s = (values.data.get(name) for name in (OWNED, "count", AGE))
        if None in (number, count, age_s):
            continue
        if number > count:
            values.fault(OWNED, f"{number} owned of {count}", "owned of at most count")
        if number:
            yield Owned("regulators", number, age_s)


def _of_sizes(setting: Setting) -> Iterator[Owned]:
    """Yield the owned cylinders of each size."""
    stock = setting.hospital.data.get("cylinders")
    for name, values in (stock.data.get("sizes") or {}).items() if isinstance(stock, Values) else ():
        number, age_s, fleet = (values.data.get(key) for key in (OWNED, AGE, "fleet"))
        if age_s and not number:
            values.fault(AGE, f"{AGE}, but no {OWNED}", "both together", f"state {OWNED}, how many are there")
        if not number or age_s is None or fleet is None:
            continue
        if number > fleet and not _lowered(values, OWNED, "fleet"):
            values.fault(OWNED, f"{number} owned of {fleet}", "owned of at most fleet")
        yield Owned("cylinders", number, age_s, name)


def _of_lines(lines: Values | None) -> Iterator[Owned]:
    """Yield what is owned of the lines of the list, by the item of the costs."""
    for name, values in lines.data.items() if lines is not None else ():
        number = values.data.get(OWNED) if values is not None else None
        if not number:
            continue
        count = values.data.get("count")
        if count is not None and number > count and not _lowered(values, OWNED, "count"):
            values.fault(OWNED, f"{number} owned of {count}", "owned of at most count")
        yield Owned(BY_KEY[name].item, number, values.data.get(AGE, 0))
