"""A run of the reference stopped in the middle, and its state written out as what another run begins from."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from o2sim.draws import Draws
from o2sim.draws.admissions import Sample
from o2sim.draws.count_record import (
    COMING,
    CONTENT,
    GIVEN,
    NOWHERE,
    ON_CYLINDER,
    ON_UNIT,
    UNIT_MET,
    WORKS,
    Start,
    make_start,
    table,
)
from o2sim.draws.sampling import ROW
from o2sim.model.reference import begin_reference
from o2sim.model.rules import DRIFT, FAILURE, SERVICE, STEPS
from o2sim.model.state import State
from o2sim.outcome import LogEntry
from o2sim.scenario.types.hospital import Hospital
from o2sim.scenario.types.now import Now

NOBODY = Now(dt.datetime(2027, 1, 1))  # stands for a count; what was met is written out below
MOMENTS = {
    step for step, (*_, value) in STEPS.items() if value.startswith(("second at which", "second it began"))
}  # their value is a time


class WrittenOut(Draws):
    """The draws of a run, shifted to begin at a second of it, with what was met there."""

    def __init__(self, draws: Draws, hospital: Hospital, at_s: int, start: Start) -> None:
        """Take the draws of the unbroken run, its hospital, the second and the state."""
        super().__init__(draws.seed, draws.replication)
        rows = table(ROW, draws.sample(hospital).rows.tolist())
        rows["arrival_s"] -= at_s
        self._rows, self._start = rows, start

    def sample(self, _hospital: Hospital) -> Sample:
        """Return the same patients, by the same numbers."""
        return Sample(self._rows)

    def start(self, _hospital: Hospital) -> Start:
        """Return what was met."""
        return self._start


@dataclass(frozen=True)
class Stopped:
    """What a run had come to: the hospital and the draws to go on with, and the log that is still to come."""

    hospital: Hospital
    draws: WrittenOut
    log: list[LogEntry]
    next: int  # number of the first patient to come

    def same(self, log: list[LogEntry]) -> list[LogEntry]:
        """Return a log without what those met had gone without before, which a count does not hold."""
        return [
            replace(each, value=-1) if each.step == "patient leaves" and each.item < self.next else each
            for each in log
        ]


def stop(hospital: Hospital, draws: Draws, after_s: int) -> Stopped:
    """Run the reference to the first second from after_s on at which nothing is in hand, and write it out."""
    clock, state = begin_reference(hospital, draws, log=True)
    clock.env.run(until=after_s)
    while not at_rest(state):
        clock.env.run(until=clock.now + 1)
    at_s = clock.now
    log = begin_and_finish(hospital, draws)
    to_come = [entry for entry in log if entry.time_s >= at_s]
    start = _written(state, at_s, to_come)
    later = replace(hospital, warm_up_s=hospital.warm_up_s - at_s, horizon_s=hospital.end_s - at_s, now=NOBODY)
    return Stopped(
        later, WrittenOut(draws, hospital, at_s, start), [_shifted(each, at_s) for each in to_come], start["next"]
    )


def begin_and_finish(hospital: Hospital, draws: Draws) -> list[LogEntry]:
    """Return the whole log of a run of the reference."""
    clock, state = begin_reference(hospital, draws, log=True)
    clock.env.run(until=hospital.end_s)
    assert state.log is not None
    return state.log


def at_rest(state: State) -> bool:
    """Return True if no task, spell or look is under way that a count cannot hold."""
    recovery_s = state.rules.shortfall.recovery_s
    settled = all(
        patient.task is None and patient.claim is None and not patient.responding and patient.gap_since_s is None
        and patient.second_unit is None and state.now - patient.served_since_s > recovery_s
        for patient in state.present.values()
    )  # fmt: skip
    looked = all(not each.found_low and len(each.patients) == 1 for each in state.open_cylinders.values())
    started = all(unit.start_event is None for unit in state.bank.units) if state.bank else True
    return settled and looked and started and not state.calls and not state.waiting


def _written(state: State, at_s: int, to_come: list[LogEntry]) -> Start:
    store = state.store
    numbers = {
        "next": sum(each < at_s for each in state.table.arrival_s), "battery_permille": -1, "fuel_ml": -1,
        "next_review_s": -1, "orders": state.orders, "delivered": store.delivered if store else 0,
        "handed_over": store.handed_over if store else 0, "losses_met": store.losses_met if store else 0,
        "voltage_good": 1, "grid_up": 1,
    }  # fmt: skip
    if store is not None:
        numbers |= {"full": store.full, "empties": len(store.empties), "lost": store.lost}
    if state.grid is not None:
        turn = "power lost" if state.grid_up else "power restored"
        numbers |= {"grid_up": int(state.grid_up), "cuts": state.cuts}
        numbers["grid_rest_s"] = _until(to_come, turn, at_s)
    if state.orders_on_day:
        ((day, count),) = state.orders_on_day.items()
        numbers |= {"orders_day": day.toordinal(), "orders_on_day": count}
    coming = [
        (each.number, each.count, each.arrival_s - at_s, each.day.toordinal(), each.nth)
        for each in sorted(state.open_orders.values(), key=lambda order: order.arrival_s)
    ]
    rack = [(content,) for content in store.rack] if store else []
    units, empty = _units(state, at_s, to_come), table(ROW, [])
    tables = table(GIVEN, _given(state)), table(COMING, coming), table(UNIT_MET, units)
    return make_start(numbers, empty, *tables, table(CONTENT, rack))


def _until(to_come: list[LogEntry], step: str, at_s: int, item: int | None = None) -> int:
    """Return the seconds to the next step of a kind, by the unbroken log; beyond its end there is none."""
    found = (each.time_s for each in to_come if each.step == step and item in (None, each.item))
    return next(found, 1 << 40) - at_s


def _given(state: State) -> list[tuple[int, ...]]:
    """Return those present, on units in the order in which they came to each, on cylinders in that of opening."""
    rows = [
        (patient.number, ON_UNIT, unit.number, 0, patient.cylinders)
        for unit in (state.bank.units if state.bank else ())
        for patient in unit.patients
    ]
    for cylinder in state.open_cylinders.values():
        content = cylinder.gas_left(state.now)
        rows.append((cylinder.lead.number, ON_CYLINDER, -1, content, cylinder.lead.cylinders - 1))
    served = {row[0] for row in rows}
    waiting = [patient for number, patient in state.present.items() if number not in served]
    return rows + [(patient.number, NOWHERE, -1, 0, patient.cylinders) for patient in waiting]


def _units(state: State, at_s: int, to_come: list[LogEntry]) -> list[tuple[int, ...]]:
    rows = []
    for unit in state.bank.units if state.bank else ():
        running_s = 0 if unit.running_since_s is None else at_s - unit.running_since_s
        left = {kind: timer.remaining_s - running_s for kind, timer in unit.timers.items()}
        life_s = left.get(FAILURE, -1)
        if unit.fail_event is not None and unit.working:
            life_s = _until(to_come, "unit fails", at_s, unit.number)
        repair_s = WORKS if unit.working else _until(to_come, "repair done", at_s, unit.number)
        rows.append((repair_s, life_s, left.get(DRIFT, -1), 0, left.get(SERVICE, -1), unit.failed, unit.renewed))
    return rows


def _shifted(entry: LogEntry, at_s: int) -> LogEntry:
    value = entry.value - at_s if entry.step in MOMENTS else entry.value
    return replace(entry, time_s=entry.time_s - at_s, value=value)
