"""A text that is said otherwise of one thing than of several."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Counted:
    """What is said of one thing and of several; by: the name of the value that says how many there are."""

    one: str
    many: str
    by: str = "count"


def how_many(value: object) -> int:
    """Return a number as a catalogue counts it: 1 of one thing alone; a number with decimals is never one."""
    text = str(value).replace(",", "")
    return int(text) if text.isascii() and text.isdigit() else 2
