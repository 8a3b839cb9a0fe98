"""The supplier and the road: when an order placed now arrives."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Sequence
from operator import itemgetter

from o2sim.model.state import State
from o2sim.scenario.types.hospital import DAY_S

Spells = Sequence[tuple[int, int]]  # [start, end) in s, apart and in order


def ordinary_arrival_s(state: State, day: dt.date, nth: int) -> int:
    """Return when an order placed now arrives: supplier, lead time, no overtaking, calendar, road."""
    return arrives_s(state, _due_s(state, day, nth))


def arrival_if_placed_s(state: State, day: dt.date, nth: int) -> int:
    """Return when an order would arrive if it were placed now; none is."""
    return _arrival_s(state, _due_s(state, day, nth))


def _due_s(state: State, day: dt.date, nth: int) -> int:
    lead_time_s = state.draws.lead_time_s(state.resupply_rules.lead_time_s, day, nth)
    return taken_up_s(state.now, state.outages, _way_out(state)) + lead_time_s


def arrives_s(state: State, due_s: int) -> int:
    """Return when an order that is due at a second arrives: no overtaking, calendar, road."""
    arrival_s = _arrival_s(state, due_s)
    state.last_delivery_s = max(arrival_s, state.last_delivery_s)
    return arrival_s


def _arrival_s(state: State, due_s: int) -> int:
    resupply = state.resupply_rules
    arrival_s = due_s if resupply.overtaking else max(due_s, state.last_delivery_s)
    return _on_a_free_day_s(state, arrival_s, resupply.no_delivery)


def emergency_arrival_s(state: State, lead_time_s: int) -> int:
    """Return when an emergency order placed now arrives: another supplier, any day, but the same road."""
    return _on_a_free_day_s(state, taken_up_s(state.now, (), _way_out(state)) + lead_time_s, ())


def taken_up_s(placed_s: int, outages: Spells, way_out: Spells) -> int:
    """Return when the lead time begins: the supplier is there and, for own cylinders, the road out is open."""
    due_s = placed_s
    while True:
        free_s = _after(outages, _after(way_out, due_s))
        if free_s == due_s:
            return free_s
        due_s = free_s


def next_delivery_s(due_s: int, closures: Spells, no_delivery: tuple[int, ...], monday_s: int) -> int:
    """Return when a delivery due at a second can come: the road open, and not on a day without deliveries.

    Where the road is closed it comes as it opens; from a day without deliveries it is put off by whole days.
    monday_s: the second at which a Monday began, from which the days of the week are counted.
    """
    while True:
        open_s = _after(closures, due_s)
        if (open_s - monday_s) // DAY_S % 7 not in no_delivery:
            return open_s
        due_s = open_s + DAY_S


def week_begins_s(start: dt.date, midnight_s: int) -> int:
    """Return the second at which the week of a date begins whose midnight is at a second."""
    return midnight_s - start.weekday() * DAY_S


def _on_a_free_day_s(state: State, due_s: int, no_delivery: tuple[int, ...]) -> int:
    return next_delivery_s(due_s, state.closures, no_delivery, week_begins_s(state.rules.start, state.midnight_s))


def _way_out(state: State) -> Spells:
    return state.closures if state.resupply_rules.own_cylinders else ()


def _after(spells: Spells, time_s: int) -> int:
    """Return a second, or the end of the spell that it falls in."""
    after = bisect_right(spells, time_s, key=itemgetter(0))
    return max(time_s, spells[after - 1][1]) if after else time_s
