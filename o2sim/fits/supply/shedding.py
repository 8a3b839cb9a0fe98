"""Cuts that keep to a time of day: announced ones, or those that a test finds; each window and its days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from o2sim.fits.covered import Covered
from o2sim.fits.found import ROWS, Curve, Panel, Part, Whole
from o2sim.fits.supply.clock import hours_since
from o2sim.records.rows import Cut
from o2sim.statistics.fitting.on_off import dark_by_hour, windows
from o2sim.statistics.fitting.season import hours_of_day

SHEET, KEY = "Power cuts", "power.load_shedding"
OFTEN = 0.5  # of the days on which a window holds
LEVEL = 0.05  # of the test
FEWEST = 10  # cuts, below which the test says nothing
STEP_MIN = 15  # to which the ends of a window are written
SLACK_H = 1.0  # by which a cut of a window may begin before or after it does
NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True)
class Shedding:
    """The part about windows, None without any; cuts that keep to none; what was found beside, in words."""

    part: Part | None
    others: tuple[Cut, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Daily:
    """A window: hours of the day when it begins and ends (past 24 after midnight), weekdays (Monday 0), cuts."""

    begin_h: float
    end_h: float
    weekdays: tuple[int, ...]
    cuts: tuple[Cut, ...]

    @property
    def text(self) -> str:
        """Return it as a scenario has it."""
        days = "" if len(self.weekdays) == 7 else f", days: [{', '.join(NAMES[day] for day in self.weekdays)}]"
        return f'{{from: "{_clock(self.begin_h)}", to: "{_clock(self.end_h)}"{days}}}'


def shedding(cuts: Sequence[Cut], book: Covered) -> Shedding:
    """Return the windows of cuts in order of time: of those planned, else where the test finds a time of day.

    A window is hours of the day in which power is off on at least half of the days, or of the days of the week
    that it keeps to.
    """
    planned = [cut for cut in cuts if cut.planned]
    if planned:
        found = daily(planned, book)
        words = f"{len(planned)} of {len(cuts)} cuts were announced"
        if not found:
            return Shedding(None, tuple(cuts), (
                f"{words}, but at no time of day on half of the days: they count as cuts at any time",
            ))  # fmt: skip
        return _made(found, cuts, book, words)
    whole = [cut for cut in cuts if cut.off_at is not None]
    if len(whole) < FEWEST:
        return Shedding(None, tuple(cuts))
    circle = hours_of_day([cut.off_at.hour + cut.off_at.minute / 60 for cut in whole if cut.off_at is not None])
    if circle.chance >= LEVEL:
        return Shedding(None, tuple(cuts))
    words = (
        f"cuts begin mostly around {_clock(round(circle.hour * 4) / 4)} ({len(whole)} starts, mean length"
        f" {circle.length:.2f} on the circle of the day, by chance alone p = {max(circle.chance, 1e-4):.2g})"
    )
    found = daily(whole, book)
    if not found:
        return Shedding(None, tuple(cuts), (
            f"{words}; as no hour is dark on half of the days, they are written as cuts at any hour",
        ))  # fmt: skip
    return _made(found, cuts, book, words)


def daily(cuts: Sequence[Cut], book: Covered) -> tuple[Daily, ...]:
    """Return the windows that cuts keep to, by hours dark on half of the covered days of their weekdays."""
    ended = [cut for cut in cuts if cut.off_at is not None and cut.on_at is not None]
    held = _weekdays(ended, book)
    ended = [cut for cut in ended if cut.off_at is not None and cut.off_at.weekday() in held]
    days = sum(day.weekday() in held for day in book.dates)
    if not days:
        return ()
    off = np.array([hours_since(book.first, cut.off_at) for cut in ended if cut.off_at is not None])
    on = np.array([hours_since(book.first, cut.on_at) for cut in ended if cut.on_at is not None])
    found = []
    for begin, end in windows(dark_by_hour(off, on, days), OFTEN):
        late = (off % 24 - begin + 12) % 24 - 12
        mine = [cut for cut, away, last in zip(ended, late, on - off, strict=True)
                if -SLACK_H <= away <= end - begin and away + last >= (end - begin) / 2]  # fmt: skip
        if mine:
            found.append(_daily(mine, begin, tuple(sorted(held))))
    return tuple(found)


def _weekdays(cuts: Sequence[Cut], book: Covered) -> set[int]:
    """Return the days of the week on half of which a cut begins."""
    dates = {cut.off_at.date() for cut in cuts if cut.off_at is not None}
    kept = [day.weekday() for day in book.dates]
    return {
        day for day in range(7) if sum(date.weekday() == day for date in dates) >= OFTEN * max(kept.count(day), 1)
    }


def _daily(cuts: Sequence[Cut], near: int, weekdays: tuple[int, ...]) -> Daily:
    """Return a window by the medians of when its cuts begin and end, to a quarter of an hour."""
    begins = [cut.off_at.hour + cut.off_at.minute / 60 for cut in cuts if cut.off_at is not None]
    lasts = [(cut.on_at - cut.off_at) / dt.timedelta(hours=1) for cut in cuts if cut.off_at and cut.on_at]
    begin = near + float(np.median([(hour - near + 12) % 24 - 12 for hour in begins]))
    end = begin + float(np.median(lasts))
    return Daily(_quarter(begin), _quarter(end), weekdays, tuple(cuts))


def _quarter(hour: float) -> float:
    return round(hour * 60 / STEP_MIN) * STEP_MIN / 60


def _made(found: Sequence[Daily], cuts: Sequence[Cut], book: Covered, words: str) -> Shedding:
    """Return the part of windows, and the cuts that are in none."""
    inside = {cut.row for window in found for cut in window.cuts}
    others = tuple(cut for cut in cuts if cut.row not in inside)
    part = Part(
        "windows of planned cuts", SHEET, ROWS, f"{len(inside)} of {len(cuts)} cuts, {book.said()}; {words}",
        wholes=(Whole(KEY, f"[{', '.join(window.text for window in found)}]"),),
        cautions=(
            f"{words}: {len(inside)} of {len(cuts)} are written as windows by the clock, as if they came on each"
            f" such day; in the book they came on {100 * _kept(found, book):.0f} % of the days",
        ),
        panels=(hours_panel(cuts, book),), rows=len(cuts), used=len(inside),
    )  # fmt: skip
    return Shedding(part, others)


def _kept(found: Sequence[Daily], book: Covered) -> float:
    """Return the share of its days on which a window was kept, of all windows."""
    days = sum(sum(day.weekday() in window.weekdays for day in book.dates) for window in found)
    return min(sum(len(window.cuts) for window in found) / max(days, 1), 1.0)


def hours_panel(cuts: Sequence[Cut], book: Covered) -> Panel:
    """Return the share of days without power by hour of the day."""
    ended = [cut for cut in cuts if cut.off_at is not None and cut.on_at is not None]
    off = [hours_since(book.first, cut.off_at) for cut in ended if cut.off_at is not None]
    on = [hours_since(book.first, cut.on_at) for cut in ended if cut.on_at is not None]
    dark = np.asarray(dark_by_hour(off, on, book.days) * 100, np.float64)
    bars = Curve(np.asarray(np.arange(24) + 0.5, np.float64), dark, "without power", "bars")
    return Panel("Hours of the day without power", "hour of the day", "time without power, %", (bars,))


def _clock(hour: float) -> str:
    minutes = round(hour * 60) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
