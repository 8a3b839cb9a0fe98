"""From rows of the register to durations: dates or clocks, still on, there before the book began, rounded.

Everything in hours. A date stands for its day, so two dates are a step of 24 h of which both ends are unknown; one
clock beside one date leaves a day open.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from o2sim.fits.covered import DAY, Covered, plain
from o2sim.fits.patients.comings import REGISTER, put_on
from o2sim.fits.patients.texts import counted, percent
from o2sim.fits.usual import usual_shift
from o2sim.records.books import Records, kept
from o2sim.records.doubts import BY_CHANCE, ENOUGH, OFTEN_WHOLE
from o2sim.records.rows import DATES_ONLY, Stay, When
from o2sim.statistics.fitting.spells import Spells

HOUR = dt.timedelta(hours=1)
_DAY_H = 24.0
_LEAST_H = 1 / 60  # for a stay that begins and ends at the same minute
_FULL_HOURS = 0.5  # of clocks, from which they are taken as rounded to the hour


@dataclass(frozen=True)
class Kept:
    """How the register was kept: its days, whether its clocks count, clock at the end less that at the beginning.

    shift: in days. whole_days: stays of whole days to the minute count as dates. full_hours: clocks are rounded.
    """

    there: Covered
    begins: dt.datetime | None  # where Place says so
    ends: dt.datetime
    dates_only: bool
    shift: float
    whole_days: bool
    full_hours: bool
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Rows:
    """Durations of a class (h), how many rows there are, and what is doubtful of them."""

    spells: Spells
    rows: int
    cautions: tuple[str, ...]


def how_kept(records: Records, there: Covered) -> Kept:
    """Return how the register was kept, from Place and from its rows."""
    place = kept(records.places, REGISTER, "clock")
    dates_only = place is not None and place.clock == DATES_ONLY
    begin = kept(records.places, REGISTER, "kept_from")
    spans = [] if dates_only else _spans(records.once)
    whole = float(np.mean([span % DAY == dt.timedelta() for span in spans])) if spans else 0.0
    clocks = [] if dates_only else [when for stay in records.once for when in _clocks(stay)]
    full = float(np.mean([when.minute == 0 and when.second == 0 for when in clocks])) if clocks else 0.0
    is_heaped = len(spans) >= ENOUGH and whole >= OFTEN_WHOLE
    cautions = []
    if is_heaped:
        cautions.append(
            f"{percent(whole)} of stays with times are whole multiples of 24 h: their times were likely filled in"
            " later, and only their dates are used"
        )
    if begin is None:
        cautions.append("Place does not say when the register was begun: who was on oxygen by then is not known")
    return Kept(
        there,
        None if begin is None else _midnight(there.first),
        _midnight(there.last) + DAY,
        dates_only,
        _shift(records, [] if dates_only else records.once),
        is_heaped,
        len(clocks) >= ENOUGH and full >= _FULL_HOURS,
        (*cautions, *_empty_end(records.once, there)),
    )


def rows_of(stays: Sequence[Stay], how: Kept) -> Rows:
    """Return the durations of some rows, each with its own likelihood, and what is doubtful of those left out."""
    made, no_end, no_begin, before = [], 0, 0, 0
    for stay in stays:
        begun = put_on(stay)
        if begun is None:
            no_begin += 1
        elif stay.ended is None and not stay.still_on:
            no_end += 1
        elif how.begins is not None and stay.ended is not None and plain(stay.ended) < plain(how.begins):
            before += 1
        else:
            made.append(_row(begun, stay.ended, how))
    stand_in = sum(stay.begun is None and stay.arrived is not None for stay in stays)
    left_out = (
        (no_end, "stays have no end and no x under Still on: left out of how long stays are"),
        (no_begin, "stays have no day on which oxygen was begun: left out"),
        (before, "stays ended before the book begins: left out"),
        (stand_in, "stays have no day on which oxygen was begun: the day of arrival is taken"),
    )
    cautions = tuple(counted(count, len(stays), what) for count, what in left_out if count)
    columns = np.array(made, np.float64).reshape(-1, 6).T
    return Rows(Spells(*(np.array(column) for column in columns)), len(stays), cautions)


def _row(begun: When, ended: When | None, how: Kept) -> tuple[float, float, float, float, float, float]:
    """Return low, high, step, entry, limit, shift of a row, as in Spells."""
    clocks = isinstance(begun, dt.datetime), isinstance(ended, dt.datetime)
    earlier = how.begins is not None and plain(begun) < plain(how.begins)
    whole = all(clocks) and how.whole_days and _hours(ended, begun) % _DAY_H == 0
    if how.dates_only or whole or (ended is not None and not any(clocks)) or (earlier and not all(clocks)):
        return _by_dates(plain(begun), None if ended is None else plain(ended), how)
    if ended is None:
        return _by_dates(begun, None, how) if not clocks[0] else _still_on(begun, how)
    limit = _hours(how.ends, begun)
    entry = _hours(how.begins, begun) if earlier and how.begins is not None else 0.0
    if all(clocks):
        span = _hours(ended, begun)
        low, high = (span - 0.5, span + 0.5) if how.full_hours else (max(span, _LEAST_H),) * 2
        return max(low, entry, 0.0), max(high, entry + how.full_hours * _LEAST_H), 0.0, entry, limit, 0.0
    low = _hours(ended, begun) - (_DAY_H if clocks[1] else 0.0)
    return max(low, 0.0), low + _DAY_H, 0.0, 0.0, limit, 0.0


def _still_on(begun: When, how: Kept) -> tuple[float, float, float, float, float, float]:
    so_far = _hours(how.ends, begun)
    entry = max(_hours(how.begins, begun), 0.0) if how.begins is not None else 0.0
    return so_far, np.inf, 0.0, entry, so_far, 0.0


def _by_dates(begun: dt.date, ended: dt.date | None, how: Kept) -> tuple[float, float, float, float, float, float]:
    """Return a row known by its dates; one still on is in its c-th day, c = last day of the book - begun + 1."""
    most = ((how.ends.date() - begun).days) * _DAY_H
    entry = max((how.begins.date() - begun).days, 0) * _DAY_H if how.begins is not None else 0.0
    if ended is None:
        return most, np.inf, _DAY_H, entry, most, how.shift
    steps = (ended - begun).days * _DAY_H
    return steps, steps, _DAY_H, entry, most, how.shift


def _hours(later: When | None, begun: When) -> float:
    """Return the hours from one time to another, a date being its midnight."""
    assert later is not None
    return (_midnight(later) - _midnight(begun)) / HOUR


def _midnight(when: When) -> dt.datetime:
    """Return a time as it is, and a date as the midnight that it begins with."""
    return when if isinstance(when, dt.datetime) else dt.datetime(when.year, when.month, when.day)


def _spans(stays: Iterable[Stay]) -> list[dt.timedelta]:
    return [
        stay.ended - begun
        for stay in stays
        if isinstance(stay.ended, dt.datetime) and isinstance(begun := put_on(stay), dt.datetime)
    ]


def _clocks(stay: Stay) -> list[dt.datetime]:
    return [when for when in (put_on(stay), stay.ended) if isinstance(when, dt.datetime)]


def _shift(records: Records, stays: Sequence[Stay]) -> float:
    """Return the usual clock at the end less that at the beginning, in days; 0 where nobody says."""
    return usual_shift(records, REGISTER, map(put_on, stays), (stay.ended for stay in stays)) or 0.0


def _empty_end(stays: Sequence[Stay], there: Covered) -> tuple[str, ...]:
    """Return a caution where the last days are empty for longer than chance would have it."""
    days = sorted(plain(day) for stay in stays if (day := put_on(stay)) is not None)
    if len(days) < ENOUGH or not there.is_stated:
        return ()
    empty = (there.last - days[-1]).days
    rate = (len(days) - 1) / max(1, (days[-1] - days[0]).days)
    if empty <= -np.log(BY_CHANCE) / rate:
        return ()
    return (f"the last {empty} days of the book are empty, and are taken as days on which nobody came",)
