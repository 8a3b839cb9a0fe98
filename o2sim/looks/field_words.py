"""A dotted key of a scenario in, the label of an axis that a manager can read out."""

from __future__ import annotations

from o2sim.scenario.keys.fields import meaning

WHOLE_WORDS = ("day", "week", "month", "year")  # units that are written out, and so have a plural


def axis_words(path: str, unit: str = "") -> str:
    """Return the label of an axis: what the key means, and below it the key itself with its unit."""
    key = f"{path} ({many(unit)})" if unit else path
    said = meaning(path)
    return f"{said[0].upper()}{said[1:]}\n{key}" if said else key


def many(unit: str) -> str:
    """Return a unit as it stands beside an axis or after several: days, but h."""
    return f"{unit}s" if unit in WHOLE_WORDS else unit
