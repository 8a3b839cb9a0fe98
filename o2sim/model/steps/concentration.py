"""Oxygen concentration: the start-up of a unit, and drift to low; who breathes below what the unit should give."""

from __future__ import annotations

from o2sim.model.bank import Unit
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State, there


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
        state.ledger.served(patient, state.now, state.leak_ml_min)
        patient.low = breathes_low(state, patient)


def breathes_low(state: State, patient: Patient) -> bool:
    """Return True if a unit that serves a patient gives low concentration."""
    return any(there(state.bank).units[number].low for number in patient.units)
