"""Small Records of supply and equipment for tests of their fits, and a scenario to take what is found."""

from __future__ import annotations

import datetime as dt
from pathlib import PurePath
from typing import Any

import pandas as pd
from scenario_texts import WHOLE

from o2sim.fits.found import Part
from o2sim.records.books import Records
from o2sim.records.rows import Cut, Place
from o2sim.records.supply_rows import JobCard, Order, Unit
from o2sim.scenario.changing.joint import joint_draws
from o2sim.scenario.changing.override import changed, loaded, original_of

D, T = dt.date, dt.datetime
FIRST, LAST = D(2026, 1, 1), D(2026, 12, 31)
MINUTE = dt.timedelta(minutes=1)


def books(*, first: D | None = FIRST, last: D | None = LAST, gaps: Any = (), **rows: Any) -> Records:
    """Return Records whose books were all kept from first to last but for gaps, (first, last) each."""
    places = [Place(1, kept_from=first, kept_to=last)] if first or last else []
    places += [Place(at, missing_from=one, missing_to=other) for at, (one, other) in enumerate(gaps, 2)]
    return Records(PurePath("books.xlsx"), "0" * 16, places=tuple(places), **rows)


def day(number: int) -> D:
    """Return a day of the book, 0 for the first."""
    return FIRST + dt.timedelta(days=int(number))


def at(hours: float) -> T:
    """Return a time by its hours from the beginning of the book, to the minute."""
    return T.combine(FIRST, dt.time()) + round(hours * 60) * MINUTE


def cuts(pairs: Any, **more: Any) -> tuple[Cut, ...]:
    """Return cuts by (off, on) in hours, on None for one still on."""
    return tuple(
        Cut(row, at(off), None if on is None else at(on), **more) for row, (off, on) in enumerate(pairs, 2)
    )


def orders(pairs: Any, **more: Any) -> tuple[Order, ...]:
    """Return orders by (ordered, came) in days of the book, came None for an open one."""
    return tuple(
        Order(row, day(begin), came=None if end is None else day(end), **more)
        for row, (begin, end) in enumerate(pairs, 2)
    )


def units(hours: Any, **more: Any) -> tuple[Unit, ...]:
    """Return units that ran so many hours by their meters, all in use since the book began."""
    more = {"in_use_now": True, **more}
    return tuple(Unit(row, row, FIRST, 0, run, **more) for row, run in enumerate(hours, 1))


def cards(rows: Any) -> tuple[JobCard, ...]:
    """Return job cards by (unit, day down, meter, day back)."""
    return tuple(
        JobCard(row, unit, day(down), meter, None if back is None else day(back))
        for row, (unit, down, meter, back) in enumerate(rows, 2)
    )


def the_part(parts: tuple[Part, ...], key: str) -> Part:
    """Return the first part that gives a key."""
    return next(part for part in parts if key in part.keys)


def written(part: Part, key: str) -> str:
    """Return what a part writes whole at a key."""
    return next(whole.text for whole in part.wholes if whole.key == key)


def loads(part: Part, rows: int = 4) -> Any:
    """Return the hospital of a scenario with all that a part writes, after some of its draws were taken as joint
    ones."""
    source = original_of(WHOLE)
    wholes = {whole.key: whole.text for whole in part.wholes}
    numbers = {number.key: f"{number.likely} {number.unit}" for number in part.numbers}
    columns = {whole.key: whole.draws[:rows] for whole in part.wholes if whole.draws}
    columns |= {number.key: [f"{value} {number.unit}" for value in number.draws[:rows]] for number in part.numbers}
    assert all(len(whole.draws) in (0, 200) for whole in part.wholes)
    if columns:
        assert joint_draws(pd.DataFrame(columns), source).rows == rows
    return loaded(source, changed(source, wholes | numbers)).hospitals["mixed"]
