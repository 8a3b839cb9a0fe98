"""Which counts of the records are laid against which forecasts: stock card, midnights, months."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from o2sim.fits.covered import plain
from o2sim.questions.hindcast.card import Between, Card, Shelf, walk
from o2sim.questions.hindcast.replay import Replay, ends_of
from o2sim.questions.hindcast.result import Interval, Total
from o2sim.questions.hindcast.runs import Daily
from o2sim.questions.hindcast.series import Naive, Series, range_of, ranks
from o2sim.questions.hindcast.verdict import EMPTIED, IN_NEED, MONTHLY, ON_CYLINDERS, USED
from o2sim.records.books import Records
from o2sim.statistics import scores

EARLIER_COUNTS = 26  # of the naive forecast, half a year of weeks: assumption
HARDLY_BARE = 0.5  # days of a bare shelf in the mean forecast, above which its range is known to be too narrow
BARE, WAITING = "days with a bare shelf", "midnights with somebody waiting"


@dataclass(frozen=True)
class Walked:
    """The stock card with the forecast from each count to the next."""

    card: Card
    shelves: tuple[Shelf, ...]


def walked(card: Card, daily: Daily) -> Walked:
    """Return the forecasts of a stock card."""
    return Walked(card, tuple(walk(each, daily) for each in card.between))


def of_card(found: Walked) -> list[Series]:
    """Return the use between counts, and the emptied cylinders where the card has them."""
    between, shelves = found.card.between, found.shelves
    kept = [place for place, each in enumerate(between) if not each.left_out]
    written = [place for place in kept if between[place].emptied is not None]
    made = [
        Series(USED, _samples([shelves[place].used for place in kept]),
               _floats(between[place].used for place in kept), len(between) - len(kept),
               tuple(_naive(between, place) for place in kept), judged=_hardly_bare(shelves, kept)),
        Series(EMPTIED, _samples([shelves[place].emptied for place in written]),
               _floats(between[place].emptied or 0 for place in written), len(between) - len(written),
               judged=_hardly_bare(shelves, written)),
    ]  # fmt: skip
    return [each for each in made if each.seen.size]


def _hardly_bare(shelves: tuple[Shelf, ...], kept: list[int]) -> np.ndarray:
    """Return which forecasts have hardly a bare shelf; chosen by the forecasts alone, so that no count decides."""
    return np.array([shelves[place].bare_on.sum(axis=1).mean() <= HARDLY_BARE for place in kept], bool)


def _samples(found: list[np.ndarray]) -> np.ndarray:
    return np.array(found, np.float64)


def _floats(values: Iterable[float]) -> np.ndarray:
    return np.array(list(values), np.float64)


def _naive(between: tuple[Between, ...], place: int) -> Naive:
    """Return forecasts by the use of earlier counts, cut off at what was on hand as ours are."""
    used = [float(each.used) if each.used >= 0 else np.nan for each in between]
    days = [float(each.days) for each in between]
    most = float(between[place].on_hand)
    many, last = (scores.earlier(used, days, place, most_counts) for most_counts in (EARLIER_COUNTS, 1))
    return Naive(
        None if many is None else np.minimum(many, most), None if last is None else np.minimum(last, most)
    )


def of_midnights(records: Records, replayed: Replay, daily: Daily) -> list[Series]:
    """Return patients in need, and patients on cylinders at midnights when nobody waits."""
    rows = [(replayed.day(plain(row.date)), row) for row in records.midnights if row.date is not None]
    inside = sorted((day, row) for day, row in rows if 0 <= day < replayed.days) if rows else []
    kept = [(day, row) for day, row in inside if replayed.counted[day]]
    need = [(day, (row.on_oxygen or 0) + (row.waiting or 0)) for day, row in kept if row.on_oxygen is not None]
    on = [(day, row.on_cylinders) for day, row in kept if row.on_cylinders is not None and not row.waiting]
    made = (
        _levels(IN_NEED, daily.patients, need, len(inside)),
        _levels(ON_CYLINDERS, daily.on_cylinders, [(day, each or 0) for day, each in on], len(inside)),
    )
    return [each for each in made if each.seen.size]


def _levels(name: str, forecast: np.ndarray, seen: list[tuple[int, int]], of: int) -> Series:
    days = [day for day, _ in seen]
    return Series(
        name, forecast[:, days].T.astype(np.float64), _floats(each for _, each in seen), of - len(days), (), True
    )


def of_months(records: Records, replayed: Replay, daily: Daily) -> list[Series]:
    """Return cylinders emptied in whole months on all of whose days the shelf was not bare."""
    seen, forecast, left_out = [], [], 0
    for month, days in months(records, replayed).items():
        rows = [row for row in records.months if row.month and ends_of(row.month)[0] == month]
        emptied = [row.cylinders_emptied for row in rows if row.cylinders_emptied is not None]
        if not emptied:
            continue
        if days is None or any(row.days_shelf_bare for row in rows):
            left_out += 1
            continue
        seen.append(sum(emptied))
        forecast.append(daily.emptied[:, days].sum(axis=1))
    return [Series(MONTHLY, _samples(forecast), _floats(seen), left_out)] if seen else []


def months(records: Records, replayed: Replay) -> dict[dt.date, slice | None]:
    """Return the days of each month that has a row; None where they are not all compared."""
    found: dict[dt.date, slice | None] = {}
    for first, last in sorted({ends_of(row.month) for row in records.months if row.month is not None}):
        days = slice(replayed.day(first), replayed.day(last) + 1)
        inside = days.start >= 0 and days.stop <= replayed.days
        found[first] = days if inside and bool(replayed.counted[days].all()) else None
    return found


def bare_days(records: Records, replayed: Replay, found: Walked) -> list[Total]:
    """Return the days with a bare shelf in months that the stock card covers from count to count."""
    bare = {
        between.first + day: shelf.bare_on[:, day]
        for between, shelf in zip(found.card.between, found.shelves, strict=True)
        if not between.left_out
        for day in range(between.days)
    }
    seen, forecast, counted = 0, 0, 0
    for month, days in months(records, replayed).items():
        rows = [row for row in records.months if row.month and ends_of(row.month)[0] == month]
        said = [row.days_shelf_bare for row in rows if row.days_shelf_bare is not None]
        if days is None or not said or not all(day in bare for day in range(days.start, days.stop)):
            continue
        seen += max(said)
        forecast = forecast + np.sum([bare[day] for day in range(days.start, days.stop)], axis=0)
        counted += days.stop - days.start
    return [Total(BARE, counted, seen, range_of(forecast))] if counted else []


def waiting(records: Records, replayed: Replay, daily: Daily, found: Walked) -> list[Total]:
    """Return the midnights at which somebody waits: for want of a source, or of a cylinder at a bare shelf."""
    waits = daily.waiting > 0
    on_card = np.zeros(replayed.days, bool)
    for between, shelf in zip(found.card.between, found.shelves, strict=True):
        if not between.left_out:
            days = slice(between.first, between.last)
            on_card[days] = True
            waits[:, days] |= shelf.short_on & (daily.on_cylinders[:, days] > 0)
    said = {
        replayed.day(plain(row.date)): row.waiting
        for row in records.midnights
        if row.date and row.waiting is not None
    }
    kept = [day for day in said if 0 <= day < replayed.days and on_card[day]]
    if not kept:
        return []
    seen = sum(bool(said[day]) for day in kept)
    return [Total(WAITING, len(kept), seen, range_of(waits[:, kept].sum(axis=1)))]


def intervals(found: Walked, replayed: Replay, seed: int) -> tuple[Interval, ...]:
    """Return the stock card, count by count."""
    series = [each for each in of_card(found) if each.name == USED]
    kept = iter(ranks(series[0], seed).tolist() if series else [])
    day = dt.timedelta(days=1)
    return tuple(
        Interval(
            begin=str(replayed.first + each.first * day), end=str(replayed.first + each.last * day),
            full_before=each.full_before, came=int(each.came.sum()), full=each.full_after,
            full_forecast=range_of(shelf.full), used=each.used, used_forecast=range_of(shelf.used),
            bare_days_forecast=float(shelf.bare_on.sum(axis=1).mean()),
            rank=None if each.left_out else next(kept), left_out=each.left_out,
        )
        for each, shelf in zip(found.card.between, found.shelves, strict=True)
    )  # fmt: skip
