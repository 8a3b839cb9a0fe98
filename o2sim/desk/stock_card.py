"""The stock card: the counts of a hospital with their forecasts, a line each, in a file beside its scenario.

It is the log of `o2sim today --log`, which numbers by class go into and no row of a patient. Of one day it keeps
the count that was written last.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

from o2sim.desk.words import say
from o2sim.errors import O2simError
from o2sim.questions.today.log import is_log, lines_of
from o2sim.scenario.changing.safe_file import NO_FILE, text_hash, write_safely

SHOWN = 10  # counts on the page
NUMBERS = ("full", "part_used", "empty", "on_order")


@dataclass(frozen=True)
class Row:
    """A count of the card, in words."""

    counted: str
    full: str
    part_used: str
    empty: str
    on_order: str
    on_oxygen: str


def card_name(file: str) -> str:
    """Return what the stock card of a scenario's file is called."""
    return f"{PurePath(file).stem}-stock-card.jsonl"


def lines_there(path: Path) -> list[str]:
    """Return the lines of a card, none without one. Raises O2simError where it is no text, or too large."""
    return lines_of(path) if path.exists() else []


def text_there(path: Path) -> str:
    """Return the text of a card, "" where there is none."""
    return path.read_bytes().decode() if path.exists() else ""


def hash_there(path: Path) -> str:
    """Return the hash of a card, NO_FILE where there is none."""
    return text_hash(text_there(path)) if path.exists() else NO_FILE


def without_day(lines: Iterable[str], line: str) -> list[str]:
    """Return the lines but those of the hospital and day of one line; what cannot be read stays."""
    return [each for each in lines if _day(each) is None or _day(each) != _day(line)]


def _day(line: str) -> tuple[str, str] | None:
    """Return whose count a line is and of which day; None for what is no count."""
    found = _read(line)
    return None if found is None else (str(found["scenario"]), str(found["counted"])[:10])


def _read(line: str) -> dict[str, Any] | None:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    whole = isinstance(found, dict) and is_log(line) and isinstance(found.get("counts"), dict)
    return found if whole and {"scenario", "counted"} <= found.keys() else None


def put(path: Path, line: str) -> tuple[str, str, bool]:
    """Write a count into a card; return its text before and after, and whether another count of the day was there.

    Raises O2simError for a file that is no card, ChangedMeanwhileError and OutputError where it was not written.
    """
    before = text_there(path)
    lines = lines_there(path)
    if lines and not any(map(is_log, lines)):
        raise O2simError(say("card_other", name=path.name))
    kept = without_day(lines, line)
    after = "".join(f"{each}\n" for each in (*kept, line))
    write_safely(path, after, text_hash(before) if path.exists() else NO_FILE)
    return before, after, len(kept) < len(lines)


def put_back(path: Path, text: str, expected_hash: str) -> None:
    """Write what stood in a file before a change; a card that it began goes. Raises as write_safely does."""
    write_safely(path, text, expected_hash)
    if not text:
        path.unlink()


def rows(lines: Iterable[str]) -> tuple[list[Row], int]:
    """Return the counts of a card, newest first, and how many lines cannot be read."""
    read = [_read(line) for line in lines]
    found = sorted(
        (each for each in read if each is not None), key=lambda each: str(each["counted"]), reverse=True
    )
    return [_row(each) for each in found], read.count(None)


def _row(found: dict[str, Any]) -> Row:
    counts = found["counts"]
    there = counts.get("on_oxygen")
    on_oxygen = say("card_unknown")
    if isinstance(there, dict):
        on_oxygen = ", ".join(f"{name} {count}" for name, count in there.items() if count) or "0"
    full, part_used, empty, on_order = (str(counts.get(name, "")) for name in NUMBERS)
    return Row(str(found["counted"])[:16].replace("T", " "), full, part_used, empty, on_order, on_oxygen)
