"""Flow steps: the flow is turned down as a patient improves."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.model.steps.bedside import reckon_gauge_again
from o2sim.model.steps.manifold import turn_outlet_down
from o2sim.model.steps.opening import credit_cylinder
from o2sim.model.steps.units import turn_down


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
        state.ledger.served(patient, state.now, state.leak_ml_min)
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
