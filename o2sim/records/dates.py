"""Reads a cell as a date, a month, a date with a clock, or a clock; nothing is guessed."""

from __future__ import annotations

import datetime as dt
import re

from o2sim.records.raw import Value
from o2sim.records.rows import DAY_FIRST, YEAR_FIRST, When

FIRST_YEAR, LAST_YEAR = 1990, 2100
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
          "November", "December")  # fmt: skip
_CLOCK = r"(\d{1,2}):([0-5]\d)(?::([0-5]\d))?"
_TIME = re.compile(_CLOCK, re.A)
_ISO = re.compile(rf"(\d{{4}})[-/.](\d\d?)[-/.](\d\d?)(?:[T ]{_CLOCK})?", re.A)
_MONTH = re.compile(r"(\d{4})-(\d\d?)", re.A)
_OTHER = re.compile(rf"(\d\d?)[-/.](\d\d?)[-/.](\d{{4}})(?:[T ]{_CLOCK})?", re.A)
_SHORT = re.compile(rf"\d\d?[-/.]\d\d?[-/.]\d\d(?:[T ]{_CLOCK})?", re.A)


class CellError(Exception):
    """What is wrong with a cell: what was found, what is allowed, what to write."""

    def __init__(self, found: str, allowed: str = "", write: str = "") -> None:
        """Take the parts of a message; found quotes dates, numbers and words of ours only."""
        super().__init__(found)
        self.parts = (found, allowed, write)


