"""Days: the count at each midnight, the start of the horizon, and the end of the run."""

from __future__ import annotations

from o2sim.model.invariants import check_whole_run
from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.model.steps.backup import change_backups
from o2sim.model.steps.manifold_gas import credit_manifold
from o2sim.model.steps.power import credit_power
from o2sim.model.steps.resupply import credit_shelf
from o2sim.model.steps.spells import credit_short
from o2sim.model.steps.stock import close_book, consider_by_the_book, stock_book
from o2sim.model.steps.units import credit_running
from o2sim.scenario.types.hospital import DAY_S


def day_begins(state: State) -> None:
    """Close the stock book; from the start of the horizon on, where the counters start afresh, count the state."""
    if state.stores:
        close_book(state)
    if state.now == state.midnight_s:
        _begin_horizon(state)
    if state.now >= state.midnight_s:
        state.daily.append(_count(state))
    change_backups(state)
    consider_by_the_book(state)
    if state.now + DAY_S < state.rules.end_s:
        state.clock.at(state.now + DAY_S, Rank.DAY_BEGINS, 0, day_begins)


def _count(state: State) -> tuple[int, ...]:
    """Return the state as outcome.DAILY_COLUMNS."""
    stores = state.stores
    cylinders = (
        state.full,
        sum(len(store.rack) for store in stores),
        sum(store.in_use + store.on_manifold for store in stores),
        sum(len(store.empties) for store in stores),
        sum(store.on_order for store in stores),
    )
    flows = [patient.flow_ml_min for patient in state.present.values() if patient.needs]
    gaps = sum(patient.gap_since_s is not None for patient in state.present.values())
    on_units = sum(patient.flowing and bool(patient.units) for patient in state.present.values())
    away = sum(store.away_count + store.on_the_way_count for store in stores)
    reduced = sum(patient.needs for patient in state.reduced.values())
    return (*cylinders, len(flows), gaps, on_units, sum(flows), away, reduced, *stock_book(state))


def _begin_horizon(state: State) -> None:
    credit_all(state)
    check_whole_run(state)
    state.ledger.begin_horizon()
    state.booked_gas = 0
    state.levels.begin_horizon()
    state.take_stock()


def finish(state: State) -> None:
    """Close the books at the end of the horizon."""
    credit_all(state)
    for patient in state.present.values():
        if patient.gap_since_s is not None:
            state.ledger.gap_length(patient.gap_since_s, state.now)
    check_whole_run(state)


def credit_all(state: State) -> None:
    """Bring every running total up to this second."""
    for patient in state.present.values():
        if patient.flowing:
            state.ledger.served(patient, state.now)
        elif patient.gap_since_s is not None:
            state.ledger.unserved(patient, state.now)
        credit_short(state, patient)
    for unit in state.bank.units if state.bank is not None else ():
        credit_running(state, unit)
    credit_manifold(state)
    credit_shelf(state)
    credit_power(state)
    state.levels.credit(state.now)
