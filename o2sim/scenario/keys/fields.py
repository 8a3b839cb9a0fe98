"""Every key of a scenario file in one table, made of the records that declare them; what may stand at each."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from typing import get_args

from o2sim.quantities import units
from o2sim.scenario.keys.field import Field as Field
from o2sim.scenario.keys.field import FieldKind as FieldKind
from o2sim.scenario.keys.field import Section as Section
from o2sim.scenario.keys.record import section_of
from o2sim.scenario.text.problems import listing
from o2sim.scenario.types.hospital import CHANGEABLE as CHANGEABLE
from o2sim.scenario.types.hospital import STRATEGY as STRATEGY
from o2sim.scenario.types.hospital import General, Scenario, Strategy

NAMED = "named sections"  # whose names the author chose, such as classes of patients
LAW_WORDS = ("mean", "median", "sd", "geometric_sd", "mode", "low", "high")
LONGEST_TEXT = 2_000  # characters
SHARED = section_of(General).fields
(SOURCES,) = section_of(Strategy).fields
TOP = Section((*SHARED, *CHANGEABLE, *section_of(Scenario).fields))

_ALLOWED = {
    "date": "a date such as 2027-04-01",
    "date and time": "a date and a time such as 2027-04-01 07:30",
    "date or time": "a date, with a time or without, such as 2027-04-01 07:30",
    "month or date": "a month such as may, or a date such as 2027-05-15",
    "text": f"a text of at most {LONGEST_TEXT} characters",
    "currency": "three capital letters such as USD",
    "clock": "a time of day such as 07:00",
    "clock times": "a list of times of day such as [06:00, 14:00, 22:00], in order",
    "numbers": "a list of twelve numbers, January first",
    "list of pressures": "a list of pressures such as [40 bar, 25 bar]",
    "list of durations": "a list of durations such as [8200 h, 400 h]",
    "sources": "a list of concentrator, cylinder and manifold, each at most once",
    "register": "a mapping such as {file: admissions.csv}",
    "money": "money such as 648 USD",
    "money a year": "money such as 30 USD/year",
    "money a kWh": "money such as 0.18 USD/kWh",
    "money a litre": "money such as 1.10 USD/L",
    "fuel rate": "litres of fuel an hour such as 0.95 L/h",
    "weekdays": "a list of days such as [mon, tue, sat]",
    "months": "a list of months such as [4, 5, 6] or [apr, may, jun]",
    "purchases": "a list of oxygen, fuel and parts, each at most once",
    "names": "a list of names such as [newborns, children]",
    "time zone": "an offset from UTC such as UTC+02:00",
    "columns": "names of columns such as {arrival: [date, time]}",
    "choices": "keys with lists of values such as {cylinders.fleet: [20, 40, 60]}",
}


def allowed(item: Field) -> str:
    """Return what may stand at a key, for messages."""
    words = [word for word, _ in item.words]
    plain = item.kind.removeprefix("law of ")
    if item.kind == "word":
        return listing(words)
    if item.kind == "whole":
        text = f"a whole number from {item.least} to {item.most}"
    elif plain in get_args(units.Kind):
        text = units.allowed(plain)  # type: ignore[arg-type]
    elif item.kind in ("section", "list of sections"):
        assert item.section is not None
        text = (
            f"{'a list of mappings' if item.kind != 'section' else 'a mapping'} of {', '.join(item.section.names)}"
        )
    elif item.kind == "named sections":
        text = f"a mapping of names, each with {', '.join(item.section.names) if item.section else ''}"
    else:
        text = _ALLOWED.get(item.kind, item.kind)
    if item.kind.startswith("law of "):
        text += ", or a law such as {gamma: {mean: ..., sd: ...}}"
    return f"{text}, or {listing(words)}" if words else text


def documented(section: Section = TOP, path: str = "") -> Iterator[tuple[str, Field]]:
    """Yield (dotted path, field) for every key; `*` stands for a name, `[]` for a place in a list."""
    for field in section.fields:
        here = f"{path}{field.name}"
        yield here, field
        if field.name == "strategies":
            yield "strategies.*.sources", SOURCES  # and all that is CHANGEABLE
        elif field.section is not None:
            inside = {"named sections": ".*.", "list of sections": "[]."}.get(field.kind, ".")
            yield from documented(field.section, here + inside)


def home(name: str) -> str:
    """Return where a key belongs, for one that stands in the wrong place; an empty text for an unknown name."""
    for path, field in documented():
        if field.name == name:
            above = path.rpartition(".")[0].removesuffix(".*").removesuffix("[]")
            return f"it belongs in {above}; check the indentation" if above else "it belongs at the left margin"
    return ""


def along(keys: Sequence[str], section: Section = TOP) -> Iterator[Field | None]:
    """Yield the field that each key of a dotted path names; None for an author's name or an unknown."""
    inside: Section | None = section
    named = False  # whether the next key is the name of a class, a ward or a strategy
    for key in keys:
        field = None if named or inside is None else inside.field(key)
        yield field
        if not named:
            inside = field.section if field is not None else None
        named = field is not None and field.kind == NAMED


def meaning(path: str) -> str:
    """Return what a key means, with the class or the part of a law that it names; an empty text where unknown."""
    found: Field | None = None
    more: list[str] = []
    parts = path.split(".")
    for above, part, field in zip(["", *parts], parts, along(parts), strict=False):
        if field is not None:
            found = field
        elif found is None or (found.kind != NAMED and not found.kind.startswith("law")):
            return ""
        elif found.kind == NAMED and above == found.name:
            more.append(part)
        elif part in LAW_WORDS:
            more.append(part.replace("_", " "))
    return ", ".join([found.help, *more]) if found is not None and not found.section else ""


def nearest(path: str) -> str:
    """Return the path with its first unknown part put right by the nearest known key; empty where none is near."""
    parts = path.split(".")
    section: Section | None = TOP
    named = False
    for place, (part, field) in enumerate(zip(parts, along(parts), strict=True)):
        if field is None and not named:
            close = difflib.get_close_matches(part, section.names if section else (), n=1, cutoff=0.6)
            return ".".join([*parts[:place], close[0], *parts[place + 1 :]]) if close else ""
        named = field is not None and field.kind == NAMED
        section = field.section if field is not None else section
    return ""
