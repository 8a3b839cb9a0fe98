"""Reads the cells of a table: a time, a quantity, in the way that is stated for the file; nothing is guessed.

Numbers and dates are quoted in messages. Any other text is described and never repeated: tables may hold patients.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import replace
from functools import lru_cache
from typing import get_args

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.building.values import split_message
from o2sim.scenario.text.problems import listing, quote
from o2sim.scenario.types.tables import (
    COMMA,
    DATES,
    DAY_FIRST,
    DECIMALS,
    MONTH_FIRST,
    POINT,
    YEAR_FIRST,
    Dialect,
)  # fmt: skip

MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
          "november", "december")  # fmt: skip
YEARS = (1900, 2200)  # of a date; keeps start and horizon inside the calendar
FARTHEST_OFFSET_S = 14 * 3_600  # no place on earth is further from UTC
EXAMPLES = {YEAR_FIRST: "2027-02-13 14:05", DAY_FIRST: "13.02.2027 14:05", MONTH_FIRST: "02/13/2027 14:05"}
_MARKS = {POINT: ("a decimal point", "as 2.5"), COMMA: ("a decimal comma", "as 2,5")}
_ZONE = r"(?:Z|(?:UTC|GMT)?(?P<sign>[+-])(?P<hours>\d\d?)(?::?(?P<minutes>[0-5]\d))?|UTC|GMT)"
_TIME = (
    r"(?P<hour>\d{1,2}):(?P<minute>\d\d)(?::(?P<second>\d\d(?:\.\d{1,9})?))?(?:\s?(?P<half>[AaPp])\.?[Mm]\.?)?"
    rf"(?:\s?(?P<zone>{_ZONE}))?"
)
_YEAR, _DAY, _MONTH = r"(?P<year>\d{4})", r"(?P<day>\d{1,2})", r"(?P<month>\d{1,2})"
_SHAPES = {
    order: re.compile(rf"{date}(?:(?:T|\s+){_TIME})?", re.A)
    for order, date in (
        (YEAR_FIRST, rf"{_YEAR}(?P<by>[-/.]){_MONTH}(?P=by){_DAY}"),
        (DAY_FIRST, rf"{_DAY}(?P<by>[-/.]){_MONTH}(?P=by){_YEAR}"),
        (MONTH_FIRST, rf"{_MONTH}(?P<by>[-/]){_DAY}(?P=by){_YEAR}"),  # with dots the day always comes first
    )
}
_SHORT_YEAR = re.compile(rf"\d\d?([-/.])\d\d?\1\d\d(?:(?:T|\s+){_TIME})?", re.A)
_TIME_ALONE = re.compile(_TIME, re.A)
_AMOUNT = re.compile(
    r"(?P<number>[+-]?(?:\d{1,7}(?:[.,]\d{0,17})?|[.,]\d{1,17}))\s*(?P<unit>(?:[^\d.,].*)?)", re.A
)
_GROUPED = re.compile(
    r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?|[+-]?\d{1,3}(?:\.\d{3})+,\d*|[+-]?\d{1,3}(?:\.\d{3}){2,}", re.A
)


Say = Callable[[str, str], str]  # how a key and its value are stated: in a scenario, or at a command


class CellError(Exception):
    """What is wrong with a cell: what was found, what is allowed, what to do."""

    def __init__(self, found: str, allowed: str = "", hint: str = "") -> None:
        """Take the parts of a message; found says no more of the cell than `shown` does."""
        super().__init__(found)
        self.parts = (found, allowed, hint)


def shown(text: str) -> str:
    """Return a number or a date between quotes, and a description of any other text."""
    if not text:
        return "nothing"
    amount = _AMOUNT.fullmatch(text)
    if (amount and amount["unit"] in _every_unit()) or _GROUPED.fullmatch(text) or _is_time(text):
        return quote(text)
    return f"a text of {len(text)} character{'s' if len(text) > 1 else ''}"


def _is_time(text: str) -> bool:
    patterns = (*_SHAPES.values(), _SHORT_YEAR, _TIME_ALONE)
    return any(pattern.fullmatch(text) for pattern in patterns)


@lru_cache(maxsize=1)
def _every_unit() -> frozenset[str]:
    kinds: tuple[units.Kind, ...] = get_args(units.Kind)
    return frozenset(
        {"", *(text for kind in kinds if kind != "number" for text in units.spellings(kind, every=True))}
    )


def offset_s(text: str) -> int | None:
    """Return the seconds by which UTC+02:00, UTC or Z is ahead of UTC; None for what is no offset."""
    found = re.fullmatch(_ZONE, text.strip(), re.A)
    if found is None:
        return None
    seconds = int(found["hours"] or 0) * 3_600 + int(found["minutes"] or 0) * 60
    return None if seconds > FARTHEST_OFFSET_S else -seconds if found["sign"] == "-" else seconds


def offset_text(seconds: int) -> str:
    """Return an offset as it is stated: UTC+02:00."""
    hours, rest = divmod(abs(seconds), 3_600)
    return f"UTC{'-' if seconds < 0 else '+'}{hours:02d}:{rest // 60:02d}"


class Cells:
    """Reads cells in the way a file is written.

    typed: the cells are those of a data frame, whose numbers and dates come plain whatever the file is like.
    every: all cells that may hold a time or a number, to see which other way would read all of them.
    """

    def __init__(
        self,
        dialect: Dialect,
        every: Iterable[str] = (),
        *,
        typed: bool = False,
        say: Say = "{}: {}".format,
        tell: Callable[[str], str] = shown,
    ) -> None:
        """Take what is stated of the file, its cells, how a key is stated with its value, how a cell is shown."""
        self.dialect, self.typed, self.say, self.tell = dialect, typed, say, tell
        cells = set(every)
        dates = [cell for cell in cells if _first(cell)]
        self.orders = [order for order in DATES if all(_match(cell, order) for cell in dates)]
        numbers = [found["number"] for cell in cells.difference(dates) if (found := _AMOUNT.fullmatch(cell))]
        self.marks = {mark for mark in ".," if any(mark in number for number in numbers)}
        self.zone = min((found["zone"] for cell in dates if (found := _first(cell)) and found["zone"]), default="")

    def with_dates(self, order: str) -> Cells:
        """Return a reader of the same cells with the dates in another order."""
        again = copy(self)
        again.dialect = replace(self.dialect, dates=order)
        return again

    def moment(self, text: str) -> tuple[dt.datetime, bool]:
        """Return a local time, and whether the cell has a time of day. Raises CellError."""
        found = _match(text, self.dialect.dates) or (_match(text, YEAR_FIRST) if self.typed else None)
        if found is None:
            raise self._no_time(text)
        year, month, day = (int(found[name]) for name in ("year", "month", "day"))
        if not YEARS[0] <= year <= YEARS[1]:
            raise CellError(f"found {self.tell(text)}", f"years {YEARS[0]} to {YEARS[1]}")
        moment = dt.datetime(year, month, day) + _time_of_day(found)
        if found["zone"]:
            moment += self._to_local(text, found["zone"])
        return moment, found["hour"] is not None

    def number(self, text: str) -> str:
        """Return a number, with what follows it, with a decimal point. Raises CellError."""
        found = _AMOUNT.fullmatch(text)
        number = found["number"] if found else ""
        wrong, right = (",", ".") if self.dialect.decimal == POINT else (".", ",")
        if wrong in number and not (self.typed and wrong == "."):
            raise self._other_mark(text)
        return text.replace(right, ".", 1) if found and right != "." else text

    def quantity(self, text: str, kind: units.Kind, unit: str = "") -> float:
        """Return a quantity in the internal unit of its kind; unit is that of a bare number. Raises CellError."""
        if not text:
            raise CellError("found nothing", units.allowed(kind) + (f", or a number of {unit}" if unit else ""))
        if _GROUPED.fullmatch(text) and text.count(",") + text.count(".") > 1:
            raise CellError(f"found {self.tell(text)}, digits in groups", "numbers without separators, as 1500")
        plain = self.number(text)
        bare = unit and re.fullmatch(r"[+-]?[0-9.]+", plain, re.A)
        try:
            return units.read(f"{plain} {unit}" if bare else plain, kind)
        except QuantityError as error:
            found, allowed, hint = split_message(error)
            reason = found.partition("': ")[2] if self.tell(text)[:1] in "'\"" else ""
            if not reason:
                raise CellError(f"found {self.tell(text)}", allowed or units.allowed(kind)) from None
            raise CellError(f"found {self.tell(text)}: {reason}", allowed, hint) from None

    def _other_mark(self, text: str) -> CellError:
        stated = self.dialect.decimal
        other = next(each for each in DECIMALS if each != stated)
        hint = (
            f"write {self.say('decimal', other)}"
            if len(self.marks) < 2
            else "the file has both: write all numbers alike"
        )
        if _GROUPED.fullmatch(text):
            hint += "; where it parts thousands, leave it out"
        return CellError(f"found {self.tell(text)}, which has {_MARKS[other][0]}", ", ".join(_MARKS[stated]), hint)

    def _to_local(self, text: str, zone: str) -> dt.timedelta:
        """Return what makes a time with an offset a local one; refuse it where nobody said what is local."""
        ahead_s, here_s = offset_s(zone), self.dialect.time_zone_s
        if ahead_s is None:
            raise CellError(f"found {self.tell(text)}", "offsets from UTC of at most 14 hours")
        if here_s is None:
            said = offset_text(offset_s(self.zone) or 0)
            hint = (
                f"write time_zone: {said}, or the offset of the place where it is another: times are turned to it"
            )
            raise CellError(f"found {self.tell(text)}, which has an offset from UTC", "local times", hint)
        return dt.timedelta(seconds=here_s - ahead_s)

    def _no_time(self, text: str) -> CellError:
        """Return why a cell is no time in the way stated, and in which other way it is one."""
        stated = self.dialect.dates
        allowed = f"a date with the {stated}, as {EXAMPLES[stated].split()[0]} or {EXAMPLES[stated]}"
        others = [order for order in DATES if order != stated and _match(text, order)]
        said, hint = f"found {self.tell(text)}", ""
        if others:
            ways = [self.say("dates", order) for order in others if order in self.orders]
            hint = f"write {listing(ways)}" if ways else "the file has dates of several forms: write all alike"
            if len(ways) > 1:
                hint += ", as the file means it: the cells alone do not say"
        elif _SHAPES[stated].fullmatch(text):
            said += ": no such day or time"
        elif _SHORT_YEAR.fullmatch(text):
            said, hint = f"{said}, a year of two digits", "write the year with four digits"
        elif _TIME_ALONE.fullmatch(text):
            said, hint = (
                f"{said}, a time without a date",
                "write columns: {...: [date, time]} where they stand apart",
            )
        elif _AMOUNT.fullmatch(text) and not re.search("[a-zA-Z]", text):
            said, hint = f"{said}, a plain number", "let the spreadsheet show the column as dates, and save again"
        return CellError(said, allowed, hint)


def _match(text: str, order: str) -> re.Match[str] | None:
    """Return a time in one order of the date; None for what is none, or no day of any calendar."""
    found = _SHAPES[order].fullmatch(text)
    if found is None:
        return None
    try:
        dt.date(int(found["year"]), int(found["month"]), int(found["day"]))
        _time_of_day(found)
    except ValueError:
        return None
    return found


def _first(text: str) -> re.Match[str] | None:
    return next((found for order in DATES if (found := _match(text, order))), None)


def _time_of_day(found: re.Match[str]) -> dt.timedelta:
    """Return the time since midnight, 0 where there is none, a day for 24:00. Raises ValueError."""
    if found["hour"] is None:
        return dt.timedelta()
    hour, minute, second = int(found["hour"]), int(found["minute"]), float(found["second"] or 0)
    if found["half"]:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if found["half"] in "Pp" else 0)
    if minute > 59 or second >= 60 or hour > 24 or (hour == 24 and minute + second > 0):
        raise ValueError
    return dt.timedelta(hours=hour, minutes=minute, seconds=second)
