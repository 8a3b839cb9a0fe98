"""What was probably meant by a number that is refused: another unit, another key, points between thousands."""

from __future__ import annotations

import contextlib
import re

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.keys.fields import along
from o2sim.scenario.keys.usual import USUAL, Usual

_NUMBER = re.compile(r"(?P<number>[0-9.]+(?:[eE][+-]?[0-9]+)?)\s*(?P<unit>\D.*)")


def likely(path: str, text: str, kind: units.Kind) -> str:
    """Return a hint for a quantity beyond the limits of its key, an empty text where nothing explains it.

    The number is tried in the units in which the key is usually written, and must be usual for the key then.
    """
    usual, match = USUAL.get(pattern_of(path)), _NUMBER.fullmatch(" ".join(text.split()))
    if usual is None or match is None or _is_usual(text, kind, usual):
        return ""
    name, section = path.rpartition(".")[2], pattern_of(path).rpartition(".")[0]
    other = USUAL.get(f"{section}.{usual.instead}")
    if other is not None and _is_usual(text, kind, other):
        return f"it looks like the gas in a full cylinder; write {usual.instead}: {text} in place of {name}"
    for unit in usual.units:
        if _is_usual(f"{match['number']} {unit}", kind, usual):
            return f"{match['unit']} in place of {unit}? write {name}: {match['number']} {unit}"
    return ""


def with_unit(path: str, number: str, kind: units.Kind) -> str:
    """Return a hint for a number without a unit: the unit with which it is usual, an empty text where none is."""
    usual = USUAL.get(pattern_of(path))
    if usual is None or not re.fullmatch("[0-9.]+", number.strip()):
        return ""
    texts = [f"{number.strip()} {unit}" for unit in usual.units]
    if kind == "share":
        texts.insert(0 if float(number) < 1 else 1, f"{100 * float(number):.12g} %")
    return next((f"write {text}" for text in texts if _is_usual(text, kind, usual)), "")


def _is_usual(text: str, kind: units.Kind, usual: Usual) -> bool:
    with contextlib.suppress(QuantityError):
        return units.read(usual.least, kind) <= units.read(text, kind) <= units.read(usual.most, kind)
    return False


def pattern_of(path: str) -> str:
    """Return a dotted path as tables of keys have it: `*` for the name of a class or a ward.

    A strategy is left out, and so is what stands within a law.
    """
    parts = path.split(".")
    if parts[0] == "strategies":
        parts = parts[2:]
    named = [part if field is not None else "*" for part, field in zip(parts, along(parts), strict=True)]
    while named[-1:] == ["*"]:
        named.pop()
    return ".".join(named)


def whole_number(text: str) -> str:
    """Return a hint for a text that is no whole number: without separators, decimals of 0, or a word behind it."""
    if re.fullmatch(r"[0-9]{1,3}(?:[.,' ][0-9]{3})+", text):
        return f"write {re.sub(r'[^0-9]', '', text)}, without separators"
    match = re.fullmatch(r"([0-9]{1,9})(?:\.0+)?(?:\s+[a-z]+)?", text)
    return f"write {int(match[1])}, the number alone" if match else ""
