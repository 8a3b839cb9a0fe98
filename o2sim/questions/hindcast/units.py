"""Concentrators as they were: how many, and when each was out by the job cards."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from o2sim.draws.philox import uniforms as drawn_luck
from o2sim.fits.covered import covered, day_by_day
from o2sim.fits.supply.lives import cards_by_unit
from o2sim.questions.hindcast.cuts import ENOUGH, Bools, apart, led_in
from o2sim.questions.hindcast.stays import Floats, LeadIn, clocked, since, usual_clocks
from o2sim.records.books import Records
from o2sim.records.supply_rows import JobCard, Unit
from o2sim.scenario.types.hospital import DAY_S, Hospital, Law
from o2sim.statistics.fitting.luck import uniforms

CARDS = "Job cards"
FAR_S = 3_650.0 * DAY_S  # never, within a run
LONG_AGO_S = -FAR_S
SMALLEST_TABLE = 1_024


@dataclass(frozen=True)
class Out:
    """When units were out; each array has one entry a time out. s from midnight of the first day, as in Register.

    unit: its place in the list. ended_s: infinite for one that did not come back.
    """

    unit: tuple[int, ...]
    begun_s: Floats
    begun_has_clock: Bools
    ended_s: Floats
    ended_has_clock: Bools
    usual_s: tuple[int | None, int | None]


@dataclass(frozen=True)
class Units:
    """The units of the list, and the days on which job cards were kept."""

    count: int
    out: Out
    counted: Bools
    cautions: tuple[str, ...]


def recorded_units(hospital: Hospital, records: Records, first: dt.date, days: int) -> Units | None:
    """Return when units were out; None where no book says, or it covers too little, or units stand on wards.

    Nor are units of several models those of the list, which does not say of which model each is.
    """
    units = hospital.concentrators
    if units is None or units.mixed or hospital.wards or not records.units:
        return None
    book = covered(records, CARDS, (card.down for card in records.job_cards))
    if book is None:
        return None
    counted = day_by_day(book, first, days) if book.is_stated else np.ones(days, bool)
    if counted.mean() < ENOUGH:
        return None
    by_unit, middle_s = cards_by_unit(records), _middle_s(records, first)
    rows: list[tuple[int, tuple[float, bool], tuple[float, bool]]] = []
    for place, unit in enumerate(records.units):
        cards = by_unit.get(unit.unit or 0, [])
        rows += [(place, *both) for both in (*_not_yet(unit, first), *_times_out(cards, middle_s, first))]
    begun, ended = np.array([row[1] for row in rows]), np.array([row[2] for row in rows])
    begun, ended = begun.reshape(-1, 2), ended.reshape(-1, 2)
    out = Out(
        tuple(row[0] for row in rows), begun[:, 0], begun[:, 1].astype(bool), ended[:, 0],
        ended[:, 1].astype(bool), usual_clocks(records, CARDS),
    )  # fmt: skip
    return Units(len(records.units), out, counted, tuple(_cautions(records, is_stated=book.is_stated)))


def _not_yet(unit: Unit, first: dt.date) -> list[tuple[tuple[float, bool], tuple[float, bool]]]:
    """Return the time before a unit was put in use."""
    if unit.in_use_from is None or unit.in_use_from <= first:
        return []
    return [((LONG_AGO_S, True), since(unit.in_use_from, first))]


def _times_out(
    cards: Sequence[JobCard], middle_s: float, first: dt.date
) -> list[tuple[tuple[float, bool], tuple[float, bool]]]:
    """Return the times out of a unit by its cards in order; one that has no end, but later cards, the middle."""
    found = []
    for place, card in enumerate(cards):
        begun = since(card.down, first)
        if card.back is not None:
            found.append((begun, since(card.back, first)))
        elif card.written_off or place == len(cards) - 1:
            found.append((begun, (math.inf, True)))
        else:
            found.append((begun, (begun[0] + middle_s, begun[1])))
    return found


def _middle_s(records: Records, first: dt.date) -> float:
    both = [(since(card.down, first)[0], since(card.back, first)[0]) for card in records.job_cards if card.back]
    return float(np.median([end - begin for begin, end in both])) if both else float(DAY_S)


def _cautions(records: Records, *, is_stated: bool) -> list[str]:
    said = []
    if not is_stated:
        said.append("Place does not say which days job cards cover: taken as the whole time.")
    cards = cards_by_unit(records)
    gone = [
        unit for unit in records.units
        if unit.in_use_now is False and not any(card.back is None for card in cards.get(unit.unit or 0, []))
    ]  # fmt: skip
    if gone:
        said.append(f"Units not in use now without a job card of when they went, taken as in use: {len(gone)}.")
    open_ = sum(card.back is None for mine in cards.values() for card in mine[:-1] if not card.written_off)
    if open_:
        said.append(f"Earlier job cards without the day when the unit was back, taken as the middle one: {open_}.")
    return said


def with_units(hospital: Hospital, units: Units, before: LeadIn, seed: int, nth: int) -> Hospital:
    """Return the hospital with the units of the list, out when they were; a day without a clock is drawn anew.

    All that takes a unit out is on its cards, so nothing else does but preventive service.
    """
    rules = hospital.concentrators
    assert rules is not None
    lives, repairs = _lives(units, before, hospital.warm_up_s, seed, nth)
    works_s, out_s = (
        _table(each, f"concentrator {what}", seed, nth) for each, what in ((lives, "failure"), (repairs, "repair"))
    )
    made = replace(
        rules, count=units.count, failure_clock="calendar", failure_s=works_s, repair_s=out_s, never_repaired=0.0,
        cut_damage=0.0, crew=None, travel_s=None, drift_s=None, alarm_permille=None, analyser_check_s=None,
        listed=(), repaired_as="new",
    )  # fmt: skip
    return replace(hospital, concentrators=made)


def _lives(
    units: Units, before: LeadIn, start_s: int, seed: int, nth: int
) -> tuple[list[list[float]], list[list[float]]]:
    """Return how long each unit works and is out, in turn, from the start of the run, in s."""
    out = units.out
    luck = uniforms(seed, "hindcast units", nth, (2, len(out.unit)))
    begin = clocked(out.begun_s, out.begun_has_clock, out.usual_s[0], luck[0])
    end = clocked(out.ended_s, out.ended_has_clock, out.usual_s[1], luck[1])
    lives, repairs = [], []
    for place in range(units.count):
        mine = [at for at, unit in enumerate(out.unit) if unit == place]
        spells = led_in(((float(begin[at]), float(max(end[at], begin[at] + 1))) for at in mine), before)
        shifted = apart(((a + start_s, b + start_s) for a, b in spells), 0, int(FAR_S))
        ends = [0, *(b for _, b in shifted)]
        lives.append([float(max(a - was, 1)) for (a, _), was in zip(shifted, ends, strict=False)] + [FAR_S])
        repairs.append([float(b - a) for a, b in shifted])
    return lives, repairs


def _table(values: Sequence[Sequence[float]], stream: str, seed: int, nth: int) -> Law:
    """Return a law whose draws for each unit, in this replication, are these values.

    The nth draw of a unit is looked up in a law of listed values at its own even luck (o2sim/draws): so each value
    is put where that luck falls, in a list long enough that no two fall together. Elsewhere it is never.
    """
    luck = [drawn_luck(seed, nth, stream, unit, 0, len(mine)) for unit, mine in enumerate(values) if mine]
    at, flat = np.concatenate([np.zeros(0), *luck]), [each for mine in values for each in mine]
    size = SMALLEST_TABLE
    while len(set((at * size).astype(int).tolist())) < len(flat):
        size *= 2
    table = [FAR_S] * size
    for place, value in zip((at * size).astype(int).tolist(), flat, strict=True):
        table[place] = value
    return Law("empirical", tuple(table))
