"""Flow splitters: patients share a cylinder, each at a flow of its own, when no regulator set is free."""

from __future__ import annotations

from o2sim.model.patient import OpenCylinder, Patient
from o2sim.model.rules import keep_gas, runs_out_after_s
from o2sim.model.state import State
from o2sim.model.steps.bedside import reckon_gauge_again
from o2sim.model.steps.gaps import end_gap
from o2sim.model.steps.opening import credit_cylinder, enough_gas


def outlet_for(state: State, patient: Patient) -> OpenCylinder | None:
    """Return the open cylinder that a patient can join, None if there is none.

    It flows, holds enough, is not waiting for a change, has a flowmeter that can be set to the flow, and a free
    outlet or a splitter to spare. The smallest range first, then one that has its splitter already, then the one
    that lasts longest.
    """
    if state.cylinder_rules.splitters is None:
        return None
    found = [each for each in state.open_cylinders.values() if _can_join(state, patient, each)]

    def last_choice(each: OpenCylinder) -> tuple[int, int, bool, int, int]:
        left = each.gas_left(state.now)
        lasts_s = runs_out_after_s(left, each.rules, each.flow_ml_min + patient.flow_ml_min)
        return each.regulator.width_ml_min, each.kind, len(each.patients) == 1, -lasts_s, each.number

    return min(found, key=last_choice, default=None)


def _can_join(state: State, patient: Patient, cylinder: OpenCylinder) -> bool:
    return (
        cylinder.flowing
        and not cylinder.backup
        and cylinder.lead.ward == patient.ward
        and cylinder.lead.task is None
        and _has_outlet(state, cylinder)
        and cylinder.regulator.reads(patient.flow_ml_min)
        and _lasts(state, cylinder, cylinder.flow_ml_min + patient.flow_ml_min)
    )


def _has_outlet(state: State, cylinder: OpenCylinder) -> bool:
    splitters = state.cylinder_rules.splitters
    assert splitters is not None
    if len(cylinder.patients) > 1:
        return len(cylinder.patients) < splitters.outlets
    return splitters.outlets > 1 and fitted(state) < splitters.count


def fitted(state: State) -> int:
    """Return the number of splitters in use: of cylinders with more than one patient."""
    return sum(len(each.patients) > 1 for each in state.open_cylinders.values())


def _lasts(state: State, cylinder: OpenCylinder, flow_ml_min: int) -> bool:
    """Return True if the gauge does not read as low, and the gas is enough for a flow by the rule of changing."""
    rules, left = cylinder.rules, cylinder.gas_left(state.now)
    least = 0 if rules.change_when == "residual" else enough_gas(state, cylinder.store, flow_ml_min, state.now)
    enough = left >= least and runs_out_after_s(left, rules, flow_ml_min) > 0
    return enough and left > keep_gas(rules) + max(0, cylinder.gauge_error_gas)


def join_cylinder(state: State, patient: Patient) -> None:
    """Put a patient on an open cylinder through a splitter, without a break for those on it."""
    cylinder = outlet_for(state, patient)
    assert cylinder is not None
    content, lead = credit_cylinder(state, cylinder), cylinder.lead
    patient.cylinder, state.on_cylinder[patient.number] = cylinder, patient
    cylinder.patients.append(patient)
    end_gap(state, patient)
    patient.flowing, patient.flow_since_s = True, state.now
    patient.given_ml_min = patient.flow_ml_min
    state.note("joins cylinder", patient.number, lead.number, content)
    if patient.order < lead.order:
        cylinder.lead = patient
    reckon_gauge_again(state, cylinder)


def cylinder_would_do(state: State, patient: Patient, other: Patient) -> bool:
    """Return True if the cylinder of another, or the outlet on it, would serve this patient in its place."""
    cylinder = other.cylinder
    assert cylinder is not None
    if cylinder.backup:  # which stays with its patient
        return False
    if not cylinder.regulator.reads(patient.flow_ml_min):
        return False
    if len(cylinder.patients) == 1:
        left = cylinder.gas_left(state.now)
        return left > keep_gas(cylinder.rules) and runs_out_after_s(left, cylinder.rules, patient.flow_ml_min) > 0
    flow = cylinder.flow_ml_min - other.flow_ml_min + patient.flow_ml_min
    return cylinder.lead.task is None and _lasts(state, cylinder, flow)
