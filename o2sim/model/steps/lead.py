"""The lead of an open cylinder: the first in line of those on it, by whose place staff come."""

from __future__ import annotations

from bisect import insort

from o2sim.model.patient import OpenCylinder, Patient
from o2sim.model.state import State


def on_same_cylinder(patient: Patient) -> list[Patient]:
    """Return all on the cylinder of a patient, or the patient alone."""
    return [patient] if patient.cylinder is None else patient.cylinder.patients


def hand_over(state: State, cylinder: OpenCylinder) -> None:
    """The next in line takes the place of a lead who has left; who was called for the cylinder still comes."""
    heir = min(cylinder.patients, key=lambda patient: patient.order)
    task, cylinder.lead.task = cylinder.lead.task, None
    cylinder.lead, heir.task = heir, task
    if task is None:
        return
    task.patient = heir
    calls = [call for call in state.calls if call[1] is not task]
    if len(calls) < len(state.calls):  # nobody has come yet
        insort(calls, (heir.order, task))
        state.calls = calls
