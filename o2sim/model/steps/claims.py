"""Claims: a source being fetched or connected for a patient is nobody else's; the store, stock on wards."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.patient import BACKUP, FROM_STORE, FROM_WARD, REPLACEMENT, Patient
from o2sim.model.rules import PORTER, STORE_OPENS, Rank, keep_gas, runs_out_after_s
from o2sim.model.state import State, call_off, there
from o2sim.model.store import CylinderStore
from o2sim.model.ward import WardState
from o2sim.scenario.types.hospital import DAY_S


def has_backup(patient: Patient) -> bool:
    """Return True if there is a back-up at the bed that, for all that is known, would flow."""
    backup = patient.backup
    if backup is None:
        return False
    lasts = runs_out_after_s(backup.content, backup.store.rules, patient.flow_ml_min) > 0
    return backup.fresh or (lasts and backup.content > keep_gas(backup.store.rules))


def claim_unit(state: State, patient: Patient) -> None:
    """Keep room on the first unit that has it for a patient."""
    bank = there(state.bank)
    number = bank.unit_with_room(patient.flow_ml_min, patient.ward)
    assert number is not None
    unit = bank.units[number]
    unit.expected.append(patient)
    unit.expected_ml_min += patient.flow_ml_min
    patient.claim, patient.claimed_ml_min = number, patient.flow_ml_min


def claim_backup(patient: Patient) -> None:
    """Note that the back-up at the bed is to be connected: it is the patient's already."""
    patient.claim = BACKUP


def claim_cylinder(state: State, patient: Patient, store: CylinderStore) -> None:
    """Keep a regulator of the ward and a cylinder of a size: one kept on the ward, else one of the store."""
    take_regulator(state, patient, store)
    patient.claim = FROM_WARD if is_kept(state, patient.ward, store) else FROM_STORE
    patient.size = store.number
    _hold(state, patient, patient.claim, 1)


def claim_replacement(state: State, patient: Patient, store: CylinderStore) -> None:
    """Keep a cylinder of the central store for a patient whose cylinder is to be changed."""
    patient.claim, patient.size = REPLACEMENT, store.number
    _hold(state, patient, patient.claim, 1)


def drop_claim(state: State, patient: Patient) -> None:
    """Let go of whatever is kept for a patient; a fetch under way is called off."""
    call_off(patient, "fetch_event")
    patient.fetched = False
    claim, patient.claim = patient.claim, None
    if claim is None or claim == BACKUP:
        return
    if claim >= 0:
        assert state.bank is not None
        unit = state.bank.units[claim]
        unit.expected.remove(patient)
        unit.expected_ml_min -= patient.claimed_ml_min
        state.room_made = True
        return
    _hold(state, patient, claim, -1)
    if claim != REPLACEMENT:
        give_regulator(state, patient.ward, patient.set_kind)


def _hold(state: State, patient: Patient, claim: int, count: int) -> None:
    if claim == FROM_WARD:
        state.wards[patient.ward].held += count
    else:
        state.stores[there(patient.size)].held += count


def regulator_free(state: State, patient: Patient, store: CylinderStore) -> bool:
    """Return True if the patient's ward has a regulator set for the flow and a size that nobody uses."""
    if state.wards[patient.ward].regulators_free < 1:
        return False
    return there(state.sets).free_set(patient.flow_ml_min, store.number) is not None


def take_regulator(state: State, patient: Patient, store: CylinderStore) -> int:
    """Take a regulator set of the patient's ward, for a size of cylinder, into use; return its kind."""
    sets = there(state.sets)
    kind = sets.free_set(patient.flow_ml_min, store.number)
    assert kind is not None
    sets.free[kind] -= 1
    state.wards[patient.ward].regulators_free -= 1
    patient.set_kind = kind
    return kind


def give_regulator(state: State, ward: int, kind: int) -> None:
    """Give a regulator set back to its ward."""
    there(state.sets).free[kind] += 1
    state.wards[ward].regulators_free += 1


