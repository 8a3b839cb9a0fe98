"""Concentrators: patients on and off, the running clock, failure and repair."""

from __future__ import annotations

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.model.steps.gaps import end_gap, lose_supply
from o2sim.model.steps.staff import call_off_staff


def _bank(state: State) -> ConcentratorBank:
    assert state.bank is not None
    return state.bank


def connect_unit(state: State, patient: Patient) -> None:
    """Put a patient on the lowest-numbered unit with room."""
    number = _bank(state).unit_with_room(patient.flow_ml_min)
    assert number is not None
    _join(state, patient, _bank(state).units[number])


def _join(state: State, patient: Patient, unit: Unit) -> None:
    unit.connect(patient)
    patient.unit = unit.number
    end_gap(state, patient)
    patient.flowing, patient.flow_since_s = True, state.now
    state.note("on concentrator", patient.number, unit.number)
    _run_clock(state, unit)


def release_unit(state: State, patient: Patient) -> None:
    """Take a patient off the unit that serves, or that was lost and is being responded to."""
    if patient.unit is not None and patient.flowing:
        unit = _bank(state).units[patient.unit]
        state.ledger.served(patient, state.now, state.leak_ml_min)
        patient.flowing = False
        unit.disconnect(patient)
        state.room_made = True
        _run_clock(state, unit)
    patient.unit, patient.responding = None, False


def cut_off(state: State, unit: Unit) -> None:
    """A unit gives nothing any more: its patients lose their supply."""
    lost = unit.cut()
    for patient in lost:
        state.ledger.served(patient, state.now, state.leak_ml_min)
        patient.flowing = False
    _run_clock(state, unit)
    for patient in lost:
        lose_supply(state, patient)


def resume(state: State, unit: Unit) -> None:
    """Let a unit that works and has power serve again those it lost whose response is not over."""
    if not (_bank(state).powered and unit.working):
        return
    state.room_made = True
    for _, patient in sorted(state.present.items()):
        if patient.responding and patient.unit == unit.number:
            patient.responding = False
            call_off_staff(state, patient)
            _join(state, patient, unit)


def new_life(state: State, unit: Unit) -> None:
    """Draw how long a new or repaired unit works."""
    if unit.failures is not None:
        unit.remaining_s = unit.failures[unit.failed]
        if unit.rules.failure_clock == "calendar":
            _schedule_failure(state, unit)


def _schedule_failure(state: State, unit: Unit) -> None:
    due_s = state.now + unit.remaining_s
    unit.fail_event = state.clock.at(due_s, Rank.UNIT_FAILS, unit.number, unit_fails, unit)


def _run_clock(state: State, unit: Unit) -> None:
    """Start or stop the clock of a unit that starts or stops running (powered, working, serving)."""
    runs = _bank(state).powered and unit.working and bool(unit.patients)
    on_running_clock = unit.failures is not None and unit.rules.failure_clock == "running"
    if runs and unit.running_since_s is None:
        unit.running_since_s = state.now
        if on_running_clock:
            _schedule_failure(state, unit)
    elif not runs and unit.running_since_s is not None:
        credit_running(state, unit)
        unit.running_since_s = None
        if on_running_clock:
            unit.fail_event.cancel()


def credit_running(state: State, unit: Unit) -> None:
    """Bring a unit's running hours up to this second."""
    if unit.running_since_s is not None:
        seconds = state.now - unit.running_since_s
        state.ledger.concentrator_running_s += seconds
        unit.remaining_s -= seconds
        unit.running_since_s = state.now


def unit_fails(state: State, unit: Unit) -> None:
    """A concentrator fails; its patients lose their supply and the repair begins."""
    assert unit.repairs is not None
    state.note("unit fails", unit.number, len(unit.patients))
    state.ledger.concentrator_failures += 1
    unit.working = False
    cut_off(state, unit)
    due_s = state.now + unit.repairs[unit.failed]
    unit.failed += 1
    state.clock.at(due_s, Rank.REPAIR_DONE, unit.number, repair_done, unit)


def repair_done(state: State, unit: Unit) -> None:
    """A concentrator works again."""
    state.note("repair done", unit.number)
    unit.working = True
    new_life(state, unit)
    resume(state, unit)
