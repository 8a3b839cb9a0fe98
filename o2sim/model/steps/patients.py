"""Patients: who arrives, who leaves, and `settle`, the only place where anybody is given a source."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.invariants import check_leaving
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State, call_off
from o2sim.model.steps.bedside import connect_cylinder, release_cylinder
from o2sim.model.steps.gaps import end_gap, set_cause, stop_waiting, wait
from o2sim.model.steps.staff import answer_calls, call_off_staff
from o2sim.model.steps.units import connect_unit, release_unit
from o2sim.outcome import Cause


def next_arrival(state: State, number: int) -> None:
    """Schedule the arrival of a patient by number; only one at a time is pending."""
    if number < len(state.table):
        state.clock.at(state.table.arrival_s[number], Rank.PATIENT_ARRIVES, number, patient_arrives, number)


def patient_arrives(state: State, number: int) -> None:
    """A patient begins to need oxygen and joins those waiting."""
    table = state.table
    kind = state.rules.patients[table.class_index[number]]
    patient = Patient(
        number=number,
        class_index=table.class_index[number],
        priority=kind.priority,
        transfers=kind.if_unserved == "transfer",
        flow_ml_min=table.flow_ml_min[number],
        arrival_s=state.now,
        leave_s=state.now + table.duration_s[number],
        luck=f"{kind.name} {table.ordinal[number]}",
        needs=table.need_s[number] > 0,
        need_s=table.need_s[number],
    )
    state.present[number] = patient
    if 0 < table.need_s[number] < table.duration_s[number]:
        due_s = state.now + table.need_s[number]
        patient.need_event = state.clock.at(due_s, Rank.PATIENT_LEAVES, number, need_ends, patient)
    state.note("patient arrives", number, patient.class_index, patient.flow_ml_min)
    patient.leave_event = state.clock.at(patient.leave_s, Rank.PATIENT_LEAVES, number, patient_leaves, patient)
    wait(state, patient)
    next_arrival(state, number + 1)


def need_ends(state: State, patient: Patient) -> None:
    """Weaning is late: one who is served goes on using oxygen, one who is not leaves."""
    if not patient.flowing:
        patient_leaves(state, patient)
        return
    state.ledger.served(patient, state.now, state.leak_ml_min)
    patient.needs = False
    state.note("need ends", patient.number)


def patient_leaves(state: State, patient: Patient) -> None:
    """A patient is off oxygen: the source is freed, a gap ends."""
    call_off(patient, "leave_event")
    call_off(patient, "supply_event")
    call_off_staff(state, patient)
    _release(state, patient)
    stop_waiting(state, patient)
    end_gap(state, patient)
    del state.present[patient.number]
    state.note("patient leaves", patient.number, -1, patient.unserved_s)
    check_leaving(patient)


def _transfer(state: State, patient: Patient) -> None:
    """One who can't be served on arrival leaves at once and is counted."""
    assert patient.cause is not None
    state.note("patient transferred", patient.number, patient.cause)
    state.ledger.transfer(patient, state.now)
    call_off(patient, "leave_event")
    call_off(patient, "need_event")
    stop_waiting(state, patient)
    end_gap(state, patient)
    del state.present[patient.number]


def _release(state: State, patient: Patient) -> None:
    """Free whatever source a patient is connected to."""
    if patient.content is not None:
        release_cylinder(state, patient)
    else:
        release_unit(state, patient)


def settle(state: State) -> None:
    """Answer calls; serve the line by priority, then arrival; bring others back to units; name the causes."""
    answer_calls(state)
    _serve_line(state)
    if state.room_made:
        _return_to_concentrators(state)
        _serve_line(state)  # with the cylinders and regulators that came free
    for _, task in state.calls:
        if task.patient.gap_since_s is not None:
            set_cause(state, task.patient, Cause.WAITING_FOR_STAFF)
    for _, patient in list(state.waiting):
        if not patient.needs:  # given oxygen without need, or weaned late: does without
            patient_leaves(state, patient)
            continue
        set_cause(state, patient, _reason(state, patient))
        if patient.transfers and patient.arrival_s == state.now:
            _transfer(state, patient)


def _serve_line(state: State) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    for _, patient in list(state.waiting):
        arrives = patient.arrival_s == state.now  # one without need is not connected a second time
        connect = _first_source(state, patient) if patient.needs or arrives else None
        if connect is not None:
            stop_waiting(state, patient)
            connect(state, patient)


def _first_source(state: State, patient: Patient) -> Callable[[State, Patient], None] | None:
    """Return how to connect the first source in the strategy's order that has room, None if none has."""
    for source in state.rules.strategy.sources:
        if source == "concentrator":
            if state.bank is not None and state.bank.unit_with_room(patient.flow_ml_min) is not None:
                return connect_unit
        elif state.store is not None and state.store.has_usable and state.store.regulators_free > 0:
            return connect_cylinder
    return None


def _reason(state: State, patient: Patient) -> Cause:
    """Return why the last source in the strategy's order cannot serve a patient."""
    if state.rules.strategy.sources[-1] == "cylinder":
        assert state.store is not None
        return Cause.NO_REGULATOR if state.store.has_usable else Cause.NO_CYLINDER
    bank = state.bank
    assert bank is not None
    if patient.flow_ml_min > bank.rules.rated_flow_ml_min:
        return Cause.FLOW_TOO_HIGH
    if not bank.powered:
        return Cause.NO_POWER
    if bank.units and not bank.any_working:
        return Cause.CONCENTRATOR_DOWN
    return Cause.CONCENTRATORS_FULL


def _return_to_concentrators(state: State) -> None:
    """Move patients from cylinders to units that have room, where the strategy puts units first."""
    state.room_made = False
    strategy = state.rules.strategy
    if state.bank is None or not strategy.return_to_concentrator or strategy.sources[0] != "concentrator":
        return
    for patient in sorted(state.on_cylinder.values(), key=lambda patient: patient.order):
        if patient.flowing and state.bank.unit_with_room(patient.flow_ml_min) is not None:
            call_off(patient, "supply_event")
            call_off_staff(state, patient)  # who was to change the cylinder
            release_cylinder(state, patient)
            connect_unit(state, patient)
