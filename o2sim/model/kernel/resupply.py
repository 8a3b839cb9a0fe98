"""Resupply: reviews, orders, emergencies, the road, deliveries, losses; see the steps of these names."""

from __future__ import annotations

import math

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.laws import quantile_at, rounded, whole_draw
from o2sim.draws.philox import stable_hash, uniform
from o2sim.model.kernel import codes
from o2sim.model.kernel.cover import cylinder_flow, lasts_less
from o2sim.model.kernel.events import FULL, call_off, schedule
from o2sim.model.kernel.layout import NONE, note, note_code, number_at, order_at, rules, spell_at
from o2sim.model.kernel.queues import take_first
from o2sim.model.kernel.store import (
    can_be_lost,
    first_back,
    hand_back,
    keep_gas,
    lose,
    position,
    promise,
    receive,
    send_away,
    unpromise,
    unpromised_empties,
    usable,
    usable_on_hand,
)
from o2sim.model.rules import Rank
from o2sim.scenario.types.types import DAY_S

_REVIEW, _DELIVERY, _LOSS = int(Rank.REVIEW), int(Rank.DELIVERY), int(Rank.CYLINDER_LOST)
(
    _LEAD,
    _EMERGENCY_LEAD,
    _PART,
    _PART_SHARE,
    _UNUSABLE,
    _UNDERFILLED,
    _CONTENT,
    _REFUSED,
    _LOSSES,
    _LOST_CYLINDER,
) = (
    np.uint64(stable_hash(stream))
    for stream in (
        "lead time",
        "emergency lead time",
        "part delivery",
        "part delivery share",
        "cylinder unusable",
        "cylinder underfilled",
        "underfilled content",
        "empty refused",
        "cylinder loss",
        "lost cylinder",
    )
)
_ORDER, _EMERGENCY, _CUT, _DELIVERED, _CONDEMNED, _LOST = (
    note_code(step)
    for step in ("order", "emergency order", "order cut", "delivery", "cylinder condemned", "cylinder lost")
)
_ZERO = np.uint64(0)


@jit.compiled
def begin_reviews(k: Record) -> None:
    """Schedule the first review: at once where it is continuous, else at a multiple from midnight."""
    r = rules(k)
    consider_review(k, True)
    if r.has_resupply and r.resupply_review_s != NONE:
        schedule(k.calendar, k.midnight_s % r.resupply_review_s, _REVIEW, 0, codes.REVIEW, NONE, 0)


@jit.compiled
def consider_review(k: Record, emptied: Whole) -> None:
    """Ask for a review at this instant, where review is continuous: a cylinder was opened, or emptied."""
    r = rules(k)
    k.emptied_now = k.emptied_now or emptied
    if r.has_resupply and r.resupply_review_s == NONE and not k.review_pending:
        k.review_pending = True
        schedule(k.calendar, k.now, _REVIEW, 0, codes.REVIEW, NONE, 0)


@jit.compiled
def review(k: Record) -> None:
    """Look at the stock; order up to the level if the position is at or below the reorder point."""
    r, emptied_now = rules(k), k.emptied_now
    k.emptied_now = k.review_pending = False
    if r.resupply_review_s != NONE:
        schedule(k.calendar, k.now + r.resupply_review_s, _REVIEW, 0, codes.REVIEW, NONE, 0)
    if position(k) > r.resupply_reorder_point:
        return
    wanted = r.resupply_order_up_to - position(k)
    if r.resupply_vehicle_capacity != NONE:
        wanted = min(wanted, r.resupply_vehicle_capacity)
    if wanted > unpromised_empties(k) and r.resupply_review_s == NONE and not emptied_now:
        return  # the cylinder just opened will be one of the empties: wait until one is
    wanted = min(wanted, unpromised_empties(k))
    if wanted >= max(1, r.resupply_minimum_order):
        _order(k, wanted)


@jit.compiled
def _today(k: Record) -> Whole:
    return rules(k).start + (k.now - k.midnight_s) // DAY_S