def on_ward(state: State, ward: int) -> int:
    """Return how many cylinders kept on a ward are nobody's yet."""
    return len(there(state.ward_store).bedside[ward]) - state.wards[ward].held


def is_kept(state: State, ward: int, store: CylinderStore) -> bool:
    """Return True if a cylinder of a size that is nobody's yet is kept on a ward."""
    return store is state.ward_store and on_ward(state, ward) > 0


def is_day(state: State) -> bool:
    """Return True by day."""
    return state.rules.day_hours.is_day((state.now - state.midnight_s) % DAY_S)


def fetch_time_s(state: State, patient: Patient, store: CylinderStore) -> int:
    """Return how long it takes to bring a cylinder of a size to a patient now: no time from the ward."""
    access = state.rules.store
    if is_kept(state, patient.ward, store):
        return 0
    return access.fetch_by_day_s if is_day(state) else access.fetch_by_night_s


def fetch(state: State, patient: Patient, fetch_s: int, then: Callable[[State, Patient], None]) -> None:
    """Send for the cylinder that is kept for a patient; nobody at the bedside is needed for it."""
    due_s = state.now + fetch_s
    state.note("fetch begins", patient.number, -1, due_s)
    patient.fetch_event = state.clock.at(due_s, Rank.TIMER_ENDS, patient.item, fetched, patient, then)


def fetch_replacement(
    state: State, patient: Patient, store: CylinderStore, fetch_s: int, then: Callable[[State, Patient], None]
) -> None:
    """Send for the next cylinder of a patient; the one connected flows on meanwhile, if it flows."""
    claim_replacement(state, patient, store)
    fetch(state, patient, fetch_s, then)


def fetched(state: State, patient: Patient, then: Callable[[State, Patient], None]) -> None:
    """The cylinder is at the bedside."""
    patient.fetch_event = None
    patient.fetched = True
    then(state, patient)


def begin_store_days(state: State) -> None:
    """Schedule the first opening of the store, where cylinders are kept on wards."""
    if state.stocks_wards:
        store_opens(state)


def store_opens(state: State) -> None:
    """The day begins: the wards are restocked from the central store."""
    wait_s = (state.rules.day_hours.from_s - (state.now - state.midnight_s) - 1) % DAY_S + 1
    state.clock.at(state.now + wait_s, Rank.SHIFT_CHANGES, STORE_OPENS, store_opens)


def restock_wards(state: State) -> None:
    """By day bring full cylinders to the wards that lack some, ward by ward; a reserve stays where it is."""
    store = state.ward_store
    if store is None or not state.stocks_wards or not is_day(state):
        return
    for ward in state.wards:
        lacking = ward.most_bedside - len(store.bedside[ward.number]) - ward.coming
        spare = store.in_store - state.rules.allocation.reserve
        full = len(store.fills) - sum(each.coming for each in state.wards)
        count = min(lacking, spare, full)
        if count > 0:
            _send(state, ward, count)


def _send(state: State, ward: WardState, count: int) -> None:
    ward.coming += count
    there(state.ward_store).held += count
    fetch_s = state.rules.store.fetch_by_day_s
    if fetch_s == 0:
        _put_down(state, ward, count)
    else:
        state.clock.at(state.now + fetch_s, Rank.DELIVERY, PORTER + ward.number, ward_restocked, ward, count)


def ward_restocked(state: State, ward: WardState, count: int) -> None:
    """Full cylinders are on the ward: those who wait, or whose cylinder is low, may have one."""
    _put_down(state, ward, count)
    state.stock_came = True


def _put_down(state: State, ward: WardState, count: int) -> None:
    store = there(state.ward_store)
    ward.coming -= count
    store.held -= count
    store.stock_ward(ward.number, count)
    state.note("ward restocked", ward.number, count, len(store.bedside[ward.number]))
