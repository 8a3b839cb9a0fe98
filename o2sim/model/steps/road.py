"""The supplier and the road: when an order placed now arrives."""

from __future__ import annotations

import datetime as dt

from o2sim.model.state import State
from o2sim.scenario.types import DAY_S, Resupply


def ordinary_arrival_s(state: State, day: dt.date, nth: int) -> int:
    """Return when an order placed now arrives: supplier, lead time, no overtaking, calendar, road."""
    resupply = _rules(state)
    arrival_s = _taken_up_s(state, state.outages) + state.draws.lead_time_s(resupply.lead_time_s, day, nth)
    if not resupply.overtaking:
        arrival_s = max(arrival_s, state.last_delivery_s)
    arrival_s = _next_delivery_s(state, arrival_s, resupply.no_delivery)
    state.last_delivery_s = max(arrival_s, state.last_delivery_s)
    return arrival_s


def emergency_arrival_s(state: State, lead_time_s: int) -> int:
    """Return when an emergency order placed now arrives: another supplier, any day, but the same road."""
    return _next_delivery_s(state, _taken_up_s(state, []) + lead_time_s, ())


def _taken_up_s(state: State, outages: list[tuple[int, int]]) -> int:
    """Return when the lead time begins: the supplier is there and, for own cylinders, the road out is open."""
    on_the_way_out = state.closures if _rules(state).own_cylinders else []
    due_s = state.now
    while True:
        free_s = _after(outages, _after(on_the_way_out, due_s))
        if free_s == due_s:
            return free_s
        due_s = free_s


def _next_delivery_s(state: State, due_s: int, no_delivery: tuple[int, ...]) -> int:
    """Return when a delivery due at a second can come: the road open, and not on a day without deliveries.

    Where the road is closed it comes as it opens; from a day without deliveries it is put off by whole days.
    """
    while True:
        open_s = _after(state.closures, due_s)
        weekday = (state.rules.start.weekday() + (open_s - state.midnight_s) // DAY_S) % 7
        if weekday not in no_delivery:
            return open_s
        due_s = open_s + DAY_S


def _after(spells: list[tuple[int, int]], time_s: int) -> int:
    """Return a second, or the end of the spell that it falls in."""
    return next((end_s for start_s, end_s in spells if start_s <= time_s < end_s), time_s)


def _rules(state: State) -> Resupply:
    assert state.rules.resupply is not None
    return state.rules.resupply