@jit.compiled
def _order(k: Record, count: Whole) -> None:
    day = _today(k)
    k.orders_on_day = k.orders_on_day + 1 if day == k.orders_day else 1
    k.orders_day = day
    nth = k.orders_on_day - 1
    arrival_s = ordinary_arrival_s(k, day, nth)
    note(k, _ORDER, k.orders, count, arrival_s)
    _place(k, count, arrival_s, False, day, nth)


@jit.compiled
def _place(k: Record, count: Whole, arrival_s: Whole, emergency: Whole, day: Whole, nth: Whole) -> None:
    """Put an order down: its empties stay promised at the door, or leave with it to be filled."""
    place = 0
    while place < k.orders_used and order_at(k, place).open_order:
        place += 1
    if place == k.order_room:
        k.calendar.status = FULL
        return
    k.orders_used = max(k.orders_used, place + 1)
    order = order_at(k, place)
    order.number, order.count, order.arrival_s = k.orders, count, arrival_s
    order.emergency, order.open_order, order.day, order.nth = emergency, True, day, nth
    order.first_away = NONE
    if rules(k).resupply_own_cylinders:
        send_away(k, order)
        k.ledger.collections += 1
    else:
        promise(k, count)
    k.orders += 1
    k.ledger.orders += 1
    order.delivery = schedule(k.calendar, arrival_s, _DELIVERY, order.number, codes.DELIVERY, place, 0)


@jit.compiled
def delivery(k: Record, order: Record) -> None:
    """The supplier is at the door: full cylinders come for as many empties, those found unfit left out."""
    ledger, count = k.ledger, order.count
    order.open_order = False
    credit_shelf(k)
    own = order.first_away != NONE
    if own:
        k.on_order -= count
    else:
        unpromise(k, count)
    for place in range(count):  # in scratch, as the supplier takes them
        number_at(k.scratch, place).value = first_back(k, order) if own else take_first(k.empties)
    brought = count if order.emergency else _brought(k, order)
    for place in range(count - 1, brought - 1, -1):
        hand_back(k, number_at(k.scratch, place).value)
    filled = 0
    for place in range(brought):
        content = number_at(k.scratch, place).value
        if not _condemned(k, content):
            ledger.returned_gas += content
            filled += 1
    for _ in range(filled):
        content = _filled(k, k.delivered)
        k.delivered += 1
        receive(k, content)
        ledger.received_gas += content
    k.stock_came = True
    ledger.cylinders_delivered += filled
    ledger.deliveries += 1
    if order.emergency:
        ledger.emergency_deliveries += 1
        ledger.emergency_cylinders += filled
    note(k, _DELIVERED, order.number, filled, k.full)
    if filled < count:
        consider_review(k, True)


@jit.compiled
def _brought(k: Record, order: Record) -> Whole:
    """Return how many cylinders of an order come; the rest of it is cancelled."""
    r, count, day = rules(k), order.count, np.uint64(order.day)
    if not r.has_resupply_part_delivery:
        return count
    if uniform(k.seed, k.replication, _PART, day, order.nth) >= r.resupply_part_delivery_chance:
        return count
    u = uniform(k.seed, k.replication, _PART_SHARE, day, order.nth)
    brought = min(count, rounded(quantile_at(r.resupply_part_delivery_share, u) * count, 1))
    if brought < count:
        note(k, _CUT, order.number, count - brought, -1)
        k.ledger.cylinders_cut += count - brought
    return brought


@jit.compiled
def _filled(k: Record, nth: Whole) -> Whole:
    """Return the content of the nth cylinder delivered in the run; 0 for one that is unusable."""
    r = rules(k)
    if r.cylinders_unusable > 0:
        if uniform(k.seed, k.replication, _UNUSABLE, _ZERO, nth) < r.cylinders_unusable:
            return 0
    if not r.has_cylinders_underfilled:
        return r.cylinders_full_gas
    if uniform(k.seed, k.replication, _UNDERFILLED, _ZERO, nth) >= r.cylinders_underfilled_share:
        return r.cylinders_full_gas
    u = uniform(k.seed, k.replication, _CONTENT, _ZERO, nth)
    content = rounded(quantile_at(r.cylinders_underfilled_content, u) * r.cylinders_full_gas, 1)
    return min(r.cylinders_full_gas, content)