def said(value: Value) -> str:
    """Return a cell for a message: a date or a number as it is, any other text by its length."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return iso(value)
    if isinstance(value, dt.timedelta):
        return "a length of time"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    assert isinstance(value, str)
    number = re.fullmatch(
        r"[+-]?\d{1,6}(?:[.,]\d{1,6})?(?: ?(?:%|L/min|l/min|L|l|h|bar|kPa|psi|V|days?))?", value, re.A
    )
    if number or _is_date(value):
        return f'"{value}"'
    return f"a text of {len(value)} character{'s' if len(value) > 1 else ''}"


def _is_date(text: str) -> bool:
    return any(shape.fullmatch(text) for shape in (_ISO, _OTHER, _SHORT, _MONTH, _TIME))


def iso(when: dt.date | dt.time) -> str:
    """Return a date or a time as it is to be written: 2027-03-04 14:05."""
    if isinstance(when, dt.datetime):
        return f"{when:%Y-%m-%d}" if when.time() == dt.time() else f"{when:%Y-%m-%d %H:%M}"
    return f"{when:%H:%M}" if isinstance(when, dt.time) else when.isoformat()


def in_words(when: When) -> str:
    """Return a day in words, with its year: 4 March 2027."""
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def read_date(value: Value, order: str, *, clock: bool) -> dt.datetime | dt.date:
    """Return a date, or a datetime where a clock is written and allowed. Raises CellError.

    order: how dates that are texts are written, empty where nobody said. A cell that a spreadsheet knows as a date
    with midnight is taken for a date alone.
    """
    allowed = "a date, as 2027-03-04" + (" or 2027-03-04 14:05" if clock else "")
    if isinstance(value, str):
        when = _from_text(value, order, allowed)
    elif isinstance(value, dt.datetime):
        when = _whole_second(value) if value.time() != dt.time() else value.date()
    elif isinstance(value, dt.date):
        when = value
    else:
        kind = f"the number {said(value)}" if isinstance(value, int | float) else said(value)
        raise CellError(f"found {kind}", allowed, "let the spreadsheet show the cell as a date")
    if not FIRST_YEAR <= when.year <= LAST_YEAR:
        raise CellError(f"found {iso(when)}", f"years {FIRST_YEAR} to {LAST_YEAR}")
    if isinstance(when, dt.datetime) and not clock:
        raise CellError(f"found {iso(when)}, which has a time of day", allowed, f"write {when:%Y-%m-%d}")
    return when


def read_month(value: Value, order: str) -> dt.date:
    """Return the first day of a month, from any day of it or 2027-03. Raises CellError."""
    found = _MONTH.fullmatch(value) if isinstance(value, str) else None
    if isinstance(value, str) and found and 1 <= int(found[2]) <= 12:
        value = f"{found[1]}-{found[2]}-1"
    elif isinstance(value, str) and not _is_date(value):
        raise CellError(f"found {said(value)}", "a month, as 2027-03, or a date")
    return read_date(value, order or YEAR_FIRST, clock=False).replace(day=1)


def read_instant(value: Value, order: str) -> dt.datetime:
    """Return a date with its clock. Raises CellError for a text without a clock."""
    when = read_date(value, order, clock=True)
    if isinstance(when, dt.datetime):
        return when
    if isinstance(value, str):
        raise CellError(
            f"found {said(value)}, which has no time of day", "a date and a time, as 2027-03-04 18:20",
            f"write {when.isoformat()} 00:00 where it was midnight",
        )  # fmt: skip
    return dt.datetime(when.year, when.month, when.day)


def read_clock(value: Value) -> dt.time:
    """Return a time of day. Raises CellError."""
    if isinstance(value, dt.time):
        return _whole_second(dt.datetime.combine(dt.date(2000, 1, 1), value)).time()
    found = _TIME.fullmatch(value) if isinstance(value, str) else None
    if found and int(found[1]) <= 23:
        return dt.time(int(found[1]), int(found[2]), int(found[3] or 0))
    raise CellError(f"found {said(value)}", "a time of day, as 14:05")


def _whole_second(when: dt.datetime) -> dt.datetime:
    """Return the nearest whole second: a spreadsheet keeps times as parts of a day."""
    return (when + dt.timedelta(microseconds=500_000)).replace(microsecond=0)


def _from_text(text: str, order: str, allowed: str) -> dt.datetime | dt.date:
    shape = _ISO.fullmatch(text)
    if shape:
        return _made(text, shape[1], shape[2], shape[3], shape.groups()[3:], allowed)
    other = _OTHER.fullmatch(text)
    if other and order == DAY_FIRST:
        return _made(text, other[3], other[2], other[1], other.groups()[3:], allowed)
    if other:
        raise _ambiguous(text, int(other[1]), int(other[2]), int(other[3]), stated=bool(order))
    if _SHORT.fullmatch(text):
        raise CellError(f"found {said(text)}, a year of two digits", allowed, "write the year with four digits")
    raise CellError(f"found {said(text)}", allowed)


def _made(
    text: str, year: str, month: str, day: str, clock: tuple[str | None, ...], allowed: str
) -> dt.datetime | dt.date:
    """Return the date of its parts. Raises CellError where there is no such day or time."""
    try:
        when = dt.date(int(year), int(month), int(day))
        if clock[0] is None:
            return when
        return dt.datetime.combine(when, dt.time(int(clock[0]), int(clock[1] or 0), int(clock[2] or 0)))
    except ValueError:
        raise CellError(f"found {said(text)}: no such day or time", allowed) from None


def _ambiguous(text: str, first: int, second: int, year: int, *, stated: bool) -> CellError:
    """Return what a date written with its year last may be, and how to say which."""
    ways = []
    for day, month in dict.fromkeys(((first, second), (second, first))):
        try:
            ways.append(dt.date(year, month, day))
        except ValueError:
            continue
    if not ways:
        return CellError(f"found {said(text)}: no such day", "a date, as 2027-03-04")
    may_be = " or ".join(f"{each.day} {MONTHS[each.month - 1]}" for each in ways)
    place = f" (or Place, Dates as written: {DAY_FIRST})"
    if stated:
        place = f" (Place says that dates are written {YEAR_FIRST})"
    return CellError(
        f"found the text {said(text)}; it may be {may_be}",
        "",
        f"set the cell to a date, or write {ways[0]}{place}",
    )
