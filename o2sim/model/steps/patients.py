"""Patients: who arrives, leaves, is transferred or sent on, and the flow turned down as a patient improves."""

from __future__ import annotations

from o2sim.draws.philox import patient_item
from o2sim.model.invariants import check_leaving
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State, call_off
from o2sim.model.steps.backup import take_back_backup
from o2sim.model.steps.bedside import reckon_gauge_again, release_cylinder
from o2sim.model.steps.delivery import put_back_delivery
from o2sim.model.steps.gaps import end_gap, interruption_by_gap, stop_waiting, wait
from o2sim.model.steps.manifold import release_outlet, turn_outlet_down
from o2sim.model.steps.noticed import put_back_oximeter
from o2sim.model.steps.opening import credit_cylinder
from o2sim.model.steps.spells import end_short
from o2sim.model.steps.staff import call_off_staff
from o2sim.model.steps.transfers import go_with_cylinders
from o2sim.model.steps.units import release_unit, turn_down


def next_arrival(state: State, number: int) -> None:
    """Schedule the arrival of a patient by number; only one at a time is pending."""
    if number < len(state.table):
        state.clock.at(state.table.arrival_s[number], Rank.PATIENT_ARRIVES, number, patient_arrives, number)


def patient_arrives(state: State, number: int) -> None:
    """A patient begins to need oxygen and joins those waiting."""
    wait(state, admit(state, number))
    next_arrival(state, number + 1)


def admit(state: State, number: int) -> Patient:
    """A patient is in need, from now on or since before the run, with whatever is due for the rest of the stay."""
    table = state.table
    kind = state.rules.patients[table.class_index[number]]
    patient = Patient(
        number=number,
        class_index=table.class_index[number],
        priority=kind.priority,
        transfers=kind.if_unserved == "transfer",
        flows=table.flows(number),
        flow_ml_min=table.flow_ml_min[number],
        arrival_s=table.arrival_s[number],
        leave_s=table.arrival_s[number] + table.duration_s[number],
        delivery=kind.delivery,
        luck=patient_item(kind.name, table.ordinal[number]),
        needs=table.need_s[number] > 0,
        need_s=table.need_s[number],
        ward=state.wards_of_classes[table.class_index[number]],
    )
    _catch_up(state, patient)
    state.present[number] = patient
    if 0 < table.need_s[number] < table.duration_s[number]:
        due_s = table.arrival_s[number] + table.need_s[number]
        patient.need_event = state.clock.at(due_s, Rank.PATIENT_LEAVES, number, need_ends, patient)
    state.note("patient arrives", number, patient.class_index, patient.flow_ml_min)
    patient.leave_event = state.clock.at(patient.leave_s, Rank.PATIENT_LEAVES, number, patient_leaves, patient)
    next_flow_step(state, patient)
    return patient


def _catch_up(state: State, patient: Patient) -> None:
    """Let the flow of one in need since before the run have stepped down as often as it was to."""
    flows, age_s = patient.flows, state.now - patient.arrival_s
    while age_s > 0 and patient.steps_met + 1 < len(flows) and flows[patient.steps_met + 1][0] <= age_s:
        patient.steps_met += 1
        patient.flow_ml_min = flows[patient.steps_met][1]


def need_ends(state: State, patient: Patient) -> None:
    """Weaning is late: a patient who is served goes on using oxygen, any other leaves."""
    if not patient.flowing:
        patient_leaves(state, patient)
        return
    state.ledger.served(patient, state.now)
    patient.needs = False
    state.note("need ends", patient.number)


def patient_leaves(state: State, patient: Patient) -> None:
    """A patient is off oxygen: the source is freed, a gap ends."""
    for event in ("leave_event", "supply_event", "step_event"):
        call_off(patient, event)
    release(state, patient)
    call_off_staff(state, patient)
    put_back_delivery(state, patient)
    put_back_oximeter(state, patient)
    stop_waiting(state, patient)
    end_gap(state, patient)
    end_short(state, patient)
    take_back_backup(state, patient)
    del state.present[patient.number]
    state.note("patient leaves", patient.number, -1, patient.unserved_s)
    check_leaving(patient)


def transfer(state: State, patient: Patient) -> None:
    """One who can't be served on arrival, or is displaced, leaves at once and is counted."""
    assert patient.cause is not None
    state.note("patient transferred", patient.number, patient.cause)
    if state.rules.shortfall.as_before:
        interruption_by_gap(state, patient)
    state.ledger.turned_away(patient, state.now)
    gone(state, patient)


def release(state: State, patient: Patient) -> None:
    """Free whatever source a patient is connected to."""
    if patient.cylinder is not None:
        release_cylinder(state, patient)
    elif patient.piped:
        release_outlet(state, patient)
    else:
        release_unit(state, patient)


def send_on(state: State, patient: Patient) -> None:
    """A patient leaves for another place, served again by the vehicle's own oxygen or at the end of the way.

    Where cylinders of the place are to go too, and there are none for it, the patient stays.
    """
    rule = state.rules.transfer_of(patient.class_index)
    assert rule is not None
    assert patient.cause is not None
    if rule.with_cylinder and not go_with_cylinders(state, patient, rule):
        return
    state.note("patient sent on", patient.number, patient.cause)
    state.ledger.travel(patient, state.now, rule.travel_s)
    put_back_oximeter(state, patient)
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
    put_back_oximeter(state, patient)
    stop_waiting(state, patient)
    end_gap(state, patient)
    end_short(state, patient)
    take_back_backup(state, patient)
    del state.present[patient.number]


def next_flow_step(state: State, patient: Patient) -> None:
    """Schedule the next step of a patient's flow, if it comes before the patient leaves."""
    if patient.steps_met + 1 >= len(patient.flows):
        return
    due_s = patient.arrival_s + patient.flows[patient.steps_met + 1][0]
    if due_s < patient.leave_s:
        patient.step_event = state.clock.at(due_s, Rank.FLOW_STEPS_DOWN, patient.number, flow_steps_down, patient)


def flow_steps_down(state: State, patient: Patient) -> None:
    """A patient needs less from now on, on any source and also in a gap."""
    patient.steps_met += 1
    _, flow_ml_min = patient.flows[patient.steps_met]
    state.note("flow stepped down", patient.number, -1, flow_ml_min)
    if patient.cylinder is not None:
        credit_cylinder(state, patient.cylinder)
    elif patient.flowing:
        state.ledger.served(patient, state.now)
    if patient.gap_since_s is not None:
        state.ledger.unserved(patient, state.now)
    patient.flow_ml_min = flow_ml_min
    if patient.flowing and patient.cylinder is not None:
        patient.given_ml_min = flow_ml_min
        reckon_gauge_again(state, patient.cylinder, state.now + 1)  # the looks of this instant are over
        state.room_made = True  # a unit may have room for what is needed now
    elif patient.flowing and patient.piped:
        turn_outlet_down(state, patient)
        state.room_made = True
    elif patient.flowing:
        turn_down(state, patient)
    next_flow_step(state, patient)
