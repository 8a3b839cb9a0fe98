"""Given flow: what a patient gets, and who gets less than prescribed."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.state import State


def give(state: State, patient: Patient, flow_ml_min: int) -> None:
    """Let a patient have a flow from now on; less than prescribed is reduced flow: served, but under-served."""
    if patient.flowing:
        state.ledger.served(patient, state.now, state.leak_ml_min)
    patient.given_ml_min = flow_ml_min
    if flow_ml_min < patient.flow_ml_min:
        state.reduced[patient.number] = patient
    else:
        state.reduced.pop(patient.number, None)


def flow_stops(state: State, patient: Patient) -> None:
    """Units give a patient nothing from now on."""
    state.ledger.served(patient, state.now, state.leak_ml_min)
    patient.flowing = patient.low = False
    state.reduced.pop(patient.number, None)
