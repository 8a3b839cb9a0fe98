"""Reads a text such as `cylinders.fleet = 40..60 step 2`: a field, and the values that it is to take."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import get_args

from o2sim.errors import O2simError, QuantityError, ScenarioError
from o2sim.quantities import units

MOST_VALUES = 200  # of one field
MOST_POINTS = 2_000  # of all fields together
EVEN_STEPS = 10  # of a range without a step, where values are not whole
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
_QUANTITY = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>.*)")
_RANGE = re.compile(r"(?P<low>.+?)\s*\.\.\s*(?P<high>.+?)(?:\s+step\s+(?P<step>.+))?")
FORMS = "FIELD = 1 h, 2 h, 4 h, or FIELD = 40..60 step 2"
_PAIR = re.compile(r"[0-9]{1,9}\s*/\s*[0-9]{1,9}")  # of levels, such as 26/34: no number with a unit


@dataclass(frozen=True)
class Lever:
    """A field and its values as texts; numbers are the same in `unit`, None where a value is no number."""

    path: str
    values: tuple[str, ...]
    numbers: tuple[float, ...] | None
    unit: str = ""

    @property
    def heading(self) -> str:
        """Return the field with its unit, as it stands above a column or beside an axis."""
        return f"{self.path} ({self.unit})" if self.unit else self.path


def read_lever(text: str) -> tuple[str, str]:
    """Return the field and the text of its values, empty where there is none; raise O2simError for no field."""
    path, _, values = text.partition("=")
    if not path.strip():
        raise O2simError(f"vary: found {text!r}; allowed: {FORMS}")
    return path.strip(), values.strip()


def lever(path: str, text: str) -> Lever:
    """Return a field with the values that a text lists or spans. Raises O2simError where it does neither."""
    found = _RANGE.fullmatch(text.strip())
    values = _span(path, text, found) if found is not None else _listed(path, text)
    if len(values) > MOST_VALUES:
        raise O2simError(
            f"vary {path}: found {len(values)} values; allowed: at most {MOST_VALUES}; take larger steps"
        )
    if len(set(values)) < len(values):
        raise O2simError(f"vary {path}: a value stands twice in {text!r}; write each once")
    numbers, unit = _numbers(values)
    return Lever(path, values, numbers, unit)


def points(levers: Sequence[Lever]) -> list[dict[str, str]]:
    """Return every combination of the values, the last field fastest. Raises O2simError for too many."""
    paths = [each.path for each in levers]
    if len(set(paths)) < len(paths):
        raise O2simError(f"vary: found a field twice in {', '.join(paths)}; list its values in one --vary")
    count = 1
    for each in levers:
        count *= len(each.values)
    if count > MOST_POINTS:
        raise O2simError(
            f"vary: found {count:,} combinations; allowed: at most {MOST_POINTS:,}; list fewer values"
        )
    return [dict(zip(paths, values, strict=True)) for values in product(*(each.values for each in levers))]


def design(paths: Sequence[str], rows: Sequence[Sequence[str]]) -> tuple[tuple[Lever, ...], list[dict[str, str]]]:
    """Return the fields and the combinations of a table of them, a row each, in its order.

    Raises O2simError for no rows, too many, a row twice, a field twice and a cell without a value.
    """
    if not paths or not rows or not all(paths) or len(set(paths)) < len(paths):
        raise O2simError(
            f"vary: found {len(rows)} rows under {', '.join(paths) or 'no columns'}; allowed: a column, once, for "
            "each field, such as cylinders.fleet, and a row for each combination of values"
        )
    if len(rows) > MOST_POINTS:
        raise O2simError(f"vary: found {len(rows):,} rows; allowed: at most {MOST_POINTS:,}")
    wanted: list[dict[str, str]] = []
    for place, row in enumerate(rows, 1):
        point = dict(zip(paths, row, strict=True))
        empty = [path for path, text in point.items() if not text]
        if empty:
            raise O2simError(f"vary, row {place}: found no value for {empty[0]}; allowed: a value in each cell")
        if point in wanted:
            raise O2simError(f"vary, row {place}: these values stand in row {wanted.index(point) + 1} already")
        wanted.append(point)
    columns = [tuple(dict.fromkeys(point[path] for point in wanted)) for path in paths]
    numbers = [_numbers(values) for values in columns]
    return tuple(Lever(p, v, *n) for p, v, n in zip(paths, columns, numbers, strict=True)), wanted


def listed(path: str, text: str) -> Lever:
    """Return a field with the values that stand between commas, none of them read as a number.

    Raises O2simError for an empty value, one that stands twice, and too many.
    """
    values = tuple("".join(value.split()) for value in _listed(path, text))
    if len(set(values)) < len(values) or len(values) > MOST_VALUES:
        raise O2simError(
            f"vary {path}: found {len(values)} values, {len(set(values))} of them different; allowed: each once, "
            f"at most {MOST_VALUES}"
        )
    return Lever(path, values, None)


def stated(values: Mapping[str, str]) -> str:
    """Return values in words: `cylinders.fleet = 40, concentrators.count = 5`."""
    return ", ".join(f"{path} = {text}" for path, text in values.items())


def why_refused(values: Mapping[str, str], error: ScenarioError) -> str:
    """Return why values make no scenario."""
    problem = error.problems[0]
    return f"{stated(values)}: {problem.field}: {problem.found}; allowed: {problem.allowed}"


def quantity(text: str) -> tuple[Fraction, str] | None:
    """Return the number and the unit of a text such as `2.5 h`, None where it is none."""
    found = _QUANTITY.fullmatch(text.strip())
    return (Fraction(found["number"]), found["unit"].strip()) if found is not None else None


def written(number: Fraction, unit: str) -> str:
    """Return a number with its unit as it might stand in a file."""
    plain = str(number) if number.denominator == 1 else f"{float(number):.10g}"
    return f"{plain} {unit}" if unit else plain


def _listed(path: str, text: str) -> tuple[str, ...]:
    """Return the values between commas, those within brackets kept together."""
    parts, depth = [""], 0
    for letter in text:
        depth += (letter in "{[(") - (letter in "}])")
        if letter == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += letter
    values = tuple(part.strip() for part in parts)
    if not all(values):
        raise O2simError(f"vary {path}: found {text!r}; allowed: {FORMS}")
    return values


def _span(path: str, text: str, found: re.Match[str]) -> tuple[str, ...]:
    """Return the values from low to high, both ends included, by the step."""
    low, high = quantity(found["low"]), quantity(found["high"])
    step = None if found["step"] is None else quantity(found["step"])
    if low is None or high is None or (found["step"] is not None and step is None):
        raise O2simError(f"vary {path}: found {text!r}; allowed: {FORMS}")
    unit = high[1] or low[1]
    if any(part is not None and part[1] not in ("", unit) for part in (low, step)):
        raise O2simError(f"vary {path}: found {text!r} in more than one unit; write the range in one")
    if high[0] <= low[0]:
        raise O2simError(f"vary {path}: found {text!r}; allowed: a range that rises, such as 40..60")
    width = _step(low[0], high[0], unit) if step is None else step[0]
    if width <= 0 or (high[0] - low[0]) / width > MOST_VALUES:
        raise O2simError(f"vary {path}: found {text!r}; allowed: a step above 0 and at most {MOST_VALUES} values")
    count = int((high[0] - low[0]) / width)
    numbers = [low[0] + place * width for place in range(count + 1)]
    if numbers[-1] < high[0]:
        numbers.append(high[0])
    return tuple(written(number, unit) for number in numbers)


def _step(low: Fraction, high: Fraction, unit: str) -> Fraction:
    """Return the step of a range that states none: 1 for plain whole numbers, else ten even ones."""
    whole = not unit and low.denominator == high.denominator == 1
    return Fraction(1) if whole else (high - low) / EVEN_STEPS


def _numbers(values: Sequence[str]) -> tuple[tuple[float, ...] | None, str]:
    """Return the values as numbers in one unit, the first one's; None where that cannot be."""
    parts = [None if _PAIR.fullmatch(value) else quantity(value) for value in values]
    known = [part for part in parts if part is not None]
    if len(known) < len(values):
        return None, ""
    unit = known[0][1]
    if all(part[1] == unit for part in known):
        return tuple(float(part[0]) for part in known), unit
    for kind in get_args(units.Kind):
        try:
            one = units.read(f"1 {unit}", kind)
            return tuple(units.read(value, kind) / one for value in values), unit
        except QuantityError:
            continue
    return None, ""
