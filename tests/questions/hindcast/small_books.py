"""A small hospital and its books, for tests of the hindcast: everything can be reckoned by hand."""

from __future__ import annotations

import datetime as dt
from pathlib import PurePath

import numpy as np

from o2sim.questions.hindcast.runs import Daily
from o2sim.records.books import Records
from o2sim.records.rows import Cut, Place, Stay
from o2sim.records.supply_rows import Stock
from o2sim.scenario import loads

FIRST = dt.date(2026, 3, 1)
A_MINUTE = dt.timedelta(minutes=1)  # stays of whole days are taken as filled in later
TEXT = """\
name: Reed Bank
start: 2027-01-01
horizon: 30 days
patients:
  children:
    admissions: 1 / day
    flow: 2 L/min
    duration: 24 h
cylinders: {content: 7000 L, fleet: 12}
concentrators: {count: 1, rated_flow: 5 L/min}
power: {grid: {up: {exponential: {mean: 20 h}}, down: {exponential: {mean: 4 h}}}}
resupply: {lead_time: 3 days}
strategies:
  concentrators: {sources: [concentrator]}
  cylinders: {sources: [cylinder]}
  both: {sources: [concentrator, cylinder]}
"""


def day(number: int) -> dt.date:
    """Return a day of the books, from 0."""
    return FIRST + dt.timedelta(days=number)


def clock(number: int, hour: int) -> dt.datetime:
    """Return a time of it."""
    return dt.datetime.combine(day(number), dt.time(hour))


def hospital(strategy: str = "both"):
    """Return the hospital as a strategy sees it."""
    return loads(TEXT).hospitals[strategy]


def books(**rows) -> Records:
    """Return records of four weeks, a stay of a day and a minute each day at 2 L/min, and what else is given."""
    place = Place(4, kept_from=day(0), kept_to=day(27))
    stays = tuple(
        Stay(4 + n, begun=clock(n, 12), ended=clock(n + 1, 12) + A_MINUTE, class_="children", flow_ml_min=2_000)
        for n in range(27)
    )
    return Records(PurePath("books.xlsx"), "0" * 16, **{"places": (place,), "stays": stays, **rows})


def weekly(*full: int, received: int | None = None, **more) -> tuple[Stock, ...]:
    """Return a stock card with a count every seven days."""
    return tuple(
        Stock(4 + n, date=day(7 * n), full=count, received=received, **more) for n, count in enumerate(full)
    )


def use(*opened: int, replications: int = 1) -> Daily:
    """Return the same use a day in every replication."""
    counts = np.tile(np.array(opened, np.int64), (replications, 1))
    none = np.zeros_like(counts)
    return Daily(counts, counts.copy(), none, none, none)


CUT = Cut(4, off_at=clock(3, 6), on_at=clock(3, 10))