@jit.compiled
def _condemned(k: Record, content: Whole) -> Whole:
    """Return True for an empty that the supplier refuses to fill; it leaves the fleet."""
    share = rules(k).cylinders_refused
    refused = share > 0 and uniform(k.seed, k.replication, _REFUSED, _ZERO, k.handed_over) < share
    k.handed_over += 1
    if refused:
        k.lost += 1
        k.ledger.cylinders_lost += 1
        k.ledger.returned_gas += content
        note(k, _CONDEMNED, k.lost, -1, content)
    return refused


@jit.compiled
def credit_shelf(k: Record) -> None:
    """Count the seconds with no full and no usable part-used cylinder since the stock last changed."""
    if k.has_store:
        if usable(k) == 0:
            k.ledger.empty_shelf_s += k.now - k.shelf_since_s
        k.shelf_since_s = k.now


@jit.compiled
def consider_emergency(k: Record) -> None:
    """Order in an emergency if the shelf is low, as far as there are empties to hand over."""
    r = rules(k)
    if not r.has_resupply_emergency or not _low(k, r):
        return
    coming, ordinary = _on_order(k, True), 0
    # Empties promised to ordinary orders are to be had too: they stand at the door, and this lorry comes first.
    if not r.resupply_own_cylinders:
        ordinary = _on_order(k, False)
    wanted = min(r.resupply_emergency_up_to - k.full - coming, unpromised_empties(k) + ordinary)
    if r.resupply_emergency_vehicle_capacity != NONE:
        wanted = min(wanted, r.resupply_emergency_vehicle_capacity)
    if wanted < max(1, r.resupply_emergency_minimum_order):
        return
    _free_promised(k, wanted - unpromised_empties(k))
    day = _today(k)
    k.emergencies_on_day = k.emergencies_on_day + 1 if day == k.emergencies_day else 1
    k.emergencies_day = day
    nth = k.emergencies_on_day - 1
    law = r.resupply_emergency_lead_time_s
    lead_time_s = whole_draw(law, 0, k.seed, k.replication, _EMERGENCY_LEAD, np.uint64(day), nth)
    arrival_s = _next_delivery_s(k, _taken_up_s(k, False) + lead_time_s, False)
    note(k, _EMERGENCY, k.orders, wanted, arrival_s)
    k.ledger.emergency_orders += 1
    _place(k, wanted, arrival_s, True, day, nth)


@jit.compiled
def consider_by_the_book(k: Record) -> None:
    """Look at midnight as well where the trigger is days of cover: the stock book has just been closed."""
    r = rules(k)
    if r.has_resupply_emergency and r.resupply_emergency_days_of_cover_s != NONE:
        consider_emergency(k)


@jit.compiled
def _low(k: Record, r: Record) -> Whole:
    """Return True if the cylinders on hand and in an emergency order are too few, or last too short a time."""
    coming = _on_order(k, True)
    if r.resupply_emergency_below != NONE:
        return usable(k) + coming < r.resupply_emergency_below
    coming_gas = coming * (r.cylinders_full_gas - keep_gas(r))
    if r.resupply_emergency_days_of_cover_s != NONE:
        return lasts_less(k, coming_gas, r.resupply_emergency_days_of_cover_s)
    return usable_on_hand(k) + coming_gas < cylinder_flow(k, False) * r.resupply_emergency_cover_s


@jit.compiled
def _on_order(k: Record, emergency: Whole) -> Whole:
    """Return the cylinders in open emergency orders, or in open ordinary ones."""
    count = 0
    for place in range(k.orders_used):
        order = order_at(k, place)
        if order.open_order and order.emergency == emergency:
            count += order.count
    return count


