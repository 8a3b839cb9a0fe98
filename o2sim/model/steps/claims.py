"""Claims: a source that is being fetched or connected for a patient is nobody else's."""

from __future__ import annotations

from o2sim.model.patient import FROM_STORE, FROM_WARD, REPLACEMENT, Patient
from o2sim.model.state import State, call_off, there


def claim_unit(state: State, patient: Patient) -> None:
    """Keep room on the first unit that has it for a patient."""
    bank = there(state.bank)
    number = bank.unit_with_room(patient.flow_ml_min, patient.ward)
    assert number is not None
    unit = bank.units[number]
    unit.expected.append(patient)
    unit.expected_ml_min += patient.flow_ml_min
    patient.claim, patient.claimed_ml_min = number, patient.flow_ml_min


def claim_cylinder(state: State, patient: Patient) -> None:
    """Keep a regulator of the ward and a cylinder for a patient: one kept on the ward, else one of the store."""
    assert state.store is not None
    take_regulator(state, patient)
    patient.claim = FROM_WARD if on_ward(state, patient.ward) > 0 else FROM_STORE
    _hold(state, patient, 1)


def claim_replacement(state: State, patient: Patient) -> None:
    """Keep a cylinder of the central store for one whose cylinder is to be changed."""
    patient.claim = REPLACEMENT
    _hold(state, patient, 1)


def drop_claim(state: State, patient: Patient) -> None:
    """Let go of whatever is kept for a patient; a fetch under way is called off."""
    call_off(patient, "fetch_event")
    patient.fetched = False
    claim, patient.claim = patient.claim, None
    if claim is None:
        return
    if claim >= 0:
        assert state.bank is not None
        unit = state.bank.units[claim]
        unit.expected.remove(patient)
        unit.expected_ml_min -= patient.claimed_ml_min
        state.room_made = True
        return
    patient.claim = claim
    _hold(state, patient, -1)
    patient.claim = None
    if claim != REPLACEMENT:
        give_regulator(state, patient.ward, patient.set_kind)


def _hold(state: State, patient: Patient, count: int) -> None:
    if patient.claim == FROM_WARD:
        state.wards[patient.ward].held += count
    else:
        there(state.store).held += count


def regulator_free(state: State, patient: Patient) -> bool:
    """Return True if the patient's ward has a regulator set for the flow that nobody uses."""
    store = state.store
    if store is None or state.wards[patient.ward].regulators_free < 1:
        return False
    return store.free_set(patient.flow_ml_min) is not None


def take_regulator(state: State, patient: Patient) -> int:
    """Take a regulator set of the patient's ward into use; return its kind."""
    store = there(state.store)
    kind = store.free_set(patient.flow_ml_min)
    assert kind is not None
    store.sets_free[kind] -= 1
    state.wards[patient.ward].regulators_free -= 1
    patient.set_kind = kind
    return kind


def give_regulator(state: State, ward: int, kind: int) -> None:
    """Give a regulator set back to its ward."""
    there(state.store).sets_free[kind] += 1
    state.wards[ward].regulators_free += 1


def on_ward(state: State, ward: int) -> int:
    """Return how many cylinders kept on a ward are nobody's yet."""
    return len(there(state.store).bedside[ward]) - state.wards[ward].held
