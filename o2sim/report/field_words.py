"""A dotted key of a scenario in, what it means in words out, for an axis or a heading that a manager reads."""

from __future__ import annotations

from o2sim.scenario.fields import TOP, Field

KEYWORD = "named sections"  # sections whose names the author chose, such as classes of patients


def meaning(path: str) -> str:
    """Return what a key means, with the class or the part of a law that it names; an empty text where unknown."""
    fields, found, more = TOP.fields, None, []
    parts = path.split(".")
    for place, part in enumerate(parts):
        item = next((each for each in fields if each.name == part), None)
        if item is not None:
            found, fields = item, item.section.fields if item.section else ()
        elif found is None:
            return ""
        elif _names_a_part(found, place, parts):
            more.append(part)
        elif not found.kind.startswith("law"):
            return ""
        elif part in ("mean", "median", "sd", "geometric_sd", "mode", "low", "high"):
            more.append(part.replace("_", " "))
    return ", ".join([found.help, *more]) if found is not None and not found.section else ""


def _names_a_part(found: Field, place: int, parts: list[str]) -> bool:
    return found.kind == KEYWORD and parts[place - 1] == found.name


def axis_words(path: str, unit: str = "") -> str:
    """Return the label of an axis: what the key means, and below it the key itself with its unit."""
    key = f"{path} ({_many(unit)})" if unit else path
    said = meaning(path)
    return f"{said[0].upper()}{said[1:]}\n{key}" if said else key


def _many(unit: str) -> str:
    """Return a unit as it stands beside an axis: days, but h."""
    return f"{unit}s" if unit in ("day", "week", "month", "year", "hour", "minute") else unit
