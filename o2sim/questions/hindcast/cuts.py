"""Power cuts as they were: those written down, else those that looks at the voltage met."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import covered, day_by_day
from o2sim.fits.supply.logger import EVEN, Log, looks
from o2sim.questions.hindcast.stays import LeadIn
from o2sim.records.books import Records
from o2sim.records.rows import Cut
from o2sim.scenario.types.hospital import DAY_S, Grid, Hospital
from o2sim.scenario.types.period import REPLAY

CUTS, VOLTAGE = "Power cuts", "Voltage"
ENOUGH = 0.5  # of the days: a book that covers fewer is not replayed
MOST_APART_H = 3.0  # looks farther apart date no cut (assumption)
WHOLE_DAY = 0.9  # of a day that looks must cover (assumption)
HOUR_S = 3_600
Bools = npt.NDArray[np.bool_]
Spells = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Cuts:
    """Recorded power cuts: spells in s from midnight of the first day, and the days that the book covers.

    said: where they come from, in a sentence.
    """

    spells: Spells
    counted: Bools
    cautions: tuple[str, ...]
    said: str


def recorded_cuts(hospital: Hospital, records: Records, first: dt.date, days: int) -> Cuts | None:
    """Return the recorded cuts; None where there are none, power does not matter, or they cover too little."""
    if hospital.concentrators is None:
        return None
    return _written(records, first, days) or _looked_at(records, first, days)


def _written(records: Records, first: dt.date, days: int) -> Cuts | None:
    book = covered(records, CUTS, (cut.off_at for cut in records.cuts)) if records.cuts else None
    counted = None if book is None else day_by_day(book, first, days)
    if counted is None or counted.mean() < ENOUGH:
        return None
    spells, cautions = _spells(records.cuts, first, days)
    return Cuts(spells, counted, cautions, "Power cuts are those recorded.")


def _spells(rows: Iterable[Cut], first: dt.date, days: int) -> tuple[Spells, tuple[str, ...]]:
    """Return spells apart and in order; one without an end lasts as long as the middle one of the others."""
    midnight = dt.datetime.combine(first, dt.time())
    cuts = sorted(((row.off_at, row.on_at) for row in rows if row.off_at is not None), key=lambda cut: cut[0])
    lengths = [(on - off).total_seconds() for off, on in cuts if on is not None]
    usual_s = float(np.median(lengths)) if lengths else float(HOUR_S)
    open_ends = sum(on is None for _, on in cuts)
    both = []
    for off, on in cuts:
        begin = (off - midnight).total_seconds()
        both.append((begin, begin + usual_s if on is None else (on - midnight).total_seconds()))
    cuts_are = "1 power cut has" if open_ends == 1 else f"{open_ends} power cuts have"
    said = f"{cuts_are} no end: taken as {usual_s / HOUR_S:.1f} h, the middle of the others."
    return apart(both, 0, (days + 1) * DAY_S), ((said,) if open_ends else ())


def apart(spells: Iterable[tuple[float, float]], least: int, most: int) -> Spells:
    """Return spells in whole s within two times, in order, those that touch as one."""
    found: list[tuple[int, int]] = []
    for off, on in sorted(spells):
        begin, end = int(max(off, least)), int(min(on, most))
        if begin >= end:
            continue
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((begin, end))
    return tuple(found)


def _looked_at(records: Records, first: dt.date, days: int) -> Cuts | None:
    """Return the cuts that looks at the voltage met: each look speaks for the time half-way to its neighbours."""
    rows = sorted((row.at, row.volts) for row in records.voltages if row.at is not None and row.volts is not None)
    log = looks(rows)
    if log is None or log.every_h > MOST_APART_H:
        return None
    midnight = dt.datetime.combine(first, dt.time())
    at_s = np.array([(when - midnight).total_seconds() for when, _ in rows])
    low_s, high_s = _speak_for(at_s, log)
    off = ~np.concatenate(log.stretches)
    known_s = np.zeros(days)
    day = (at_s // DAY_S).astype(int)
    inside = (day >= 0) & (day < days)
    np.add.at(known_s, day[inside], (high_s - low_s)[inside])
    counted = known_s >= WHOLE_DAY * DAY_S
    if counted.mean() < ENOUGH:
        return None
    spells = apart(zip(low_s[off].tolist(), high_s[off].tolist(), strict=True), 0, (days + 1) * DAY_S)
    said = f"Power cuts are those that a look at the voltage every {log.every_h * 60:.0f} min met."
    return Cuts(
        spells, counted, ("Power cuts between two looks at the voltage are missing, so use is low.",), said
    )


def _speak_for(at_s: npt.NDArray[np.float64], log: Log) -> tuple[npt.NDArray[np.float64], ...]:
    """Return from when to when each look speaks: half-way to the next, half a pace where a look is missing."""
    pace_s = log.every_h * HOUR_S
    steps = np.diff(at_s)
    half = np.where(np.abs(steps - pace_s) <= EVEN * pace_s, steps, np.minimum(steps, pace_s)) / 2
    ends = [pace_s / 2]
    return at_s - np.concatenate([ends, half]), at_s + np.concatenate([half, ends])


def led_in(spells: Iterable[tuple[float, float]], before: LeadIn) -> list[tuple[float, float]]:
    """Return the spells of the lead-in, moved before the first day, and those of the recorded time after them."""
    from_s, length_s = before.from_day * DAY_S, before.days * DAY_S
    both = list(spells)
    moved = [(max(a - from_s, 0) - length_s, min(b - from_s, length_s) - length_s) for a, b in both]
    return [*((begin, end) for begin, end in moved if begin < end), *((max(a, 0), b) for a, b in both if b > 0)]


def with_cuts(hospital: Hospital, cuts: Cuts, before: LeadIn) -> Hospital:
    """Return the hospital with recorded cuts, those of the lead-in before them; planned ones are among them."""
    days = cuts.counted.size + 1 + before.days
    spells = tuple((int(begin), int(end)) for begin, end in led_in(cuts.spells, before))
    grid = Grid(use=REPLAY, cuts=spells, first_day=-before.days, days=days)
    power = None if hospital.power is None else replace(hospital.power, load_shedding=())
    return replace(hospital, grid=grid, power=power)


def drawn_instead(records: Records) -> str:
    """Return why cuts are drawn, in a sentence."""
    any_ = records.cuts or records.voltages
    why = "cover under half of the time, or come from looks too far apart" if any_ else "are not recorded"
    return f"Power cuts {why}: they are drawn from the scenario."
