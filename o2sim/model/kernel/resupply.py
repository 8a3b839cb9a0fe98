"""Resupply: reviews, orders, deliveries; and the time the shelf stands empty."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import quantile_at, rounded
from o2sim.draws.philox import uniform
from o2sim.model.kernel import store
from o2sim.model.kernel.codes import LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import FULL, schedule
from o2sim.model.kernel.layout import NONE, note, number_at, order_at, start_at, store_at
from o2sim.model.kernel.ledger import count_lost, count_returned
from o2sim.model.kernel.loading import has_room, load
from o2sim.model.kernel.queues import take_first
from o2sim.model.kernel.road import ordinary_arrival_s
from o2sim.scenario.types.hospital import DAY_S


def begin_reviews(k: Record) -> None:
    """Schedule the first review: at once where it is continuous, else at a multiple from midnight."""
    r = k.rules
    for size in range(k.store_count):
        consider_review(k, store_at(k, size), True)
    if r.has_resupply and r.resupply_review_s != NONE:
        start = start_at(k, 0)
        counted = start.present and start.next_review_s >= 0
        first_s = start.next_review_s if counted else k.midnight_s % r.resupply_review_s
        schedule(k, first_s, RANK.REVIEW, 0, STEP.REVIEW, NONE, 0)


def consider_review(k: Record, s: Record, emptied: Whole) -> None:
    """Ask for a review at this instant, where review is continuous: one of a size was opened, or emptied."""
    r = k.rules
    s.emptied_now = s.emptied_now or emptied
    if r.has_resupply and r.resupply_review_s == NONE:
        s.asked = True
        if not k.review_pending:
            k.review_pending = True
            schedule(k, k.now, RANK.REVIEW, 0, STEP.REVIEW, NONE, 0)


def review(k: Record) -> None:
    """Look at the stock of each size; order up to its level if its position is at or below its reorder point.

    A continuous review looks at the sizes of which one was opened or emptied. One order holds what each lacks.
    """
    r = k.rules
    continuous = r.resupply_review_s == NONE
    k.review_pending = False
    if not continuous:
        schedule(k, k.now + r.resupply_review_s, RANK.REVIEW, 0, STEP.REVIEW, NONE, 0)
    for size in range(k.store_count):
        s = store_at(k, size)
        s.wanted, s.ordinary, s.emptied_before = 0, 0, s.emptied_now
        if s.asked or not continuous:
            position = store.position(k, s)
            s.wanted = s.order_up_to - position if position <= s.reorder_point else 0
        s.asked = s.emptied_now = False
    ready_to_go(k, r.resupply_vehicle_capacity, r.resupply_vehicle_space, r.resupply_minimum_order, False)
    for size in range(k.store_count if continuous else 0):
        s = store_at(k, size)
        lacks = s.wanted > s.loaded and s.loaded == store.unpromised_empties(s)
        if lacks and has_room(k, s, r.resupply_vehicle_capacity, r.resupply_vehicle_space):
            if not s.emptied_before:
                s.loaded = 0  # the cylinder just opened will be one of the empties: wait until one is
    count = _all_loaded(k)
    if count >= max(1, r.resupply_minimum_order):
        _order(k, count)


def _all_loaded(k: Record) -> Whole:
    count = 0
    for size in range(k.store_count):
        count += store_at(k, size).loaded
    return count


def ready_to_go(k: Record, cylinders: Whole, spaces: Whole, minimum_order: Whole, emergency: Whole) -> Whole:
    """Write down how many of what is wanted have an empty to go for them, and fit on the lorry; return it of all.

    Part-used cylinders that hold little go to be filled, while an order wants more empties than there are: the
    emptiest first; some are kept, but for an emergency. None goes for an order that would stay below its minimum
    all the same; ordinary: empties of other orders, by size, that it may take too.
    """
    r = k.rules
    keep = 0 if emergency else r.cylinders_send_part_used_keep
    for size in range(k.store_count):
        s = store_at(k, size)
        low = store.to_send(k, s, keep) if r.has_cylinders_send_part_used else 0
        s.backed = min(s.wanted, store.unpromised_empties(s) + low + s.ordinary)
    load(k, cylinders, spaces)
    count = _all_loaded(k)
    if count < max(1, minimum_order):
        for size in range(k.store_count):
            store_at(k, size).loaded = 0
        return 0
    for size in range(k.store_count):
        s = store_at(k, size)
        lacking = s.loaded - store.unpromised_empties(s)
        if lacking > 0 and r.has_cylinders_send_part_used:
            credit_shelf(k)
            _send_part_used(k, s, min(lacking, store.to_send(k, s, keep)))
    return count


def _send_part_used(k: Record, s: Record, count: Whole) -> None:
    for _ in range(count):
        content = store.send_emptiest(s)
        k.ledger.cylinders_sent += 1
        s.sent_by_size += 1
        k.ledger.sent_gas += content
        note(k, LOG.CYLINDER_SENT_PART_USED, s.rack.count_, s.empties.count_, content)


def _order(k: Record, count: Whole) -> None:
    day = today(k)
    k.orders_on_day = k.orders_on_day + 1 if day == k.orders_day else 1
    k.orders_day = day
    nth = k.orders_on_day - 1
    arrival_s = ordinary_arrival_s(k, day, nth)
    note(k, LOG.ORDER, k.orders, count, arrival_s)
    place_order(k, arrival_s, False, day, nth)


def today(k: Record) -> Whole:
    """Return the date as an ordinal."""
    return k.rules.start + (k.now - k.midnight_s) // DAY_S


def place_order(k: Record, arrival_s: Whole, emergency: Whole, day: Whole, nth: Whole) -> None:
    """Put an order of what is loaded down: its empties stay promised at the door, or leave with it."""
    put_down(k, k.orders, arrival_s, emergency, day, nth)
    if k.calendar.status == FULL:
        return
    k.ledger.collections += k.rules.resupply_own_cylinders
    k.orders += 1
    k.ledger.orders += 1


def put_down(k: Record, number: Whole, arrival_s: Whole, emergency: Whole, day: Whole, nth: Whole) -> None:
    """Keep the empties of an order of what is loaded for it, and let it come."""
    place = 0
    while place < k.orders_used and order_at(k, place).open_order:
        place += 1
    if place == k.order_room:
        k.calendar.status = FULL
        return
    k.orders_used = max(k.orders_used, place + 1)
    order = order_at(k, place)
    order.number, order.count, order.arrival_s = number, _all_loaded(k), arrival_s
    order.emergency, order.open_order, order.day, order.nth = emergency, True, day, nth
    for size in range(k.store_count):
        s = store_at(k, size)
        order.counts[size] = s.loaded
        if k.rules.resupply_own_cylinders:
            store.send_away(k, s, order, s.loaded)
        else:
            store.promise(s, s.loaded)
    order.delivery = schedule(k, arrival_s, RANK.DELIVERY, order.number, STEP.DELIVERY, place, 0)


def delivery(k: Record, order: Record) -> None:
    """The supplier is at the door: full cylinders come for as many empties, those found unfit left out."""
    ledger, came = k.ledger, 0
    order.open_order = False
    credit_shelf(k)
    _bring(k, order)
    for size in range(k.store_count):
        s = store_at(k, size)
        s.brought = _exchange(k, s, order, s.brought)
        came += s.brought
    k.stock_came = True
    ledger.deliveries += 1
    if ledger.since_delivery_s == 0:
        ledger.since_delivery_s = k.end_s - k.now
    if order.emergency:
        ledger.emergency_deliveries += 1
        ledger.emergency_cylinders += came
    note(k, LOG.DELIVERY, order.number, came, store.all_full(k))
    for size in range(k.store_count):
        if store_at(k, size).brought < order.counts[size]:
            consider_review(k, store_at(k, size), True)


def _exchange(k: Record, s: Record, order: Record, brought: Whole) -> Whole:
    """Take as many empties of a size as full ones are brought; return how many came."""
    ledger, own, count = k.ledger, k.rules.resupply_own_cylinders, order.counts[s.number]
    if own:
        s.on_order -= count
    else:
        store.unpromise(s, count)
    for place in range(count):  # in scratch, as the supplier takes them
        number_at(k.scratch, place).value = store.first_back(k, s, order) if own else take_first(s.empties)
    for place in range(count - 1, brought - 1, -1):
        store.hand_back(s, number_at(k.scratch, place).value)
    filled = 0
    for place in range(brought):
        content = number_at(k.scratch, place).value
        if not _condemned(k, s, content):
            count_returned(k, s, content)
            ledger.refilled_gas += content
            s.refilled_gas_by_size += content
            filled += 1
    for _ in range(filled):
        content = _filled(k, s, s.delivered)
        s.delivered += 1
        store.receive(s, content)
        ledger.received_gas += content
        s.received_gas_by_size += content
    ledger.cylinders_delivered += filled
    s.delivered_by_size += filled
    return filled


def _bring(k: Record, order: Record) -> None:
    """Write down how many cylinders of each size of an order come; the rest of it is cancelled."""
    r, day, came, first = k.rules, np.uint64(order.day), 0, NONE
    for size in range(k.store_count):
        store_at(k, size).brought = order.counts[size]
    if order.emergency or not r.has_resupply_part_delivery:
        return
    if uniform(k.seed, k.replication, STREAM.PART_DELIVERY, day, order.nth) >= r.resupply_part_delivery_chance:
        return
    u = uniform(k.seed, k.replication, STREAM.PART_DELIVERY_SHARE, day, order.nth)
    share = quantile_at(r.resupply_part_delivery_share, u)
    for size in range(k.store_count):
        s, count = store_at(k, size), order.counts[size]
        s.brought = min(count, rounded(share * count, 0))
        came += s.brought
        if first == NONE and count > 0:
            first = size
    if came == 0:
        store_at(k, first).brought = came = 1
    if came < order.count:
        note(k, LOG.ORDER_CUT, order.number, order.count - came, -1)
        k.ledger.cylinders_cut += order.count - came


def _filled(k: Record, s: Record, nth: Whole) -> Whole:
    """Return the content of the nth cylinder of a size delivered in the run; 0 for one that is unusable."""
    if s.unusable > 0:
        if uniform(k.seed, k.replication, STREAM.CYLINDER_UNUSABLE, s.word, nth) < s.unusable:
            return 0
    if not s.underfills:
        return s.full_gas
    if uniform(k.seed, k.replication, STREAM.CYLINDER_UNDERFILLED, s.word, nth) >= s.underfilled_share:
        return s.full_gas
    u = uniform(k.seed, k.replication, STREAM.UNDERFILLED_CONTENT, s.word, nth)
    content = rounded(quantile_at(s.underfilled_content, u) * s.full_gas, 1)
    return min(s.full_gas, content)


def _condemned(k: Record, s: Record, content: Whole) -> Whole:
    """Return True for an empty that the supplier refuses to fill; it leaves the fleet."""
    share = s.refused
    refused = share > 0 and uniform(k.seed, k.replication, STREAM.EMPTY_REFUSED, s.word, s.handed_over) < share
    s.handed_over += 1
    if refused:
        s.lost += 1
        count_lost(k, s, content)
        note(k, LOG.CYLINDER_CONDEMNED, s.lost, -1, content)
    return refused


def credit_shelf(k: Record) -> None:
    """Count the seconds with no full and no usable part-used cylinder since the stock last changed.

    Of each size, and of all sizes for patients at once.
    """
    seconds = k.now - k.shelf_since_s
    if not k.has_store or seconds == 0:
        return
    for size in range(k.store_count):
        s = store_at(k, size)
        if store.usable(s) == 0:
            s.empty_shelf_s_by_size += seconds
    bare = True
    for place in range(k.sizes_for_count[0]):
        bare = bare and store.usable(store_at(k, k.sizes_for[place])) == 0
    if bare:
        k.ledger.empty_shelf_s += seconds
        if k.ledger.since_bare_s == 0:
            k.ledger.since_bare_s = k.end_s - k.shelf_since_s
    k.shelf_since_s = k.now


compile_file(globals())
