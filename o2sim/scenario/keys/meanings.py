"""A dotted key of a scenario in, what it means in words out; for one that is none, the nearest that is."""

from __future__ import annotations

import difflib

from o2sim.scenario.keys.fields import TOP, Field

NAMED = "named sections"  # sections whose names the author chose, such as classes of patients
LAW_WORDS = ("mean", "median", "sd", "geometric_sd", "mode", "low", "high")


def meaning(path: str) -> str:
    """Return what a key means, with the class or the part of a law that it names; an empty text where unknown."""
    fields, found = TOP.fields, None
    more: list[str] = []
    parts = path.split(".")
    for place, part in enumerate(parts):
        item = next((each for each in fields if each.name == part), None)
        if item is not None:
            found, fields = item, item.section.fields if item.section else ()
        elif found is None:
            return ""
        elif found.kind == NAMED and parts[place - 1] == found.name:
            more.append(part)
        elif not found.kind.startswith("law"):
            return ""
        elif part in LAW_WORDS:
            more.append(part.replace("_", " "))
    return ", ".join([found.help, *more]) if found is not None and not found.section else ""


def nearest(path: str) -> str:
    """Return the path with its first unknown part put right by the nearest known key; empty where none is near."""
    fields: tuple[Field, ...] = TOP.fields
    parts = path.split(".")
    named = False
    for place, part in enumerate(parts):
        item = next((each for each in fields if each.name == part), None)
        if item is None and not named:
            close = difflib.get_close_matches(part, [each.name for each in fields], n=1, cutoff=0.6)
            return ".".join([*parts[:place], close[0], *parts[place + 1 :]]) if close else ""
        named = item is not None and item.kind == NAMED
        if item is not None:
            fields = item.section.fields if item.section else ()
    return ""
