"""What is doubtful in the period of a register or of a record of cuts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.hospital import DAY_S, Grid, Hospital, PatientClass, Recorded
from o2sim.scenario.types.period import REPLAY, RESAMPLE
from o2sim.scenario.types.records import listed_cuts, placed


def of_registers(hospital: Hospital) -> Iterator[Doubt]:
    """Yield registers whose period is not stated, begins within the warm-up, or brings nobody into the run."""
    times = hospital.start, hospital.warm_up_s, hospital.end_s
    for kind in hospital.patients:
        if kind.recorded is None:
            continue
        field = f"patients.{kind.name}.register"
        empty = "the ward is empty then, but for those present when the book begins"
        yield from _period(hospital, kind.recorded, field, "the register", empty, "admissions")
        if kind.recorded.use != RESAMPLE and not placed(kind.recorded, *times):
            yield field, "no recorded patient in the run", "check the dates"


def begins_with_run(hospital: Hospital, kind: PatientClass) -> bool:
    """Return True where a class is replayed from its book's first days on: no warm-up could be had of it."""
    recorded = kind.recorded
    return recorded is not None and recorded.use == REPLAY and recorded.first_day * DAY_S + hospital.warm_up_s >= 0


def of_cuts(hospital: Hospital) -> Iterator[Doubt]:
    """Yield a record of cuts in the same way."""
    grid = hospital.grid
    if grid is None or not grid.cuts:
        return
    yield from _period(hospital, grid, "power.grid", "the record of cuts", "the grid is up then", "a cut")
    if grid.use != RESAMPLE and not listed_cuts(hospital):
        found = "no cut of the record lies within the run"
        yield "power.grid.file", found, "check start, and the years of the record"


def _period(
    hospital: Hospital, record: Recorded | Grid, field: str, what: str, then: str, kind: str
) -> Iterator[Doubt]:
    begin_s = hospital.warm_up_s + record.first_day * DAY_S
    first = hospital.start + dt.timedelta(days=record.first_day)
    if not record.stated:
        last = first + dt.timedelta(days=record.days - 1)
        found = f"no from and to: {what} counts from its first row to its last, {first} to {last}"
        hint = f"write the days between which it was kept: days without {kind} before and after count too"
        yield field, found, hint
    if record.use == REPLAY and record.days and begin_s > 0 and hospital.now is None:
        days = -(-min(begin_s, hospital.warm_up_s) // DAY_S)
        found = f"{what} begins on {first} and does not cover {days} days of the warm-up: {then}"
        yield f"{field}.from", found, f"write warm_up: 0 days, or {what} from earlier on"
