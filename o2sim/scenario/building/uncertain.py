"""Finds numbers written `{low: ..., likely: ..., high: ...}` in a tree, and puts one value in place of each.

Any number may be written so: a quantity with its unit, a whole number, a price, an entry of a list of numbers, a
parameter of a law. Not to be confused with the law `triangular: {low, mode, high}`, by which every single draw
differs: an uncertain number is one number that holds throughout, of which only the range is known.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass, replace
from typing import get_args

from o2sim.errors import Problem, QuantityError
from o2sim.quantities import units
from o2sim.scenario.keys.field import MONEY_PER, Field, Section
from o2sim.scenario.keys.fields import TOP, allowed
from o2sim.scenario.text.nodes import Listing, Mapping, Node, Scalar, describe
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.types.laws import LAW_FORMS, PLAIN
from o2sim.scenario.types.uncertain import Uncertain

FORM = ("low", "likely", "high")
LOW, LIKELY, HIGH = range(3)
FORM_TEXT = "{low: ..., likely: ..., high: ...}"
MOST_UNCERTAIN = 100
_NUMBER = re.compile(r"[+\N{MINUS SIGN}-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_COUNTED = "now."  # no range there
_LISTS: AnyMapping[str, units.Kind] = {
    "numbers": "number", "list of pressures": "pressure", "list of durations": "duration",
}  # fmt: skip
_PLAIN_KINDS = ("whole", "fuel rate", *get_args(units.Kind), *MONEY_PER)


@dataclass(frozen=True)
class _Site:
    """Where an uncertain number stands: the mapping, what reads one of its texts, and what is allowed there."""

    node: Mapping
    kind: str
    allowed: str


def resolved(root: Mapping, problems: Problems) -> tuple[Mapping, list[Uncertain]]:
    """Return the tree at its likely values, and what is uncertain in it; what is wrong is noted in problems."""
    uncertain, chosen = [], {}
    for site in _in_section(root, TOP):
        if site.node.path.startswith(_COUNTED):
            found_here, hint = f"found {describe(site.node)}", "what was counted is one number, or left out"
            problems.add(site.node, found_here, site.allowed, hint)
            chosen[site.node.path] = Scalar(site.node.line, site.node.path, "", refused=True)
            continue
        chosen[site.node.path] = _stand_in(site.node, LIKELY)
        found = _read(site, problems)
        if found is not None:
            uncertain.append(found)
    if len(uncertain) > MOST_UNCERTAIN:
        problems.add(root, f"found {len(uncertain)} uncertain numbers", f"at most {MOST_UNCERTAIN}")
        uncertain = []  # their ends are not tried: each costs a reading of the file
    return (_replaced(root, chosen) if chosen else root), uncertain


def at_end(root: Mapping, item: Uncertain, end: int) -> Mapping:
    """Return a raw tree at its likely values, but one uncertain number at its LOW or HIGH."""
    return _with(root, lambda node: _stand_in(node, end if node.path in item.places else LIKELY))


def with_texts(root: Mapping, texts: AnyMapping[str, str]) -> Mapping:
    """Return a raw tree with these texts at the uncertain numbers (by path), the likely ones at all others."""

    def choose(node: Mapping) -> Scalar:
        text = texts.get(node.path)
        return _stand_in(node, LIKELY) if text is None else Scalar(node.line, node.path, text)

    return _with(root, choose)


def _with(root: Mapping, choose: Callable[[Mapping], Scalar]) -> Mapping:
    """Return a raw tree with what is chosen at each uncertain number."""
    return _replaced(root, {site.node.path: choose(site.node) for site in _in_section(root, TOP)})


def said_at(problem: Problem, item: Uncertain, end: int) -> Problem:
    """Return a problem that comes up at one end of an uncertain number, with what that number then is."""
    if any(problem.field == f"{place}.{FORM[end]}" for place in item.places):
        return problem
    here = f"with {item.path} at its {FORM[end]} value, {item.texts[end]}"
    hint = f"{here}; {problem.hint}" if problem.hint else here
    return replace(problem, hint=hint)


def is_range(node: Node | None) -> bool:
    """Return True for a mapping that is meant as an uncertain number."""
    return isinstance(node, Mapping) and bool(node.entries) and set(node.entries) <= set(FORM)


def _in_section(node: Mapping, section: Section) -> Iterator[_Site]:
    for key, child in node.entries.items():
        field = section.field(key)
        if field is not None and field.name != "options":
            yield from _in_field(child, field)


def _in_field(node: Node, field: Field) -> Iterator[_Site]:
    """Yield the uncertain numbers at a key and below it."""
    inside = field.section
    if field.kind == "section" and isinstance(node, Mapping) and inside is not None:
        yield from _in_section(node, inside)
    elif field.kind in ("named sections", "list of sections") and inside is not None:
        children = node.items if isinstance(node, Listing) else list(getattr(node, "entries", {}).values())
        for child in children:
            if isinstance(child, Mapping):
                yield from _in_section(child, inside)
    elif field.kind in _LISTS and isinstance(node, Listing):
        kind = _LISTS[field.kind]
        for item in node.items:
            yield from _site(item, kind, allowed(Field(field.name, kind, "")))
    elif field.kind.startswith("law of "):
        yield from _in_law(node, field)
    elif field.kind in _PLAIN_KINDS:
        yield from _site(node, field.kind, allowed(field))


def _in_law(node: Node, field: Field) -> Iterator[_Site]:
    """Yield a plain quantity that stands for a law, or the parameters of the law that is named."""
    kind = field.kind.removeprefix("law of ")
    if not isinstance(node, Mapping):
        return
    if "likely" in node.entries:
        yield from _site(node, kind, allowed(field))
    for name, inside in node.entries.items():
        if name in LAW_FORMS and isinstance(inside, Mapping):
            for parameter, child in inside.entries.items():
                what = "number" if parameter in PLAIN else kind
                yield from _site(child, what, units.allowed(what))  # type: ignore[arg-type]


def _site(node: Node, kind: str, allowed_here: str) -> Iterator[_Site]:
    if isinstance(node, Mapping) and is_range(node):
        yield _Site(node, kind, allowed_here)


def _stand_in(node: Mapping, which: int) -> Scalar:
    """Return the scalar that stands for an uncertain number; refused, so complained of no more, if it is none."""
    child = node.entries.get(FORM[which])
    if set(node.entries) != set(FORM) or not isinstance(child, Scalar):
        return Scalar(node.line, node.path, "", refused=True)
    path = node.path if which == LIKELY else f"{node.path}.{FORM[which]}"
    return Scalar(child.line, path, child.text, child.refused)


def _read(site: _Site, problems: Problems) -> Uncertain | None:
    """Return an uncertain number where its form and order are right; else note what is wrong, but for its values.

    Values that cannot be read are left to those who read the field itself, at each end.
    """
    node = site.node
    children = [node.entries.get(name) for name in FORM]
    if set(node.entries) != set(FORM) or not all(isinstance(child, Scalar) for child in children):
        hint = "low, likely and high, each one value"
        problems.add(node, f"found {describe(node)}", f"{site.allowed}, or uncertain: {FORM_TEXT}", hint)
        return None
    texts = tuple(" ".join(child.text.split()) for child in children if isinstance(child, Scalar))
    read = _reader(site.kind)
    values = []
    for child, text in zip(children, texts, strict=True):
        try:
            values.append(read(text))
        except (QuantityError, ValueError):
            if text.replace(" ", "").replace("_", "").isalpha() and child is not None:
                found = f"found {describe(child)}, which is no number"
                problems.add(child, found, "a number, low <= likely <= high", "an uncertain number has no words")
                return None
    low, likely, high = texts
    if len(values) < len(FORM):
        numbers, unit, values = (0.0, 0.0, 0.0), "", [0.0] * 3  # refused at one end: never used
    else:
        if not values[LOW] <= values[LIKELY] <= values[HIGH] or values[LOW] == values[HIGH]:
            alike = values[LOW] == values[HIGH]
            found = "low, likely and high all the same" if alike else f"low {low}, likely {likely}, high {high}"
            hint = "write the number itself" if alike else "put them in order"
            problems.add(node, f"found {found}", "low <= likely <= high, low below high", hint)
            return None
        numbers, unit = _in_one_unit(texts, values, read)
    internal = (values[LOW], values[LIKELY], values[HIGH])
    return Uncertain(node.path, (low, likely, high), numbers, unit, internal, site.kind == "whole", (node.path,))


def _reader(kind: str) -> Callable[[str], float]:
    """Return what reads a text of a kind into its internal unit; it raises QuantityError or ValueError."""
    if kind == "whole":
        return int
    if kind in MONEY_PER:
        return lambda text: units.read_money(text, MONEY_PER[kind])[0]
    plain = "flow" if kind == "fuel rate" else kind
    return lambda text: units.read(text, plain)  # type: ignore[arg-type]


def _in_one_unit(
    texts: tuple[str, ...], values: list[float], read: Callable[[str], float]
) -> tuple[tuple[float, float, float], str]:
    """Return the numbers in the unit of the likely one (of the high one where that is a bare 0), and that unit."""
    unit = _split(texts[LIKELY])[1] or _split(texts[HIGH])[1]
    parts = [_split(text) for text in texts]
    if all(part[1] == unit for part in parts):
        low, likely, high = (part[0] for part in parts)
        return (low, likely, high), unit
    zero, one = (read(f"{number} {unit}") for number in (0, 1))  # degrees have their zero elsewhere
    low, likely, high = ((value - zero) / (one - zero) for value in values)
    return (low, likely, high), unit


def _split(text: str) -> tuple[float, str]:
    """Return number and unit of a text that has been read as a quantity."""
    found = _NUMBER.match(text)
    assert found is not None  # it has been read
    return float(found[0].replace("\N{MINUS SIGN}", "-")), text[found.end() :].strip()


def _replaced(node: Mapping, chosen: AnyMapping[str, Scalar]) -> Mapping:
    """Return a tree with a scalar in place of each mapping whose path is named; what holds none stays the same."""

    def put(each: Node) -> Node:
        if isinstance(each, Mapping):
            if each.path in chosen and is_range(each):
                return chosen[each.path]
            entries = {key: put(child) for key, child in each.entries.items()}
            return each if _same(entries.values(), each.entries.values()) else replace(each, entries=entries)
        if isinstance(each, Listing):
            items = [put(item) for item in each.items]
            return each if _same(items, each.items) else replace(each, items=items)
        return each

    result = put(node)
    assert isinstance(result, Mapping)
    return result


def _same(found: Iterable[Node], before: Iterable[Node]) -> bool:
    return all(one is other for one, other in zip(found, before, strict=True))
