"""Cylinders taken into use on a regulator, and put back: part-used to the rack, else to the empties."""

from __future__ import annotations

from o2sim.model.patient import OpenCylinder, Patient
from o2sim.model.state import State, call_off, there
from o2sim.model.steps.claims import give_regulator, on_ward
from o2sim.model.steps.emergency import consider_emergency
from o2sim.model.steps.looks import enough_gas, gauge_error
from o2sim.model.steps.resupply import consider_review, credit_shelf


def may_open(state: State, patient: Patient) -> bool:
    """Return True if there is a cylinder for a patient: one kept on the ward, or one of the store.

    The last few of the store may be kept for a high priority.
    """
    if on_ward(state, patient.ward) > 0:
        return True
    allocation = state.rules.allocation
    kept = allocation.reserve if patient.priority > allocation.reserve_priority else 0
    return there(state.store).in_store > kept


def next_content(state: State, cylinder: OpenCylinder) -> int:
    """Return the content of the cylinder that would be opened next in place of one, 0 where none is usable."""
    store = there(state.store)
    ward = cylinder.lead.ward
    if on_ward(state, ward) > 0:
        return store.bedside[ward][0]
    return store.best_content(enough_gas(state, cylinder.flow_ml_min))


def open_cylinder(state: State, cylinder: OpenCylinder) -> None:
    """Take a cylinder into use on a regulator."""
    store = there(state.store)
    lead = cylinder.lead
    credit_shelf(state)
    if on_ward(state, lead.ward) > 0:
        cylinder.content = store.open_on_ward(lead.ward)
    else:
        cylinder.content = store.open(enough_gas(state, cylinder.flow_ml_min))
    cylinder.gauge_error_gas = gauge_error(state, lead)
    lead.cylinders += 1
    cylinder.found_low = False
    cylinder.number = state.opened
    state.opened += 1
    state.open_cylinders[cylinder.number] = cylinder
    state.ledger.cylinders_opened += 1
    state.fewest_full = min(state.fewest_full, store.full)
    state.note("cylinder opened", lead.number, store.full, cylinder.content)
    consider_review(state, emptied=False)
    consider_emergency(state)


def close_cylinder(state: State, cylinder: OpenCylinder) -> list[Patient]:
    """Take the cylinder and the regulator off all on it; return them by their place in line."""
    assert state.store is not None
    call_off(cylinder, "event")
    take_off(state, cylinder)
    patients, cylinder.patients = sorted(cylinder.patients, key=lambda patient: patient.order), []
    for patient in patients:
        patient.cylinder = None
        del state.on_cylinder[patient.number]
    give_regulator(state, cylinder.lead.ward, cylinder.kind)
    return patients


def take_off(state: State, cylinder: OpenCylinder) -> None:
    """Take the cylinder off a regulator: part-used to the rack, else to the empties."""
    store, content = there(state.store), credit_cylinder(state, cylinder)
    lead = cylinder.lead
    for patient in cylinder.patients:
        patient.flowing = False  # credited
    credit_shelf(state)
    if _left_open(state, lead):
        state.note("cylinder left open", lead.number, -1, content)
        state.ledger.leaked_gas += content
        content = 0
    if store.put_back(content, cylinder.flow_ml_min, cylinder.gauge_error_gas):
        state.note("cylinder racked", lead.number, len(store.rack), content)
        state.stock_came = True
    else:
        state.ledger.cylinders_emptied += 1
        state.note("cylinder emptied", lead.number, len(store.empties), content)
        consider_review(state)
    del state.open_cylinders[cylinder.number]
    consider_emergency(state)


def _left_open(state: State, lead: Patient) -> bool:
    """Return True if the valve of the cylinder that comes off is left open, by (patient, cylinder)."""
    assert state.rules.cylinders is not None
    chance = state.rules.cylinders.left_open
    return chance > 0 and state.draws.draw("left open", lead.luck, lead.cylinders) < chance


def credit_cylinder(state: State, cylinder: OpenCylinder) -> int:
    """Bring an open cylinder's content up to this second and return it (1/60 mL)."""
    if cylinder.flowing:
        for patient in cylinder.patients:
            state.ledger.served(patient, state.now, state.leak_ml_min)
    return cylinder.content
