"""Concentrators: patients on and off, flow given, loss of supply, clocks of a running unit, concentration."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State, there
from o2sim.model.steps.backup import expect_backup
from o2sim.model.steps.gaps import end_gap, lose_supply
from o2sim.model.steps.staff import call_off_staff


@dataclass(slots=True)
class RunningTimer:
    """What is due after some running time of a unit: a failure, drift, an alarm, a service."""

    remaining_s: int
    item: int  # its place among a unit's events of one instant (see rules)
    step: Callable[[State, Unit], None]
    event: Any = None

    def start(self, state: State, unit: Unit) -> None:
        """Let the clock go on."""
        due_s = state.now + self.remaining_s
        self.event = state.clock.at(due_s, Rank.UNIT_FAILS, unit.number + self.item, self.step, unit)


def _bank(state: State) -> ConcentratorBank:
    return there(state.bank)


def connect_unit(state: State, patient: Patient) -> None:
    """Put a patient on the unit with room that comes first."""
    number = _bank(state).unit_with_room(patient.flow_ml_min, patient.ward)
    assert number is not None
    join(state, patient, _bank(state).units[number], patient.flow_ml_min)


def join(state: State, patient: Patient, unit: Unit, flow_ml_min: int) -> None:
    """Put a patient on a unit for a flow."""
    unit.connect(patient, flow_ml_min)
    patient.unit = unit.number
    end_gap(state, patient)
    give(state, patient, flow_ml_min)
    patient.flowing, patient.flow_since_s = True, state.now
    state.note("on concentrator", patient.number, unit.number)
    _run_clock(state, unit)
    patient.low = unit.low


def move_unit(state: State, patient: Patient, unit: Unit) -> None:
    """Move a patient to another unit by plan, without a gap."""
    flow_ml_min = patient.given_ml_min
    release_unit(state, patient)
    join(state, patient, unit, flow_ml_min)


def join_second(state: State, patient: Patient, unit: Unit, flow_ml_min: int) -> None:
    """Let a second unit give a part of a patient's flow."""
    unit.connect(patient, flow_ml_min)
    give(state, patient, patient.given_ml_min + flow_ml_min)
    patient.second_unit, patient.second_ml_min = unit.number, flow_ml_min
    state.note("second concentrator", patient.number, unit.number, flow_ml_min)
    _run_clock(state, unit)
    patient.low = breathes_low(state, patient)


def release_unit(state: State, patient: Patient) -> None:
    """Take a patient off the unit that serves, or that was lost and is being responded to."""
    if patient.unit is not None and patient.flowing:
        flow_stops(state, patient)
        for number in patient.units:
            unit = _bank(state).units[number]
            unit.disconnect(patient, patient.flow_from(number))
            state.room_made = True
            _run_clock(state, unit)
    patient.unit = patient.second_unit = None
    patient.second_ml_min, patient.responding = 0, False


def leave_second(state: State, patient: Patient) -> None:
    """Take a patient on two units off the second."""
    assert patient.second_unit is not None
    give(state, patient, patient.given_ml_min - patient.second_ml_min)
    second = _bank(state).units[patient.second_unit]
    second.disconnect(patient, patient.second_ml_min)
    patient.second_unit, patient.second_ml_min = None, 0
    patient.low = breathes_low(state, patient)
    state.room_made = True
    _run_clock(state, second)


def turn_down(state: State, patient: Patient) -> None:
    """Take what one needs less off the units, the second one first; who is given less than that keeps it."""
    assert patient.unit is not None
    less = max(0, patient.given_ml_min - patient.flow_ml_min)
    state.room_made = state.room_made or less > 0
    if patient.second_unit is not None:
        part = min(less, patient.second_ml_min)
        if part == patient.second_ml_min:
            leave_second(state, patient)
        else:
            _bank(state).units[patient.second_unit].load_ml_min -= part
            patient.second_ml_min -= part
            patient.given_ml_min -= part
        less -= part
    _bank(state).units[patient.unit].load_ml_min -= less
    give(state, patient, patient.given_ml_min - less)


def cut_off(state: State, unit: Unit, then: Callable[[State, Patient], None] = lose_supply) -> None:
    """A unit gives nothing any more: its patients lose their supply, or are moved by plan."""
    lost = unit.cut()
    stranded = [patient for patient in lost if not _falls_back(state, patient, unit)]
    for patient in stranded:
        flow_stops(state, patient)
    _run_clock(state, unit)
    for patient in stranded:
        if then is lose_supply:
            expect_backup(state, patient)
        then(state, patient)


