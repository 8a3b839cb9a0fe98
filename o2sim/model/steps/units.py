"""Concentrators: patients on and off, loss of supply, and the clocks that go while a unit runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.model.steps.concentration import starts_up, stops
from o2sim.model.steps.gaps import end_gap, lose_supply
from o2sim.model.steps.staff import call_off_staff


@dataclass(slots=True)
class RunningTimer:
    """What befalls a unit after some running time: a failure, drift, an alarm, a service."""

    remaining_s: int
    item: int  # its place among a unit's events of one instant (see rules)
    step: Callable[[State, Unit], None]
    event: Any = None

    def start(self, state: State, unit: Unit) -> None:
        """Let the clock go on."""
        due_s = state.now + self.remaining_s
        self.event = state.clock.at(due_s, Rank.UNIT_FAILS, unit.number + self.item, self.step, unit)


def _bank(state: State) -> ConcentratorBank:
    assert state.bank is not None
    return state.bank


def connect_unit(state: State, patient: Patient) -> None:
    """Put a patient on the lowest-numbered unit with room."""
    number = _bank(state).unit_with_room(patient.flow_ml_min, patient.ward)
    assert number is not None
    _join(state, patient, _bank(state).units[number])


def _join(state: State, patient: Patient, unit: Unit) -> None:
    unit.connect(patient)
    patient.unit = unit.number
    end_gap(state, patient)
    patient.flowing, patient.flow_since_s = True, state.now
    state.note("on concentrator", patient.number, unit.number)
    _run_clock(state, unit)
    patient.low = unit.low


def release_unit(state: State, patient: Patient) -> None:
    """Take a patient off the unit that serves, or that was lost and is being responded to."""
    if patient.unit is not None and patient.flowing:
        unit = _bank(state).units[patient.unit]
        state.ledger.served(patient, state.now, state.leak_ml_min)
        patient.flowing = patient.low = False
        unit.disconnect(patient)
        state.room_made = True
        _run_clock(state, unit)
    patient.unit, patient.responding = None, False


def cut_off(state: State, unit: Unit, then: Callable[[State, Patient], None] = lose_supply) -> None:
    """A unit gives nothing any more: its patients lose their supply, or are moved by plan."""
    lost = unit.cut()
    for patient in lost:
        state.ledger.served(patient, state.now, state.leak_ml_min)
        patient.flowing = patient.low = False
    _run_clock(state, unit)
    for patient in lost:
        then(state, patient)


def resume(state: State, unit: Unit) -> None:
    """Let a unit that works and has power serve again those it lost whose response is not over."""
    if not (unit.working and _bank(state).has_power(unit)):
        return
    state.room_made = True
    for _, patient in sorted(state.present.items()):
        if patient.responding and patient.unit == unit.number:
            patient.responding = False
            call_off_staff(state, patient)
            _join(state, patient, unit)


def _run_clock(state: State, unit: Unit) -> None:
    """Start or stop the clocks of a unit that starts or stops running (powered, working, serving)."""
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
        unit.running_since_s = state.now
        for timer in unit.timers.values():
            timer.remaining_s -= seconds
