"""Humidifiers and delivery sets: limited numbers of what a patient needs beside a source."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.state import State
from o2sim.scenario.types.bedside import ALWAYS_HUMIDIFIED


def needs_humidifier(state: State, patient: Patient) -> bool:
    """Return True if the device, or the flow prescribed, needs a humidifier."""
    size = state.rules.patients[patient.class_index].size
    too_dry = patient.flow_ml_min > state.rules.bedside.dry_above_ml_min(size)
    return too_dry or patient.delivery in ALWAYS_HUMIDIFIED


def lacks_delivery(state: State, patient: Patient) -> bool:
    """Return True if there is no delivery set, or no humidifier, for a patient who needs it."""
    return not patient.has_delivery and (_lacks_set(state, patient) or _lacks_humidifier(state, patient))


def _lacks_set(state: State, patient: Patient) -> bool:
    return state.delivery_free.get(patient.delivery, 1) < 1


def _lacks_humidifier(state: State, patient: Patient) -> bool:
    free = state.humidifiers_free
    return free is not None and free < 1 and needs_humidifier(state, patient)


def take_delivery(state: State, patient: Patient) -> None:
    """Give a delivery set, and a humidifier where one is needed, to a patient who is connected to a source.

    They stay with the patient through changes and responses, and are free again as the patient waits in line or
    leaves.
    """
    if patient.has_delivery:  # of a patient whose back-up was being opened
        return
    patient.has_delivery = True
    if patient.delivery in state.delivery_free:
        state.delivery_free[patient.delivery] -= 1
    if state.humidifiers_free is not None and needs_humidifier(state, patient):
        state.humidifiers_free -= 1
        patient.has_humidifier = True


def put_back_delivery(state: State, patient: Patient) -> None:
    """Free the delivery set and the humidifier of a patient, for the next."""
    if patient.has_delivery and patient.delivery in state.delivery_free:
        state.delivery_free[patient.delivery] += 1
    if state.humidifiers_free is not None and patient.has_humidifier:
        state.humidifiers_free += 1
    patient.has_delivery = patient.has_humidifier = False


def delivery_would_do(state: State, patient: Patient, other: Patient) -> bool:
    """Return True if the delivery set and humidifier of another would make good what this patient lacks."""
    if patient.has_delivery:
        return True
    has_set = not _lacks_set(state, patient) or other.delivery == patient.delivery
    return has_set and (not _lacks_humidifier(state, patient) or other.has_humidifier)
