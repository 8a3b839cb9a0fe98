"""Transfer of patients who have been unserved for too long."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State, call_off
from o2sim.model.steps.gaps import end_gap, stop_waiting
from o2sim.model.steps.spells import end_short


def send_on(state: State, patient: Patient) -> None:
    """A patient leaves for another place, served again by the vehicle's own oxygen or at the end of the way."""
    rule = state.rules.transfer_of(patient.class_index)
    assert rule is not None
    assert patient.cause is not None
    state.note("patient sent on", patient.number, patient.cause)
    state.ledger.travel(patient, state.now, rule.travel_s)
    stop_waiting(state, patient)
    patient.transfer_due = False
    if rule.oxygen_on_board or rule.travel_s == 0:
        arrives_elsewhere(state, patient)
        return
    due_s = state.now + rule.travel_s
    patient.supply_event = state.clock.at(due_s, Rank.PATIENT_LEAVES, patient.number, arrives_elsewhere, patient)


def arrives_elsewhere(state: State, patient: Patient) -> None:
    """From now on the need is met elsewhere; the gap ends."""
    state.ledger.transfer(patient, state.now)
    gone(state, patient)


def gone(state: State, patient: Patient) -> None:
    """Take a patient who is transferred off the books."""
    for event in ("supply_event", "leave_event", "need_event", "step_event"):
        call_off(patient, event)
    stop_waiting(state, patient)
    end_gap(state, patient)
    end_short(state, patient)
    del state.present[patient.number]
