"""The supplier and the road: when an order placed now arrives."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import whole_draw
from o2sim.model.kernel.codes import STREAM
from o2sim.model.kernel.layout import number_at, spell_at
from o2sim.scenario.types.hospital import DAY_S


def ordinary_arrival_s(k: Record, day: Whole, nth: Whole) -> Whole:
    """Return when an order placed now arrives: supplier, lead time, no overtaking, calendar, road."""
    return arrives_s(k, _due_s(k, day, nth))


def arrival_if_placed_s(k: Record, day: Whole, nth: Whole) -> Whole:
    """Return when an order would arrive if it were placed now; none is."""
    return _arrival_s(k, _due_s(k, day, nth))


def _due_s(k: Record, day: Whole, nth: Whole) -> Whole:
    law = k.rules.resupply_lead_time_s
    lead_time_s = whole_draw(law, 0, k.seed, k.replication, STREAM.LEAD_TIME, np.uint64(day), nth)
    return _taken_up_s(k, True) + lead_time_s


def arrives_s(k: Record, due_s: Whole) -> Whole:
    """Return when an order that is due at a second arrives: no overtaking, calendar, road."""
    arrival_s = _arrival_s(k, due_s)
    k.last_delivery_s = max(arrival_s, k.last_delivery_s)
    return arrival_s


def _arrival_s(k: Record, due_s: Whole) -> Whole:
    arrival_s = due_s
    if not k.rules.resupply_overtaking:
        arrival_s = max(arrival_s, k.last_delivery_s)
    return _next_delivery_s(k, arrival_s, True)


def emergency_arrival_s(k: Record, lead_time_s: Whole) -> Whole:
    """Return when an emergency order placed now arrives: another supplier, any day, but the same road."""
    return _next_delivery_s(k, _taken_up_s(k, False) + lead_time_s, False)


def _taken_up_s(k: Record, by_supplier: Whole) -> Whole:
    """Return when the lead time begins: the supplier is there and, for own cylinders, the road out is open."""
    due_s = k.now
    while True:
        free_s = due_s
        if k.rules.resupply_own_cylinders:
            free_s = _after(k.closures, k.closure_count, free_s)
        if by_supplier:
            free_s = _after(k.outages, k.outage_count, free_s)
        if free_s == due_s:
            return free_s
        due_s = free_s


def _next_delivery_s(k: Record, due_s: Whole, by_calendar: Whole) -> Whole:
    """Return when a delivery due at a second can come: the road open, and not on a day without deliveries."""
    r = k.rules
    while True:
        open_s = _after(k.closures, k.closure_count, due_s)
        weekday = (r.start + 6 + (open_s - k.midnight_s) // DAY_S) % 7  # date ordinal 1 was a Monday
        closed = False
        for place in range(r.resupply_no_delivery_count if by_calendar else 0):
            closed = closed or number_at(r.resupply_no_delivery, place).value == weekday
        if not closed:
            return open_s
        due_s = open_s + DAY_S


def _after(spells: Whole, count: Whole, time_s: Whole) -> Whole:
    """Return a second, or the end of the spell that it falls in."""
    for place in range(count):
        spell = spell_at(spells, place)
        if spell.start_s <= time_s < spell.end_s:
            return spell.end_s
    return time_s


compile_file(globals())
