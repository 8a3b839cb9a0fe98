"""Reads what is typed into the fields of today: whole numbers, pressures, shares, litres, days, times."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping

from o2sim.desk.words import say

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NUMBER = r"\d{1,5}(?:\.\d{1,3})?"
_WORDED = re.compile(r"(\d{1,2})\.?\s+([A-Za-z]{3})[a-z]*\.?(?:\s+(\d{4}))?")
Read = Callable[[str, dt.date], object]


def whole(typed: str, _: dt.date | None = None) -> int | None:
    """Return a whole number; None for what is none."""
    return int(typed) if re.fullmatch(r"[0-9]{1,4}", typed) else None


def pressure(typed: str, _: dt.date | None = None) -> float | None:
    """Return a gauge pressure in bar; None for what is none."""
    return _number(re.sub(r"\s*bar$", "", typed, flags=re.IGNORECASE), 1_000)


def share(typed: str, _: dt.date | None = None) -> float | None:
    """Return per cent; None for what is none."""
    return _number(re.sub(r"\s*%$", "", typed), 100)


def litres(typed: str, _: dt.date | None = None) -> float | None:
    """Return litres; None for what is none."""
    return _number(re.sub(r"\s*[lL]$", "", typed), 99_999)


def _number(text: str, most: float) -> float | None:
    return float(text) if re.fullmatch(_NUMBER, text, re.ASCII) and float(text) <= most else None


def day(typed: str, today: dt.date) -> dt.date | None:
    """Return a date; without its year the last such day that is not to come. None for what is no date."""
    try:
        return dt.date.fromisoformat(typed)
    except ValueError:
        found = _WORDED.fullmatch(typed)
    month = found[2].lower() if found else ""
    if found is None or month not in MONTHS:
        return None
    try:
        when = dt.date(int(found[3] or today.year), MONTHS.index(month) + 1, int(found[1]))
        return when if found[3] or when <= today else when.replace(year=today.year - 1)
    except ValueError:
        return None


def clock(typed: str, _: dt.date | None = None) -> dt.time | None:
    """Return a time of day; None for what is none."""
    found = re.fullmatch(r"([0-9]{1,2})[:.]([0-9]{2})", typed)
    if not found or int(found[1]) > 23 or int(found[2]) > 59:
        return None
    return dt.time(int(found[1]), int(found[2]))


READ: Mapping[str, Read] = {
    "count": whole,  # which is needed
    "whole": whole,
    "gauge": pressure,
    "share": share,
    "litres": litres,
    "day": day,
    "time": clock,
}
BAD: Mapping[str, Callable[[str], str]] = {
    "count": lambda typed: say("today_count_bad", found=typed),
    "whole": lambda typed: say("today_whole_bad", found=typed),
    "gauge": lambda typed: say("today_gauge_bad", found=typed),
    "share": lambda typed: say("today_share_bad", found=typed),
    "litres": lambda typed: say("today_litres_bad", found=typed),
    "day": lambda typed: say("today_day_bad", found=typed),
    "time": lambda typed: say("today_time_bad", found=typed),
}