@jit.compiled
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
        note(k, _CUT, order.number, cut, -1)
        if order.count == 0:
            order.delivery = call_off(k.calendar, order.delivery)
            order.open_order = False


@jit.compiled
def _later(order: Record, other: Record) -> Whole:
    if order.arrival_s != other.arrival_s:
        return order.arrival_s > other.arrival_s
    return order.number > other.number


@jit.compiled
def ordinary_arrival_s(k: Record, day: Whole, nth: Whole) -> Whole:
    """Return when an order placed now arrives: supplier, lead time, no overtaking, calendar, road."""
    r = rules(k)
    lead_time_s = whole_draw(r.resupply_lead_time_s, 0, k.seed, k.replication, _LEAD, np.uint64(day), nth)
    arrival_s = _taken_up_s(k, True) + lead_time_s
    if not r.resupply_overtaking:
        arrival_s = max(arrival_s, k.last_delivery_s)
    arrival_s = _next_delivery_s(k, arrival_s, True)
    k.last_delivery_s = max(arrival_s, k.last_delivery_s)
    return arrival_s


@jit.compiled
def _taken_up_s(k: Record, by_supplier: Whole) -> Whole:
    """Return when the lead time begins: the supplier is there and, for own cylinders, the road out is open."""
    due_s = k.now
    while True:
        free_s = due_s
        if rules(k).resupply_own_cylinders:
            free_s = _after(k.closures, k.closure_count, free_s)
        if by_supplier:
            free_s = _after(k.outages, k.outage_count, free_s)
        if free_s == due_s:
            return free_s
        due_s = free_s


@jit.compiled
def _next_delivery_s(k: Record, due_s: Whole, by_calendar: Whole) -> Whole:
    """Return when a delivery due at a second can come: the road open, and not on a day without deliveries."""
    r = rules(k)
    while True:
        open_s = _after(k.closures, k.closure_count, due_s)
        weekday = (r.start + 6 + (open_s - k.midnight_s) // DAY_S) % 7  # date ordinal 1 was a Monday
        closed = False
        for place in range(r.resupply_no_delivery_count if by_calendar else 0):
            closed = closed or number_at(r.resupply_no_delivery, place).value == weekday
        if not closed:
            return open_s
        due_s = open_s + DAY_S


@jit.compiled
def _after(spells: Whole, count: Whole, time_s: Whole) -> Whole:
    """Return a second, or the end of the spell that it falls in."""
    for place in range(count):
        spell = spell_at(spells, place)
        if spell.start_s <= time_s < spell.end_s:
            return spell.end_s
    return time_s


@jit.compiled
def begin_losses(k: Record) -> None:
    """Schedule the first loss, where cylinders go missing."""
    if k.has_store and rules(k).cylinders_losses_per_day > 0:
        _next_loss(k)


@jit.compiled
def _next_loss(k: Record) -> None:
    u = uniform(k.seed, k.replication, _LOSSES, _ZERO, k.losses_met)
    due_s = k.now + rounded(-(DAY_S / rules(k).cylinders_losses_per_day) * math.log1p(-u), 1)
    schedule(k.calendar, due_s, _LOSS, 0, codes.CYLINDER_LOST, NONE, 0)


@jit.compiled
def cylinder_lost(k: Record) -> None:
    """A cylinder that stands about goes missing: full, part-used or empty alike; none in use or promised."""
    credit_shelf(k)
    luck = uniform(k.seed, k.replication, _LOST_CYLINDER, _ZERO, k.losses_met)
    content = lose(k, np.int64(luck * can_be_lost(k)))
    if content != NONE:
        k.ledger.cylinders_lost += 1
        k.ledger.returned_gas += content
        note(k, _LOST, k.lost, k.full, content)
        consider_review(k, True)
        consider_emergency(k)
    k.losses_met += 1
    _next_loss(k)
