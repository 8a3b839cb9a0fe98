"""The time that each unit ran from failure to failure: by its meter, or by days where meters are not written."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from o2sim.fits.covered import Covered, plain
from o2sim.records.books import Records, kept
from o2sim.records.supply_rows import JobCard, Unit
from o2sim.statistics.fitting.spells import Spells, between, in_steps

RUNNING, CALENDAR = "running", "calendar"  # words of concentrators.failure_clock
METERED = 0.8  # of units and of job cards that must have meters for the running clock
DAY_H = 24.0


@dataclass(frozen=True)
class Span:
    """One time of a unit from in use, or back, to a failure (is_over) or to the end of the book, in hours."""

    unit: int
    hours: float
    is_over: bool


@dataclass(frozen=True)
class Lives:
    """Times from failure to failure in hours of a clock, of all units.

    left_out: units of which too little is written. back: meters that went back, left out. filled: meters of job
    cards that are not written, put evenly between those that are. later: units in use before the job cards begin.
    """

    clock: str
    spans: tuple[Span, ...]
    left_out: int
    back: int
    filled: int
    later: int

    @property
    def spells(self) -> Spells:
        """Return the times as rows of durations, in hours."""
        hours, over = (
            np.array([each.hours for each in self.spans]),
            np.array([each.is_over for each in self.spans]),
        )
        limit = np.where(over, np.inf, hours)
        return between(hours, np.where(over, hours, np.inf), limit=limit) if len(hours) else in_steps([])

    @property
    def failures(self) -> int:
        """Return how many of the times ended with a failure."""
        return sum(each.is_over for each in self.spans)

    @property
    def hours(self) -> float:
        """Return the hours that all units ran together."""
        return float(sum(each.hours for each in self.spans))

    @property
    def events(self) -> tuple[tuple[int, float, bool], ...]:
        """Return (unit, age in hours, True for a failure and False for the age to which it was seen)."""
        ages: dict[int, float] = {}
        found = []
        for span in self.spans:
            ages[span.unit] = ages.get(span.unit, 0.0) + span.hours
            if span.is_over:
                found.append((span.unit, ages[span.unit], True))
        return (*found, *((unit, age, False) for unit, age in ages.items()))


def lives(records: Records, book: Covered) -> Lives:
    """Return the lives of all units, those that never failed too, by the clock that the records allow."""
    cards = cards_by_unit(records)
    units = [unit for unit in records.units if unit.unit is not None]
    noted = [card.meter_h is not None for mine in cards.values() for card in mine]
    metered = [unit.meter_then_h is not None and unit.meter_now_h is not None for unit in units]
    by_meter = bool(units) and np.mean(metered) >= METERED and (not noted or np.mean(noted) >= METERED)
    since = cards_since(records, book)
    make = _by_meter if by_meter else _by_days
    made = [make(unit, cards.get(unit.unit or 0, []), since, book) for unit in units]
    spans = [span for each in made if each is not None for span in each]
    ok = tuple(span for span in spans if span.hours > 0)
    later = sum(unit.in_use_from is not None and since is not None and unit.in_use_from < since for unit in units)
    return Lives(
        RUNNING if by_meter else CALENDAR, ok, sum(each is None for each in made), len(spans) - len(ok),
        noted.count(False) if by_meter else 0, later,
    )  # fmt: skip


def cards_since(records: Records, book: Covered) -> dt.date | None:
    """Return the day from which job cards are there, where Place says so and no card is older; else None.

    Without it they are complete since each unit was put in use.
    """
    place = kept(records.places, "Job cards", "kept_from")
    if place is None or any(card.down is not None and plain(card.down) < book.first for card in records.job_cards):
        return None
    return place.kept_from


def cards_by_unit(records: Records) -> Mapping[int, list[JobCard]]:
    """Return the job cards of each unit in order of their days."""
    found: dict[int, list[JobCard]] = {}
    for card in sorted((card for card in records.job_cards if card.down), key=lambda card: _day(card.down)):
        found.setdefault(card.unit or 0, []).append(card)
    return found


def _by_meter(unit: Unit, cards: Sequence[JobCard], since: dt.date | None, book: Covered) -> list[Span] | None:
    """Return the times of a unit by its meter; None where the unit's own meters are not written.

    A meter that a job card lacks is put evenly between its neighbours, which keeps hours and failures as they are.
    Leaving such units out would leave out those that fail. What ran before the job cards begin is taken off, by
    days between both meters of the unit.
    """
    if unit.meter_then_h is None or unit.meter_now_h is None:
        return None
    begin, now, number = unit.meter_then_h, unit.meter_now_h, unit.unit or 0
    if since is not None and unit.in_use_from is not None and unit.in_use_from < since:
        whole = (book.last - unit.in_use_from).days + 1
        begin += (now - begin) * min((since - unit.in_use_from).days / whole, 1.0)
    meters = [begin, *(np.nan if card.meter_h is None else card.meter_h for card in cards), now]
    known = ~np.isnan(meters)
    at = np.interp(np.arange(len(meters)), np.flatnonzero(known), np.array(meters)[known])
    hours = np.diff(at).tolist()
    found = [Span(number, each, True) for each in hours[:-1]]
    written_off = bool(cards) and bool(cards[-1].written_off)
    return found if cards and (written_off or hours[-1] == 0) else [*found, Span(number, hours[-1], False)]


def _by_days(unit: Unit, cards: Sequence[JobCard], since: dt.date | None, book: Covered) -> list[Span] | None:
    """Return the same by days between dates: from in use or back to down, or to the end of the book."""
    if unit.in_use_from is None:
        return None
    number, found = unit.unit or 0, []
    begin = unit.in_use_from if since is None else max(unit.in_use_from, since)
    for card in cards:
        found.append(Span(number, max((_day(card.down) - begin).days, 0.5) * DAY_H, True))
        if card.back is None:
            return found
        begin = _day(card.back)
    if unit.in_use_now is False:
        return found  # since when it is out of use is not written
    past = (book.last - begin).days + 1
    return [*found, Span(number, past * DAY_H, False)] if past > 0 else found


def _day(when: dt.date | None) -> dt.date:
    assert when is not None
    return plain(when)