def _falls_back(state: State, patient: Patient, lost: Unit) -> bool:
    """Leave a patient who had two units on the other, on reduced flow; False where there was no other."""
    others = [number for number in patient.units if number != lost.number]
    if not others:
        return False
    give(state, patient, patient.given_ml_min - patient.flow_from(lost.number))
    patient.unit, patient.second_unit, patient.second_ml_min = others[0], None, 0
    patient.low = breathes_low(state, patient)
    state.note("reduced flow", patient.number, others[0], patient.given_ml_min)
    return True


def resume(state: State, unit: Unit) -> None:
    """Let a unit that works and has power serve again, as it did, those it lost whose response is not over."""
    state.levels.units_changed = True
    if not (unit.working and _bank(state).has_power(unit)):
        return
    state.room_made = True
    for _, patient in sorted(state.present.items()):
        flow_ml_min = min(patient.given_ml_min, patient.flow_ml_min)
        if patient.responding and patient.unit == unit.number and unit.has_room(flow_ml_min):
            patient.responding = False
            call_off_staff(state, patient)
            join(state, patient, unit, flow_ml_min)


def _run_clock(state: State, unit: Unit) -> None:
    """Start or stop the clocks of a unit that starts or stops running (powered, working, serving)."""
    state.levels.units_changed = True
    runs = _bank(state).powered and unit.working and bool(unit.patients)
    if runs and unit.running_since_s is None:
        unit.running_since_s = state.now
        starts_up(state, unit)
        for timer in unit.timers.values():
            timer.start(state, unit)
    elif not runs and unit.running_since_s is not None:
        credit_running(state, unit)
        unit.running_since_s = None
        stops(state, unit)
        for timer in unit.timers.values():
            timer.event.cancel()


def credit_running(state: State, unit: Unit) -> None:
    """Bring a unit's running hours up to this second."""
    if unit.running_since_s is not None:
        seconds = state.now - unit.running_since_s
        state.ledger.concentrator_running_s += seconds
        state.levels.unit_running_s[unit.number] += seconds
        unit.running_since_s = state.now
        for timer in unit.timers.values():
            timer.remaining_s -= seconds


def starts_up(state: State, unit: Unit) -> None:
    """A unit begins to run: it takes its time to reach concentration."""
    if unit.rules.start_up_s > 0:
        due_s = state.now + unit.rules.start_up_s
        unit.start_event = state.clock.at(due_s, Rank.TIMER_ENDS, unit.number, up_to_concentration, unit)
        reckon_low(state, unit)


def stops(state: State, unit: Unit) -> None:
    """A unit stops: its next start is a start from cold."""
    if unit.start_event is not None:
        unit.start_event.cancel()
        unit.start_event = None
        reckon_low(state, unit)


def up_to_concentration(state: State, unit: Unit) -> None:
    """A unit has reached its concentration, unless it has drifted."""
    unit.start_event = None
    reckon_low(state, unit)


def drifts_low(state: State, unit: Unit) -> None:
    """A unit has drifted below 82 % oxygen."""
    state.note("unit drifts low", unit.number, len(unit.patients))
    unit.drifted = True
    reckon_low(state, unit)


def reckon_low(state: State, unit: Unit) -> None:
    """Let those on a unit breathe low concentration while it starts up or has drifted."""
    low = unit.start_event is not None or unit.drifted
    if low == unit.low:
        return
    unit.low = low
    for patient in unit.patients:
        state.ledger.served(patient, state.now)
        patient.low = breathes_low(state, patient)


def breathes_low(state: State, patient: Patient) -> bool:
    """Return True if a unit that serves a patient gives low concentration."""
    return any(there(state.bank).units[number].low for number in patient.units)


def give(state: State, patient: Patient, flow_ml_min: int) -> None:
    """Let a patient have a flow from now on; less than prescribed is reduced flow: served, but under-served."""
    if patient.flowing:
        state.ledger.served(patient, state.now)
    patient.given_ml_min = flow_ml_min
    if flow_ml_min < patient.flow_ml_min:
        state.reduced[patient.number] = patient
    else:
        state.reduced.pop(patient.number, None)


def flow_stops(state: State, patient: Patient) -> None:
    """Units give a patient nothing from now on."""
    state.ledger.served(patient, state.now)
    patient.flowing = patient.low = False
    state.reduced.pop(patient.number, None)
