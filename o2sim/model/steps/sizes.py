"""Sizes: of which size the cylinder is that a patient is given, as one is connected or as one is changed."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.model.patient import OpenCylinder, Patient
from o2sim.model.rules import runs_out_after_s
from o2sim.model.state import State, there
from o2sim.model.steps.claims import is_kept, regulator_free
from o2sim.model.steps.opening import enough_gas, enough_to_take, next_content
from o2sim.model.store import CylinderStore

LISTED = "listed"


def may_open(state: State, patient: Patient, store: CylinderStore) -> bool:
    """Return True if there is a cylinder of a size for a patient: one kept on the ward, or one of the store.

    The last few of each size in the store may be kept for a high priority.
    """
    return is_kept(state, patient.ward, store) or store.in_store > kept_back(state, patient)


def kept_back(state: State, patient: Patient) -> int:
    """Return how many cylinders of each size are kept for a higher priority."""
    allocation = state.rules.allocation
    return allocation.reserve if patient.priority > allocation.reserve_priority else 0


def sizes_of(state: State, patient: Patient) -> list[CylinderStore]:
    """Return the sizes for a patient's flow, the first choice first: those for which there are sets.

    Where the facility has none for the flow, all sizes for patients: then a set is wanting.
    """
    if not state.several:
        return state.stores
    stores = [state.stores[place] for place in state.sizes_for["bedside"]]
    sets = there(state.sets)
    return [store for store in stores if sets.has_any(patient.flow_ml_min, store.number)] or stores


def any_to_open(state: State, patient: Patient) -> bool:
    """Return True if there is a cylinder for a patient, whether or not a set for it is free."""
    return any(may_open(state, patient, store) for store in sizes_of(state, patient))


def to_open(state: State, patient: Patient) -> CylinderStore | None:
    """Return the size of the cylinder to be opened for a patient without a set; None without one, or a set for it.

    The size that has been fetched, else the first by the rule of choosing.
    """
    fit = [
        store
        for store in sizes_of(state, patient)
        if may_open(state, patient, store) and regulator_free(state, patient, store)
    ]
    if len(fit) < 2:
        return fit[0] if fit else None
    if patient.fetched_s == state.now and patient.size is not None and state.stores[patient.size] in fit:
        return state.stores[patient.size]
    return _by_choice(state, patient, fit, patient.flow_ml_min, state.now)[0]


def to_change(state: State, cylinder: OpenCylinder, begins_s: int) -> CylinderStore | None:
    """Return the size of the next cylinder in place of one, to flow from a second on; None without any.

    Of another size where the set on it fits, or another set is free and the patient alone on it. The size that has
    been fetched; else the first by the rule of choosing that lasts longer than what is left, if one does.
    """
    lead = cylinder.lead
    if not state.several:
        return cylinder.store if may_open(state, lead, cylinder.store) else None
    stores = sizes_to_change(state, cylinder)
    fit = [store for store in stores if may_open(state, lead, store) and has_set(state, cylinder, store)]
    if lead.fetched and lead.size is not None and state.stores[lead.size] in fit:
        return state.stores[lead.size]
    fit = _by_choice(state, lead, fit, cylinder.flow_ml_min, begins_s)
    return next((store for store in fit if is_better(state, cylinder, store, begins_s)), fit[0] if fit else None)


def sizes_to_change(state: State, cylinder: OpenCylinder) -> list[CylinderStore]:
    """Return the sizes that may come in place of a cylinder, the first choice first."""
    use = "backup" if cylinder.backup else "bedside"
    return [state.stores[place] for place in state.sizes_for[use]]


def has_set(state: State, cylinder: OpenCylinder, store: CylinderStore) -> bool:
    """Return True if a cylinder of a size could be put on in place of one: by the set on it, or by another."""
    if there(state.sets).fits(cylinder.kind, store.number):
        return True
    return len(cylinder.patients) == 1 and regulator_free(state, cylinder.lead, store)


def is_better(state: State, cylinder: OpenCylinder, store: CylinderStore, begins_s: int) -> bool:
    """Return True if the next cylinder of a size can give more than what is left in one that flows."""
    enough = enough_to_take(state, cylinder, store, begins_s)
    best = next_content(state, cylinder.lead, store, enough)
    if not cylinder.flowing:
        return best > 0
    return best - store.rules.lost_gas > cylinder.gas_left(state.now) - cylinder.rules.lost_gas


def _by_choice(
    state: State, patient: Patient, stores: Sequence[CylinderStore], flow_ml_min: int, begins_s: int
) -> list[CylinderStore]:
    """Return sizes in the order in which they are chosen for a flow that begins at a second.

    As listed; or the smallest that lasts until the next look first, and those that do not last at the end, the one
    that lasts longest before the others.
    """
    if state.cylinder_rules.choose == LISTED:
        return list(stores)

    def place(store: CylinderStore) -> tuple[bool, int]:
        enough = enough_gas(state, store, flow_ml_min, begins_s)
        content = next_content(state, patient, store, enough)
        if content >= enough:
            return False, store.rules.full_gas
        return True, -runs_out_after_s(content, store.rules, flow_ml_min)

    return sorted(stores, key=place)
