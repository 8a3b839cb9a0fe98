"""Slips of the pen: numbers outside the usual range, with the likely cause and what to write."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from o2sim.errors import Problem
from o2sim.quantities.units import format_duration
from o2sim.scenario.checks.stated import Stated, Value, limit, one_line, stated, values_of
from o2sim.scenario.keys.field import Field
from o2sim.scenario.keys.usual import MONEY_OF_RANGES, THREE_DECIMALS, USUAL, Usual
from o2sim.scenario.text.nodes import Mapping, Node, Scalar, walk
from o2sim.scenario.types.hospital import Scenario
from o2sim.scenario.types.laws import Law, law_high, law_maximum, law_mean, law_minimum

_NUMBER = re.compile(r"(?P<number>[+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(?P<unit>.*)")
_THOUSANDS = re.compile(r"(?P<whole>[1-9][0-9]{0,2})\.(?P<rest>[0-9]{3})(?![0-9.eE])")
_ROUNDING = 1e-9  # a limit met exactly is within, whatever the last bit of a float says
_CURRENCY = re.compile(r"\b[A-Z]{3}\b")
NEAR = 2.0
_SMALL_PRICES = ("money a kWh", "money a litre")  # which some write in hundredths of the currency
_PRICES = ("money", "money a year")  # of which nobody writes three decimals


@dataclass(frozen=True)
class Doubted:
    """A stated number outside its usual range, and what is wrong with it: low, high or zero."""

    place: Stated
    usual: Usual
    wrong: str
    value: Value


def slips(scenario: Scenario) -> Iterator[Problem]:
    """Yield the numbers that a file states which look like slips of the pen, each with its line.

    What was changed after loading (an override) is judged as it stands then.
    """
    if scenario.tree is None:
        return
    places = list(stated(scenario.tree))
    doubted = set()
    for place in places:
        found = _judged(place, scenario)
        if found is not None:
            doubted.add(place.pattern)
            said, hint = _shown(found), _likely_cause(found)
            yield Problem(scenario.file, place.node.line, place.node.path, said, "", hint)
        elif _looks_grouped(place):
            yield from _grouped(place, scenario)
    if not doubted & {"horizon", "warm_up"}:
        yield from _long_warm_up(scenario, places)


def _judged(place: Stated, scenario: Scenario) -> Doubted | None:
    """Return what is doubted of a stated value, None where it is as usual or cannot be judged."""
    usual = USUAL.get(place.pattern)
    if usual is None or not _comparable(place):
        return None
    for value in values_of(place.node, place.field, scenario.beside):
        wrong = outside(value, usual, place.field)
        if wrong and not (wrong == "zero" and usual.unless in place.beside.entries):
            return Doubted(place, usual, wrong, value)
    return None


def _comparable(place: Stated) -> bool:
    """Return False for a price in a currency of another worth."""
    return not place.field.kind.startswith("money") or not _currencies(place.node).isdisjoint(
        (*MONEY_OF_RANGES, "")
    )


def _currencies(node: Node) -> set[str]:
    """Return the currencies of a price, or of the three of an uncertain one; an empty text for a bare 0."""
    found = [_CURRENCY.search(each.text) for each in _scalars(node)]
    return {each[0] if each else "" for each in found}


def _scalars(node: Node) -> list[Scalar]:
    return [each for each in walk(node) if isinstance(each, Scalar)]


def outside(value: Value, usual: Usual, field: Field) -> str:
    """Return `low`, `high` or `zero` for a value outside its usual range, an empty text for one within.

    Of a law the mean is judged, and the least and the most it gives by the range widened by its spread.
    """
    least, most = limit(usual.least, field) * (1 - _ROUNDING), limit(usual.most, field) * (1 + _ROUNDING)
    if isinstance(value, Law) and value.kind != "constant":
        lowest, highest = law_minimum(value), law_high(value)
        if law_mean(value) < least or 0 < lowest < least / usual.spread[0]:
            return "low"
        most_of_all = min(most * usual.spread[1], 1.0) if field.kind == "law of share" else most * usual.spread[1]
        return "high" if law_mean(value) > most or highest > most_of_all else ""
    number = value.parameters[0] if isinstance(value, Law) else value
    if number == 0:
        return "zero" if usual.zero else ""
    if usual.fine and number == limit(usual.fine, field):
        return ""
    return "low" if number < least else "high" if number > most else ""


def _shown(found: Doubted) -> str:
    """Return what was found, and what is usual."""
    place, value, text = found.place, found.value, found.place.text
    if isinstance(value, Law) and value.kind != "constant":
        mean, ends = _in_words(law_mean(value), place.field), ""
        high = law_maximum(value) if law_maximum(value) < float("inf") else law_high(value)
        if outside(Law("constant", (law_mean(value),)), found.usual, place.field) == "":
            end, number = ("as little as", law_minimum(value)) if found.wrong == "low" else ("as much as", high)
            ends = f" and {end} {_in_words(number, place.field)}"
        text = f"{mean} on average{ends}"
    usual = found.usual
    return (
        f"{text}, usually {usual.least} to {usual.most}"
        if usual.least != "0"
        else (f"{text}, usually at most {usual.most}")
    )


def _in_words(value: float, field: Field) -> str:
    """Return a value of a law as text."""
    if field.kind == "law of duration":
        return format_duration(value)
    if field.kind == "law of number":
        return f"{value:.3g}"
    return f"{value / 1000:.3g} L/min" if field.kind == "law of flow" else f"{100 * value:.3g} %"


def _likely_cause(found: Doubted) -> str:
    """Return the likely cause, and what to write in its place."""
    place, usual = found.place, found.usual
    if found.wrong == "zero":
        return usual.zero
    grouped = _without_points(place.node)
    if grouped is not None and _is_usual(grouped, found):
        return f"the point looks like a thousands separator; write {place.name}: {one_line(grouped)}"
    if found.wrong == "high" and usual.instead:
        return _instead(found)
    if place.field.kind.endswith("share") and found.wrong == "low":
        percent = _respelled(place.node, lambda number, _: f"{_plain(float(number) * 100)} %")
        if _is_usual(percent, found):
            return f"a share such as 0.2 is 20 %; write {place.name}: {one_line(percent)}"
    if found.wrong == "high" and place.field.kind in _SMALL_PRICES:
        small = _respelled(place.node, lambda number, unit: f"{_plain(float(number) / 100)} {unit}")
        if _is_usual(small, found):
            return f"is it in hundredths? write {place.name}: {one_line(small)}"
    return _of_another_unit(found) or (usual.low if found.wrong == "low" else usual.high)


def _of_another_unit(found: Doubted) -> str:
    """Return which unit may be meant, an empty text where none fits or the number is nearly usual."""
    if _nearly_usual(found):
        return ""
    name, before = found.place.name, found.place.node
    for unit in found.usual.units:
        for node in _in_unit(before, unit, found):
            if _is_usual(node, found):
                old = ", ".join(sorted(_units_of(before) - {unit}))
                return f"{old} in place of {unit}? write {name}: {one_line(node)}"
    return ""


def _nearly_usual(found: Doubted) -> bool:
    """Return True for a plain number not far above its range: it may well be meant so."""
    usual, kind = found.usual, found.place.field.kind
    if kind == "temperature" or (isinstance(found.value, Law) and found.value.kind != "constant"):
        return False
    number = found.value.parameters[0] if isinstance(found.value, Law) else found.value
    return found.wrong == "high" and number <= limit(usual.most, found.place.field) * NEAR


def _instead(found: Doubted) -> str:
    """Return that the value is that of another key, where that is usual for it."""
    place, usual = found.place, found.usual
    other = USUAL[place.pattern.replace(place.name, usual.instead)]
    if outside(found.value, other, place.field):
        return usual.high
    return (
        f"it looks like the gas in a full cylinder; write {usual.instead}: {place.text} in place of {place.name}"
    )


def _is_usual(node: Node, found: Doubted) -> bool:
    """Return True where a proposal can be read at the key and raises no doubt."""
    values = values_of(node, found.place.field)
    wanted = len(values_of(found.place.node, found.place.field))
    return len(values) == wanted > 0 and not any(
        outside(value, found.usual, found.place.field) for value in values
    )


def _in_unit(node: Node, unit: str, found: Doubted) -> Iterator[Node]:
    """Yield a value with the numbers outside the usual range in another unit, or all where most are outside.

    A standard deviation goes with the mean beside it.
    """
    field = replace(found.place.field, kind=found.place.field.kind.removeprefix("law of "))  # type: ignore[arg-type]
    quantities = [each.text for each in _scalars(node) if _unit(each)]

    def odd(text: str) -> bool:
        return any(outside(value, found.usual, field) for value in values_of(Scalar(0, "", text), field))

    def only_odd(number: str, old: str) -> str:
        return f"{number} {unit if odd(f'{number} {old}') else old}"

    if "sd" not in _keys_of(node):
        yield _respelled(node, only_odd)
    if 2 * sum(map(odd, quantities)) > len(quantities) or "sd" in _keys_of(node):
        yield _respelled(node, lambda number, _: f"{number} {unit}")


def _keys_of(node: Node) -> set[str]:
    """Return the keys of a law and of its parameters."""
    return {key for each in walk(node) if isinstance(each, Mapping) for key in each.entries}


def _respelled(node: Node, write: Callable[[str, str], str]) -> Node:
    """Return a value with each of its quantities written anew; numbers without a unit stay as they are."""
    if isinstance(node, Mapping):
        entries = {name: _respelled(child, write) for name, child in node.entries.items()}
        return replace(node, entries=entries)
    if not isinstance(node, Scalar):
        return node
    match = _NUMBER.fullmatch(" ".join(node.text.split()))
    if match is None or not match["unit"]:
        return node
    return replace(node, text=write(match["number"], match["unit"]))


def _units_of(node: Node) -> set[str]:
    return {_unit(each) for each in _scalars(node)} - {""}


def _unit(scalar: Scalar) -> str:
    """Return the unit of a quantity, an empty text where it has none."""
    match = _NUMBER.fullmatch(" ".join(scalar.text.split()))
    return match["unit"] if match else ""


def _plain(number: float) -> str:
    return f"{number:.12g}"


def _without_points(node: Node) -> Node | None:
    """Return a value with points that look like thousands separators left out, None where it has none."""
    if not any(_THOUSANDS.match(each.text.strip()) for each in _scalars(node)):
        return None
    return _pointless(node)


def _pointless(node: Node) -> Node:
    if isinstance(node, Mapping):
        return replace(node, entries={key: _pointless(child) for key, child in node.entries.items()})
    return (
        replace(node, text=_THOUSANDS.sub(r"\g<whole>\g<rest>", node.text)) if isinstance(node, Scalar) else node
    )


def _looks_grouped(place: Stated) -> bool:
    """Return True for a price such as 1.450 USD, in a currency that has no three decimals."""
    return (
        place.field.kind in _PRICES
        and _without_points(place.node) is not None
        and _currencies(place.node).isdisjoint(THREE_DECIMALS)
    )


def _grouped(place: Stated, scenario: Scenario) -> Iterator[Problem]:
    """Yield the doubt about a price whose point may be a thousands separator, unless it is usual as it stands."""
    grouped, usual = _without_points(place.node), USUAL.get(place.pattern)
    assert grouped is not None
    values = values_of(grouped, place.field) if _comparable(place) else []
    if usual is not None and any(outside(value, usual, place.field) for value in values):
        return
    hint = f"the point looks like a thousands separator; write {place.name}: {one_line(grouped)}"
    found = f"{place.text}, three digits after a point"
    yield Problem(scenario.file, place.node.line, place.node.path, found, "", hint)


def _long_warm_up(scenario: Scenario, places: list[Stated]) -> Iterator[Problem]:
    """Yield a warm-up that is longer than what is counted."""
    hospital = next(iter(scenario.hospitals.values()))
    if hospital.warm_up_s > hospital.horizon_s:
        node = next((each.node for each in places if each.pattern == "warm_up"), None)
        if node is not None:
            found = f"{one_line(node)}, longer than the horizon of {format_duration(hospital.horizon_s)}"
            hint = "most of the run is not counted; lengthen the horizon, or check both units"
            yield Problem(scenario.file, node.line, node.path, found, "", hint)
