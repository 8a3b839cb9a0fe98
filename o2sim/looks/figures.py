"""Figures as people write them: times in a unit that suits them, no more digits than the interval bears out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from o2sim.errors import QuantityError
from o2sim.looks.words import NO_INTERVAL, many, number
from o2sim.quantities import units

LEAST, MOST = 0.1, 1_000  # a number of its unit below or above is written in another unit
BY_SIZE = (("day", 86_400), ("h", 3_600), ("min", 60), ("s", 1))
DIGITS = 2  # of the width of an interval


def unit_for(value: float, unit: str) -> tuple[str, float]:
    """Return the unit that a time is best written in, and what its number is to be multiplied by.

    The unit stays as it was written unless the number in it is awkward (0.0000556 h); what is no time stays.
    """
    if value == 0 or LEAST <= abs(value) < MOST:
        return unit, 1.0
    try:
        seconds = units.read(f"1 {unit}", "duration")
    except QuantityError:
        return unit, 1.0
    whole = abs(value) * seconds
    name, size = next((each for each in BY_SIZE if whole >= each[1]), BY_SIZE[-1])
    return name, seconds / size


def quantity(value: float, unit: str) -> str:
    """Return a number with its unit: "0.2 s" for 0.0000556 h, "1.5 h", "2 days"; three significant figures."""
    name, factor = unit_for(value, unit)
    text = number(value * factor)
    return f"{text} {name if text == '1' else many(name)}" if name else text


def quantities(low: float, high: float, unit: str) -> str:
    """Return a range in one unit, that of its upper end: "1.2–1.8 h"."""
    name, factor = unit_for(high, unit)
    return f"{number(low * factor)}–{number(high * factor)}{f' {many(name)}' if name else ''}"


def estimate(item: Mapping[str, Any], factor: float = 1.0) -> str:
    """Return "20 (0–48)" of an estimate or a mean with its ends, rounded to what its interval bears out.

    factor: what all three are multiplied by first.
    """
    middle = factor * (item["estimate"] if "estimate" in item else item["mean"])
    if item["low"] is None or item["high"] is None:
        return f"{number(middle)} ({NO_INTERVAL})"
    low, high = factor * item["low"], factor * item["high"]
    places = decimals(middle, high - low)
    texts = [to_decimals(each, places) for each in (middle, low, high)]
    join = " to " if any(text.startswith("-") for text in texts[1:]) else "–"
    return f"{texts[0]} ({texts[1]}{join}{texts[2]})"


def chance_range(chance: Mapping[str, Any]) -> str:
    """Return "6.7 % (1.9–16)" of a probability with its ends."""
    middle, _, ends = estimate(chance, 100.0).partition(" (")
    return f"{middle} % ({ends}"


def hours_range(hours: Mapping[str, Any]) -> str:
    """Return "20 h (0–48)" of hours with their ends, "12 s (0–31)" where they are few, "0 h (none seen)"."""
    high = hours["mean"] if hours["high"] is None else hours["high"]
    if high == 0:
        return "0 h (none seen)"
    unit, factor = unit_for(high, "h") if high < LEAST else ("h", 1.0)
    middle, _, ends = estimate(hours, factor).partition(" (")
    return f"{middle} {unit} ({ends}"


def decimals(value: float, width: float) -> int:
    """Return to how many decimals a figure is written: two digits of its width, three of itself at most."""
    if width <= 0:
        return 2 - _power(value)
    bears = DIGITS - 1 - _power(width)
    return min(bears, 2 - _power(value)) if value else bears


def to_decimals(value: float, places: int) -> str:
    """Return a number to so many decimals (below zero: tens, hundreds); one that is not zero never becomes "0"."""
    rounded = round(value, places)
    if rounded == 0 and value != 0:
        rounded, places = round(value, -_power(value)), -_power(value)
    text = f"{rounded + 0.0:,.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _power(value: float) -> int:
    return math.floor(math.log10(abs(value))) if value else 0
