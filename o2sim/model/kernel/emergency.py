"""Emergency orders: placed outside the rule when the shelf is low, at their own lead time and price."""

from __future__ import annotations

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.laws import whole_draw
from o2sim.model.kernel.codes import LOG, STREAM
from o2sim.model.kernel.cover import cylinder_flow, lasts_less
from o2sim.model.kernel.events import call_off
from o2sim.model.kernel.layout import NONE, note, order_at
from o2sim.model.kernel.resupply import place_order, today
from o2sim.model.kernel.road import emergency_arrival_s
from o2sim.model.kernel.store import keep_gas, unpromise, unpromised_empties, usable, usable_on_hand


def consider_emergency(k: Record) -> None:
    """Order in an emergency if the shelf is low, as far as there are empties to hand over."""
    r = k.rules
    if not r.has_resupply_emergency or not _low(k, r):
        return
    coming, ordinary = _on_order(k, True), 0
    # Empties promised to ordinary orders count too: they stand at the door, and this lorry comes first.
    if not r.resupply_own_cylinders:
        ordinary = _on_order(k, False)
    wanted = min(r.resupply_emergency_up_to - k.full - coming, unpromised_empties(k) + ordinary)
    if r.resupply_emergency_vehicle_capacity != NONE:
        wanted = min(wanted, r.resupply_emergency_vehicle_capacity)
    if wanted < max(1, r.resupply_emergency_minimum_order):
        return
    _free_promised(k, wanted - unpromised_empties(k))
    day = today(k)
    k.emergencies_on_day = k.emergencies_on_day + 1 if day == k.emergencies_day else 1
    k.emergencies_day = day
    nth = k.emergencies_on_day - 1
    law = r.resupply_emergency_lead_time_s
    lead_time_s = whole_draw(law, 0, k.seed, k.replication, STREAM.EMERGENCY_LEAD_TIME, np.uint64(day), nth)
    arrival_s = emergency_arrival_s(k, lead_time_s)
    note(k, LOG.EMERGENCY_ORDER, k.orders, wanted, arrival_s)
    k.ledger.emergency_orders += 1
    place_order(k, wanted, arrival_s, True, day, nth)


def consider_by_the_book(k: Record) -> None:
    """Look at midnight as well where the trigger is days of cover: the stock book has just been closed."""
    r = k.rules
    if r.has_resupply_emergency and r.resupply_emergency_days_of_cover_s != NONE:
        consider_emergency(k)


def _low(k: Record, r: Record) -> Whole:
    """Return True if the cylinders on hand and in an emergency order are too few, or last too short a time."""
    coming = _on_order(k, True)
    if r.resupply_emergency_below != NONE:
        return usable(k) + coming < r.resupply_emergency_below
    coming_gas = coming * (r.cylinders_full_gas - keep_gas(r))
    if r.resupply_emergency_days_of_cover_s != NONE:
        return lasts_less(k, coming_gas, r.resupply_emergency_days_of_cover_s)
    return usable_on_hand(k) + coming_gas < cylinder_flow(k, False) * r.resupply_emergency_cover_s


def _on_order(k: Record, emergency: Whole) -> Whole:
    """Return the cylinders in open emergency orders, or in open ordinary ones."""
    count = 0
    for place in range(k.orders_used):
        order = order_at(k, place)
        if order.open_order and order.emergency == emergency:
            count += order.count
    return count


def _free_promised(k: Record, count: Whole) -> None:
    """Cut ordinary orders by the empties that an emergency takes from them; one cut to nothing is cancelled."""
    while count > 0:
        last = NONE  # to arrive, of the ordinary orders
        for place in range(k.orders_used):
            order = order_at(k, place)
            if order.open_order and not order.emergency and (last == NONE or _later(order, order_at(k, last))):
                last = place
        if last == NONE:
            return
        order = order_at(k, last)
        cut = min(order.count, count)
        count -= cut
        order.count -= cut
        unpromise(k, cut)
        k.ledger.cylinders_cut += cut
        note(k, LOG.ORDER_CUT, order.number, cut, -1)
        if order.count == 0:
            order.delivery = call_off(k.calendar, order.delivery)
            order.open_order = False


def _later(order: Record, other: Record) -> Whole:
    if order.arrival_s != other.arrival_s:
        return order.arrival_s > other.arrival_s
    return order.number > other.number


jit.compile_file(globals())
