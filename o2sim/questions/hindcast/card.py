"""Walk from one line of the stock card to the next: what is on the shelf, less what is used, until it is bare.

Recorded use is what was served: a bare shelf hides what more was wanted. So a forecast is cut off at what was on
hand, and the ranks of both are taken from what is left.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import DAY, covered, plain
from o2sim.questions.hindcast.replay import CARD, Replay
from o2sim.questions.hindcast.runs import Daily, Whole
from o2sim.records.books import Records
from o2sim.records.supply_rows import Stock

NOT_COVERED, MORE_THAN_CAME = "days not in all books", "more on the shelf than was there and came"


@dataclass(frozen=True)
class Between:
    """From one count to the next, both at the midnight that begins their day.

    first, last: days of the run, from 0; the count before is of `first`, that after of `last`. came: cylinders
    that came on each day, shape (last - first,). used: full before + came - full after. emptied: as written.
    left_out: why it is not compared, empty where it is.
    """

    first: int
    last: int
    full_before: int
    full_after: int
    open_before: int | None
    came: Whole
    used: int
    emptied: int | None
    left_out: str
    on_patients: int | None = None  # at the count before

    @property
    def days(self) -> int:
        """Return the days between."""
        return self.last - self.first

    @property
    def on_hand(self) -> int:
        """Return the most that could be used."""
        return self.full_before + int(self.came.sum())


@dataclass(frozen=True)
class Card:
    """The stock card in the recorded time, and what was taken for granted in reading it."""

    between: tuple[Between, ...]
    cautions: tuple[str, ...]


def read_card(records: Records, replayed: Replay) -> Card:
    """Return what lies between the counts of full cylinders."""
    rows = sorted(records.stock, key=_date)
    book = covered(records, CARD, (row.date for row in rows))
    if book is None:
        return Card((), ())
    counted = [place for place, row in enumerate(rows) if row.full is not None]
    came = _arrivals(records, replayed)
    found, guessed = [], 0
    for before, after in pairwise(counted):
        first, last = (replayed.day(_date(rows[at])) for at in (before, after))
        if first < 0 or last > replayed.days or last <= first:
            continue
        is_covered = all(book.holds(replayed.first + DAY * day) for day in range(first, last))
        is_covered &= bool(replayed.counted[first:last].all())
        each, is_guess = _came(rows[before + 1 : after + 1], came, first, last)
        guessed += is_guess
        found.append(_between(rows, before, after, (first, last), each, is_covered))
    times = "Once" if guessed == 1 else f"{guessed} times"
    said = (f"{times} no book says on which day cylinders came: taken as half-way between the counts.",)
    return Card(tuple(found), said if guessed else ())


def _date(row: Stock) -> dt.date:
    assert row.date is not None  # the column needs it
    return plain(row.date)


def _between(
    rows: list[Stock], before: int, after: int, days: tuple[int, int], came: Whole, is_covered: bool
) -> Between:
    full, then = rows[before].full or 0, rows[after].full or 0
    used = full + int(came.sum()) - then
    written = [row.emptied for row in rows[before + 1 : after + 1]]
    parts = (rows[before].part_used, rows[before].on_patients)
    why = "" if is_covered else NOT_COVERED
    return Between(
        *days, full, then, None if None in parts else sum(part or 0 for part in parts), came, used,
        None if None in written else sum(each or 0 for each in written), MORE_THAN_CAME if used < 0 else why,
        rows[before].on_patients,
    )  # fmt: skip


def _arrivals(records: Records, replayed: Replay) -> Whole:
    """Return the cylinders that came on each day by the book of orders, and on the day after the last."""
    came = np.zeros(replayed.days + 1, np.int64)
    for order in records.orders:
        if order.came is not None and order.cylinders_came is not None:
            day = replayed.day(plain(order.came))
            if 0 <= day < came.size:
                came[day] += order.cylinders_came
    return came


def _came(rows: list[Stock], by_order: Whole, first: int, last: int) -> tuple[Whole, bool]:
    """Return what came on each day, and whether the day is a guess: the card's sum, on the days of the orders.

    A delivery on the day of the later count may be in its line: it then came before the count.
    """
    written = [row.received for row in rows if row.received is not None]
    total = sum(written)
    days = by_order[first:last].copy()
    if not written or days.sum() == total:
        return days, False
    later = by_order[first + 1 : last + 1].copy()
    if later.sum() == total:
        return later, False
    half_way = np.zeros(last - first, np.int64)
    half_way[(last - first) // 2] = total
    return half_way, total > 0


@dataclass(frozen=True)
class Shelf:
    """What is forecast from one count to the next, shape (replications,) each.

    bare_on, short_on: (replications, days), whether the shelf was bare, and less was there than was wanted.
    """

    used: Whole
    emptied: Whole
    full: Whole
    bare_on: npt.NDArray[np.bool_]
    short_on: npt.NDArray[np.bool_]


def walk(between: Between, daily: Daily) -> Shelf:
    """Return the forecast from a count: use day by day, cut off at what is on hand, deliveries on their days.

    Who went without still wants a cylinder as one comes, but for those who have left since: so what is wanted in
    vain is put off, one for each patient on cylinders at most. What they would have used meanwhile is lost.
    """
    days = slice(between.first, between.last)
    opened, there = daily.opened[:, days], daily.on_cylinders[:, days]
    full = np.full(opened.shape[0], between.full_before, np.int64)
    used, put_off = np.zeros_like(full), _waiting(between, daily)
    bare, short = np.zeros(opened.shape, bool), np.zeros(opened.shape, bool)
    a_day, spared = _each_a_day(daily), np.zeros(full.shape)
    for day in range(between.days):
        less = np.minimum(np.floor(spared).astype(np.int64), opened[:, day])
        on_hand, wanted = full + between.came[day], opened[:, day] - less + put_off
        gone = np.minimum(wanted, on_hand)
        full, used = on_hand - gone, used + gone
        put_off = np.minimum(wanted - gone, there[:, day])
        spared += a_day * put_off - less
        bare[:, day], short[:, day] = full == 0, gone < wanted
    emptied = daily.emptied[:, between.first : between.last].sum(axis=1)
    if between.open_before is not None:
        emptied = np.minimum(emptied, used + between.open_before)
    return Shelf(used, emptied, full, bare, short)


def _each_a_day(daily: Daily) -> npt.NDArray[np.float64]:
    """Return the cylinders that a patient on cylinders opens a day, in each replication."""
    patients = daily.on_cylinders.sum(axis=1)
    found: npt.NDArray[np.float64] = daily.opened.sum(axis=1) / np.maximum(patients, 1) * (patients > 0)
    return found


def _waiting(between: Between, daily: Daily) -> Whole:
    """Return how many want a cylinder at a count with a bare shelf: those on cylinders, were there enough."""
    if between.full_before or between.on_patients is None or not between.first:
        return np.zeros(daily.replications, np.int64)
    return np.maximum(daily.on_cylinders[:, between.first - 1] - between.on_patients, 0)
