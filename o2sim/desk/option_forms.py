"""What may be bought, as a form: the numbers that are tried of each thing, and how they stand in the file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from o2sim.desk.owned_forms import are_listed
from o2sim.desk.words import say
from o2sim.scenario.changing.new_text import Key
from o2sim.scenario.changing.splice import flow
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Listing, Node, Scalar, find
from o2sim.scenario.text.source import BYTE_ORDER_MARK, source_of
from o2sim.scenario.types.hospital import Hospital, Scenario

OPTIONS, OF, VARY = "options", "of", "vary"
MOST = 12  # numbers of one thing
LONGEST = 80  # letters of a field
KEEP = "keep"  # how a row of another form is called in the form
_WHOLE = re.compile(r"\d{1,5}")
FIELDS = {
    "cylinders": "cylinders.fleet",
    "regulators": "cylinders.regulators",
    "concentrators": "concentrators.count",
}


@dataclass(frozen=True)
class OptionField:
    """The numbers of one thing: what is typed, how many there are by the file, what is wrong."""

    name: str
    typed: str
    there: int
    problem: str


@dataclass(frozen=True)
class OtherRow:
    """A row of the file that has no field: its key, its line, what is chosen among."""

    name: str
    line: int
    said: str


def rows_in(text: str) -> dict[str, Node]:
    """Return the rows of what a file says may be bought, by their keys."""
    vary = find(source_of(text.removeprefix(BYTE_ORDER_MARK), "<text>").root, (OPTIONS, VARY))
    return dict(vary.entries) if isinstance(vary, nodes.Mapping) else {}


def option_fields(
    scenario: Scenario, text: str, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> list[OptionField]:
    """Return the fields for what some way of supply has, and no row of another form sets."""
    rows, found = rows_in(text), []
    for name, key in FIELDS.items():
        if name == "concentrators" and are_listed(scenario):
            continue
        there = max((_there(name, hospital) for hospital in scenario.hospitals.values()), default=0)
        stands = rows.get(key)
        if there and not any(_sets(row, key) for row in rows.values()) and (stands is None or _is_list(stands)):
            said = ", ".join(map(flow, stands.items)) if isinstance(stands, Listing) else ""
            found.append(OptionField(name, typed.get(name, said), there, wrong.get(name, "")))
    return found


def _there(name: str, hospital: Hospital) -> int:
    if name == "concentrators":
        return hospital.concentrators.count if hospital.concentrators else 0
    if hospital.cylinders is None:
        return 0
    if name != "cylinders":
        return hospital.cylinders.regulators or 0
    return 0 if hospital.cylinders.sizes else hospital.cylinders.fleet  # of several sizes there is no one field


def _sets(row: Node, key: str) -> bool:
    """Return whether some named choice of a row sets a value of its own at a key."""
    named = row.entries.values() if isinstance(row, nodes.Mapping) else ()
    return any(find(change, key.split(".")) is not None for change in named)


def _is_list(row: Node) -> bool:
    """Return whether a row is a list of whole numbers."""
    return isinstance(row, Listing) and all(
        isinstance(each, Scalar) and _WHOLE.fullmatch(each.text) for each in row.items
    )


def other_rows(scenario: Scenario, text: str) -> list[OtherRow]:
    """Return the rows that no field shows, such as a battery or none."""
    shown = {FIELDS[each.name] for each in option_fields(scenario, text, {}, {})}
    return [OtherRow(key, row.line, _said(row)) for key, row in rows_in(text).items() if key not in shown]


def _said(row: Node) -> str:
    if isinstance(row, nodes.Mapping):
        return ", ".join(row.entries)
    return ", ".join(map(flow, row.items)) if isinstance(row, Listing) else flow(row)


def numbers_in(text: str) -> list[int] | None:
    """Return the numbers that were typed, in order; None where something else was."""
    parts = re.split(r"[,;\s]+", text.strip(" ,;")) if text.strip(" ,;") else []
    if not all(map(_WHOLE.fullmatch, parts)):
        return None
    return sorted(set(map(int, parts)))


def option_problem(text: str) -> str:
    """Return what is wrong with what was typed, "" for nothing; an empty field says that none is tried."""
    found = numbers_in(text)
    if found is None:
        return say("may_bad", found=text[:30])
    return say("may_many", found=len(found), most=MOST) if len(found) > MOST else ""


def option_values(
    of: str, typed: Mapping[str, str], kept: set[str], scenario: Scenario, text: str
) -> dict[Key, str | None]:
    """Return the values to set in the file, None for what is to be taken out; nothing where nothing differs.

    kept: those of the rows without a field that stay.
    """
    rows = rows_in(text)
    lists = {key: numbers_in(typed[name]) or [] for name, key in FIELDS.items() if name in typed}
    others = [row.name for row in other_rows(scenario, text)]
    if not any(lists.values()) and not kept:
        return {(OPTIONS,): None} if rows else {}
    if not rows:
        vary: dict[str, Node] = {key: _listing(numbers) for key, numbers in lists.items() if numbers}
        whole = nodes.Mapping(0, "", {OF: Scalar(0, "", of), VARY: nodes.Mapping(0, "", vary)})
        return {(OPTIONS,): flow(whole)}
    found: dict[Key, str | None] = {}
    if scenario.options is None or scenario.options.of != of:
        found[OPTIONS, OF] = flow(Scalar(0, "", of))
    for key, numbers in lists.items():
        if numbers and (key not in rows or flow(rows[key]) != flow(_listing(numbers))):
            found[OPTIONS, VARY, key] = flow(_listing(numbers))
    gone = [key for key, numbers in lists.items() if key in rows and not numbers]
    return {**found, **{(OPTIONS, VARY, key): None for key in (*gone, *(set(others) - kept))}}


def _listing(numbers: list[int]) -> Listing:
    return Listing(0, "", [Scalar(0, "", str(number)) for number in numbers])


def said_options(scenario: Scenario) -> str:
    """Return what the file says may be bought, in words: how many ways, and the choices of each row."""
    options = scenario.options
    if options is None:
        return ""
    names = {key: name for name, key in FIELDS.items()}
    rows = []
    for place, key in enumerate(options.keys):
        label = say(f"may_{names[key]}") if key in names else f"{key}:"
        rows.append(f"{label} {', '.join(dict.fromkeys(each[place] for each in options.choices.values()))}")
    return say("may_said", count=len(options.choices), strategy=options.of, what="; ".join(rows))
