"""Central store: cylinders are fetched from it, and full ones are kept on the wards, refilled from it by day."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.patient import Patient
from o2sim.model.rules import PORTER, STORE_OPENS, Rank
from o2sim.model.state import State, there
from o2sim.model.steps.claims import claim_replacement, on_ward
from o2sim.model.ward import WardState
from o2sim.scenario.types.hospital import DAY_S


def is_day(state: State) -> bool:
    """Return True by day."""
    return state.rules.day_hours.is_day((state.now - state.midnight_s) % DAY_S)


def fetch_time_s(state: State, patient: Patient) -> int:
    """Return how long it takes to bring a cylinder to a patient now: no time where one is kept on the ward."""
    access = state.rules.store
    if on_ward(state, patient.ward) > 0:
        return 0
    return access.fetch_by_day_s if is_day(state) else access.fetch_by_night_s


def fetch(state: State, patient: Patient, fetch_s: int, then: Callable[[State, Patient], None]) -> None:
    """Send for the cylinder that is kept for a patient; nobody at the bedside is needed for it."""
    due_s = state.now + fetch_s
    state.note("fetch begins", patient.number, -1, due_s)
    patient.fetch_event = state.clock.at(due_s, Rank.TIMER_ENDS, patient.item, fetched, patient, then)


def fetch_replacement(
    state: State, patient: Patient, fetch_s: int, then: Callable[[State, Patient], None]
) -> None:
    """Send for the next cylinder of a patient; the one connected flows on meanwhile, if it flows."""
    claim_replacement(state, patient)
    fetch(state, patient, fetch_s, then)


def fetched(state: State, patient: Patient, then: Callable[[State, Patient], None]) -> None:
    """The cylinder is at the bedside."""
    patient.fetch_event = None
    patient.fetched = True
    then(state, patient)


def begin_store_days(state: State) -> None:
    """Schedule the first opening of the store, where cylinders are kept on wards."""
    if state.stocks_wards:
        _next_opening(state)


def store_opens(state: State) -> None:
    """The day begins: the wards are restocked from the central store."""
    _next_opening(state)


def _next_opening(state: State) -> None:
    wait_s = (state.rules.day_hours.from_s - (state.now - state.midnight_s) - 1) % DAY_S + 1
    state.clock.at(state.now + wait_s, Rank.SHIFT_CHANGES, STORE_OPENS, store_opens)


def restock_wards(state: State) -> None:
    """By day bring full cylinders to the wards that lack some, ward by ward; a reserve stays where it is."""
    store = state.store
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
    there(state.store).held += count
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
    store = there(state.store)
    ward.coming -= count
    store.held -= count
    store.stock_ward(ward.number, count)
    state.note("ward restocked", ward.number, count, len(store.bedside[ward.number]))
