"""Reads a cell as a number: a plain one, one with its unit, a quantity, or an amount for a key of the scenario."""

from __future__ import annotations

import math
import re
from typing import get_args

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.records.columns import Column
from o2sim.records.dates import CellError, said
from o2sim.records.raw import Value
from o2sim.scenario.keys.fields import LAW_WORDS, NAMED, along, nearest

_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?", re.A)
_COMMA = re.compile(r"[+-]?\d+,\d+", re.A)
LONGEST = 60  # characters of a number, a key or an amount
PURE = ("number", "whole")  # kinds of keys without a unit


def limits(column: Column) -> str:
    """Return what a column of numbers allows, for messages."""
    unit = f" {column.unit}" if column.unit else ""
    whole = "a whole number" if column.kind == "count" else f"a number{f' of{unit}' if unit else ''}"
    if math.isfinite(column.high):
        return f"{column.low:g} to {column.high:g}{unit}"
    return f"{whole} from {column.low:g}"


def read_number(value: Value, column: Column) -> float:
    """Return a number in the unit of its column. Raises CellError."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise CellError(f"found {said(value)}", limits(column))
    number = _plain(value, column) if isinstance(value, str) else float(value)
    if not math.isfinite(number):
        raise CellError("found a number without end", limits(column))
    if not column.low <= number <= column.high:
        share = "; taken as a share?" if column.unit == "%" and 0 < number <= 1 else ""
        hint = f"write {number * 100:g}" if share and column.low <= number * 100 <= column.high else ""
        raise CellError(
            f"found {said(value)}{share}", f"{column.low:g} to {column.high:g}" if share else limits(column), hint
        )
    return number


def read_count(value: Value, column: Column) -> int:
    """Return a whole number. Raises CellError."""
    number = read_number(value, column)
    if number != int(number) or number > 1e9:
        raise CellError(f"found {said(value)}", limits(column))
    return int(number)


def _plain(text: str, column: Column) -> float:
    """Return the number of a text that may have the column's unit behind it. Raises CellError."""
    short = text.removesuffix(column.unit).strip() if column.unit else text
    if _COMMA.fullmatch(short):
        raise _comma(text, short, column)
    if not _NUMBER.fullmatch(short) or len(short) > LONGEST:
        unit = f", or with its unit, as {column.example} {column.unit}" if column.unit else ""
        raise CellError(f"found {said(text)}", f"{limits(column)}{unit}")
    return float(short)


def _comma(text: str, short: str, column: Column) -> CellError:
    """Return what a number with a comma may be; one that may part thousands is either."""
    point, none = short.replace(",", "."), short.replace(",", "")
    unit = f" or {point} {column.unit}" if column.unit else ""
    thousands = len(short.partition(",")[2]) == 3 and not short.startswith("0")
    either = f"{point} or {none}" if thousands else point
    return CellError(f"found {said(text)}", f"{point}{unit}", f"did you mean {either}?")


def read_quantity(value: Value, column: Column) -> float:
    """Return a quantity in the internal unit of its kind (units.read); a bare number has the column's unit."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise CellError(f"found {said(value)}", _with_unit(column))
    text = value if isinstance(value, str) else f"{value!r}"
    bare = bool(_NUMBER.fullmatch(text)) or isinstance(value, int | float)
    short = text.removesuffix(column.unit).strip() if column.unit else text
    if _COMMA.fullmatch(short):
        raise _comma(text, short, column)
    if bare and not column.unit:
        raise CellError(
            f"found {said(value)}, without its unit", _with_unit(column), f"write {column.example}, say"
        )
    if column.unit and _NUMBER.fullmatch(short):
        read_number(value if bare else short, column)  # its limits
    try:
        number = units.read(f"{text} {column.unit}" if bare else text, column.of)
    except QuantityError:
        raise CellError(f"found {said(value)}", _with_unit(column)) from None
    top = column.high if not column.unit else units.read(f"{column.high:g} {column.unit}", column.of)
    low = column.low if not column.unit else units.read(f"{column.low:g} {column.unit}", column.of)
    if not low <= number <= top:
        raise CellError(f"found {said(value)}", limits(column) if column.unit else "a smaller one")
    return number


def _with_unit(column: Column) -> str:
    return (
        f"{column.example} or {column.example} {column.unit}"
        if column.unit
        else f"a {column.of} with its unit, as {column.example}"
    )


def read_key(value: Value) -> str:
    """Return a key of the scenario that holds a number, as resupply.lead_time.median. Raises CellError."""
    allowed = "a key of the scenario that holds a number, as resupply.lead_time.median"
    if not isinstance(value, str) or len(value) > 2 * LONGEST:
        raise CellError(f"found {said(value)}", allowed, "")
    if not kind_of(value):
        near = nearest(value)
        hint = f"did you mean {near}?" if near and kind_of(near) else ""
        raise CellError(f"found {said(value)}, no such key", allowed, hint)
    return value


def kind_of(key: str) -> str:
    """Return the kind of quantity that a key holds, as in units.read; `whole`; empty for what holds no number."""
    found, named = None, False
    parts = key.split(".")
    for place, (part, field) in enumerate(zip(parts, along(parts), strict=True)):
        if field is None and not named:
            of_law = found is not None and found.kind.startswith("law of ") and place == len(parts) - 1
            return _number_kind(found.kind) if found and of_law and part in LAW_WORDS else ""
        found, named = (field, field.kind == NAMED) if field is not None else (found, False)
    return _number_kind(found.kind) if found is not None and not named else ""


def _number_kind(kind: str) -> str:
    plain = kind.removeprefix("law of ")
    return plain if plain in get_args(units.Kind) or plain in PURE else ""


def read_amount(value: Value, key: str) -> tuple[str, float]:
    """Return an amount for a key as a text and in the internal unit of the key's kind. Raises CellError."""
    kind = kind_of(key)
    if key.endswith(".geometric_sd") or kind in PURE:
        kind = "number"
    known: units.Kind = kind  # type: ignore[assignment]
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise CellError(f"found {said(value)}", units.allowed(known))
    text = value if isinstance(value, str) else f"{value:.15g}"
    try:
        return text, units.read(text, known)
    except QuantityError:
        point = text.replace(",", ".")
        hint = f"did you mean {point}?" if re.match(r"\d+,\d+\b", text) and said(text).startswith('"') else ""
        raise CellError(f"found {said(value)}", units.allowed(known), hint) from None
