"""Gaps: when a patient in need gets nothing, why, and when it becomes an interruption."""

from __future__ import annotations

from bisect import insort

from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State, call_off, there
from o2sim.model.steps.claims import drop_claim
from o2sim.model.steps.delivery import put_back_delivery
from o2sim.model.steps.staff import call_off_staff, call_staff
from o2sim.model.steps.times import response_time_s
from o2sim.outcome import Cause


def wait(state: State, patient: Patient) -> None:
    """Put a patient in line for a source; `settle` serves or names the cause."""
    if not patient.opens_backup:  # which flows through the same delivery set
        put_back_delivery(state, patient)
    insort(state.waiting, (patient.order, patient))
    begin_gap(state, patient)


def stop_waiting(state: State, patient: Patient) -> None:
    """Take a patient out of the line."""
    drop_claim(state, patient)
    state.waiting = [entry for entry in state.waiting if entry[1] is not patient]


def begin_gap(state: State, patient: Patient) -> None:
    """Note that a patient in need gets nothing from now on; one gap goes on through changes of cause."""
    if patient.gap_since_s is None and patient.needs:
        patient.gap_since_s = patient.cause_since_s = state.now
        patient.cause = None


def set_cause(state: State, patient: Patient, cause: Cause) -> None:
    """Name the cause of a gap from now on; naming the first starts the clock of the tolerated gap."""
    if patient.gap_since_s is None:  # a patient who does not need it
        return
    if patient.cause is None:
        if state.rules.shortfall.as_before:
            crossed_s = patient.gap_since_s + state.rules.tolerated_gap_s
            patient.tolerance_event = state.clock.at(
                crossed_s, Rank.TOLERANCE_CROSSED, patient.number, tolerance_crossed, patient
            )
        sent_on = state.rules.transfer_of(patient.class_index)
        if sent_on is not None:
            due_s = patient.gap_since_s + sent_on.after_s
            patient.transfer_event = state.clock.at(
                due_s, Rank.TRANSFER_DUE, patient.number, transfer_due, patient
            )
        state.note("gap begins", patient.number, cause)
    elif patient.cause != cause:
        state.ledger.unserved(patient, state.now)
        state.note("cause changes", patient.number, cause)
    patient.cause = cause


def tolerance_crossed(state: State, patient: Patient) -> None:
    """A gap has exceeded the tolerated gap: an interruption, by the cause that holds now."""
    assert patient.gap_since_s is not None
    assert patient.cause is not None
    state.note("interruption", patient.number, patient.cause, patient.gap_since_s)
    interruption_by_gap(state, patient)


def interruption_by_gap(state: State, patient: Patient) -> None:
    """Count an interruption by the cause that holds now; it is a stock-out where that is the supply."""
    cause = there(patient.cause)
    state.ledger.interruption(patient, cause, state.now)
    if cause.is_supply:
        state.ledger.stock_out(patient, cause, state.now)


def transfer_due(_state: State, patient: Patient) -> None:
    """A gap is so long that the patient is to be sent on; `settle` does so as soon as nobody is at the bedside."""
    patient.transfer_due = True


def end_gap(state: State, patient: Patient) -> None:
    """Close a patient's gap, if there is one; a gap without length leaves no trace."""
    if patient.gap_since_s is None:
        return
    if patient.backup is not None:
        call_off(patient.backup, "event")
        patient.backup.opening = False
    if patient.cause is not None:
        state.ledger.unserved(patient, state.now)
        call_off(patient, "tolerance_event")
        call_off(patient, "transfer_event")
        patient.transfer_due = False
        state.ledger.gap_length(patient.gap_since_s, state.now)
        state.note("gap ends", patient.number, patient.cause, state.now - patient.gap_since_s)
    patient.gap_since_s = patient.cause = None


def lose_supply(state: State, patient: Patient) -> None:
    """A patient's supply is lost: staff connect another source after the response time."""
    state.note("supply lost", patient.number)
    call_off_staff(state, patient)  # from a move to another source
    if not patient.needs:
        response_ends(state, patient)
        return
    begin_gap(state, patient)
    patient.responding = True
    patient.losses += 1
    call_staff(state, patient, response_time_s, _begin_response, response_ends)


def _begin_response(state: State, patient: Patient) -> bool:
    if response_time_s(state, patient) > 0:
        set_cause(state, patient, Cause.CHANGEOVER)
    return True


def response_ends(state: State, patient: Patient) -> None:
    """Staff are at the bedside: the patient leaves the lost source and waits for any."""
    patient.responding = patient.piped = False
    patient.unit = None
    attended(state, patient)
    wait(state, patient)


def attended(state: State, patient: Patient) -> None:
    """Staff are at the bedside of a waiting patient: what there is to connect now takes no other job."""
    if state.hands_connect:
        patient.attended_s = state.now
