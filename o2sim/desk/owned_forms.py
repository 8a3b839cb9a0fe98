"""What is owned already as a form: how many there are by the file, and how many of these stand there."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from o2sim.desk.words import counted, say
from o2sim.scenario.text.nodes import Scalar, find
from o2sim.scenario.text.source import BYTE_ORDER_MARK, source_of
from o2sim.scenario.types.hospital import Hospital, Scenario

WHOLE = re.compile(r"\d{1,6}")


@dataclass(frozen=True)
class Kind:
    """One kind of thing that may be owned: its name, the keys of how many there are and are owned."""

    name: str
    count_key: str
    owned_key: str
    many: Callable[[Hospital], int]


@dataclass(frozen=True)
class OwnedRow:
    """A field: how many there are to be by the file, what stands there of those owned, what is wrong."""

    name: str
    count: int
    is_range: bool
    owned: str
    problem: str


def _of_one_size(hospital: Hospital) -> int:
    """Return how many cylinders there are to be; 0 of several sizes, which say in the file what is owned."""
    stock = hospital.cylinders
    return stock.fleet if stock is not None and not stock.sizes else 0


KINDS = (
    Kind("cylinders", "cylinders.fleet", "cylinders.owned", _of_one_size),
    Kind("regulators", "cylinders.regulators", "cylinders.regulators_owned",
         lambda h: (h.cylinders.regulators or 0) if h.cylinders else 0),
    Kind("concentrators", "concentrators.count", "concentrators.owned",
         lambda h: h.concentrators.count if h.concentrators else 0),
)  # fmt: skip


def owned_rows(
    scenario: Scenario, text: str, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> list[OwnedRow]:
    """Return the fields for what the file counts: with what is typed, else with what it says."""
    unknown = {place for each in scenario.uncertain for place in (each.path, *each.places)}
    found = []
    for kind in KINDS:
        if kind.name == "concentrators" and are_listed(scenario):
            continue
        counts = [count for count in map(kind.many, scenario.hospitals.values()) if count]
        if counts:
            count = min(counts)  # what a way of supply has more of is to come
            stands = typed.get(kind.name) or owned_in(text, kind)
            found.append(OwnedRow(kind.name, count, kind.count_key in unknown, stands, wrong.get(kind.name, "")))
    return found


def are_listed(scenario: Scenario) -> bool:
    """Return whether the file lists its concentrators, and so says itself which of them are owned."""
    return any(each.concentrators.listed for each in scenario.hospitals.values() if each.concentrators)


def owned_in(text: str, kind: Kind) -> str:
    """Return how many are owned by the file, "" where it says nothing."""
    node = find(source_of(text.removeprefix(BYTE_ORDER_MARK), "<text>").root, tuple(kind.owned_key.split(".")))
    return node.text if isinstance(node, Scalar) else ""


def owned_problem(text: str) -> str:
    """Return what is wrong with a number of things owned, "" for nothing; an empty field says nothing."""
    return "" if not text or WHOLE.fullmatch(text) else say("owned_bad", found=text[:30])


def owned_values(rows: list[OwnedRow], typed: Mapping[str, str], text: str, *, every: bool) -> dict[str, str]:
    """Return the values to set, by dotted key; every: all that the file counts for sure is there already."""
    found = {}
    for kind in KINDS:
        row = next((each for each in rows if each.name == kind.name), None)
        if row is None:
            continue
        value = str(row.count) if every and not row.is_range else "" if every else typed.get(kind.name, "")
        if value and value != owned_in(text, kind):
            found[kind.owned_key] = value
    return found


def said_owned(scenario: Scenario) -> str:
    """Return what is owned by the file, in words; the most of any way of supply."""
    found: dict[str, int] = {}
    for hospital in scenario.hospitals.values():
        for item in dict.fromkeys(each.item for each in hospital.owned):
            count = sum(each.count for each in hospital.owned if each.item == item)
            found[item] = max(found.get(item, 0), count)
    return ", ".join(counted(count, item) for item, count in found.items())
