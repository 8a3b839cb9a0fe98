"""Resupply: reviews, orders, deliveries; and the time the shelf stands empty."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import quantile_at, rounded, whole_draw
from o2sim.draws.philox import uniform
from o2sim.model.kernel import store
from o2sim.model.kernel.codes import LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import FULL, schedule
from o2sim.model.kernel.funds import (
    FROM_THE_START,
    bill,
    can_order,
    decided,
    expect,
    has_come,
    has_lost_supplier,
    keep_money,
    pay_as_placed,
)
from o2sim.model.kernel.layout import NONE, note, number_at, order_at, start_at, store_at
from o2sim.model.kernel.ledger import count_lost, count_returned
from o2sim.model.kernel.loading import NO_LIMIT, all_loaded, has_room, load
from o2sim.model.kernel.queues import take_first
from o2sim.model.kernel.road import arrival_if_placed_s, ordinary_arrival_s
from o2sim.model.rules import APPROVED, UNKNOWN_S
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
    """The time of a review has come: the stock is looked at.

    A continuous review looks at the sizes of which one was opened or emptied; where money cut the last, at all.
    """
    r = k.rules
    continuous = r.resupply_review_s == NONE
    k.review_pending = False
    if not continuous:
        schedule(k, k.now + r.resupply_review_s, RANK.REVIEW, 0, STEP.REVIEW, NONE, 0)
    for size in range(k.store_count):
        s = store_at(k, size)
        s.looked_at = s.asked or not continuous or k.purse.was_cut
        s.emptied_before = s.emptied_now or not s.asked
        s.asked = s.emptied_now = False
    _look_at_stock(k, False)


def look_again(k: Record) -> None:
    """Money has come since a review that it had cut: the stock of all sizes is looked at again."""
    for size in range(k.store_count):
        store_at(k, size).looked_at = store_at(k, size).emptied_before = True
    _look_at_stock(k, True)


def _look_at_stock(k: Record, again: Whole) -> None:
    """Look at the stock of sizes; order up to its level if the position of one is at or below its reorder point.

    One order holds what each lacks. again: as money has come since the last review.
    """
    r = k.rules
    k.purse.was_cut = False
    for size in range(k.store_count):
        s = store_at(k, size)
        s.wanted = s.ordinary = 0
        if s.looked_at:
            position = store.position(k, s)
            s.wanted = s.order_up_to - position if position <= s.reorder_point else 0
    ready_to_go(k, r.resupply_vehicle_capacity, r.resupply_vehicle_space, r.resupply_minimum_order, False)
    for size in range(k.store_count if r.resupply_review_s == NONE else 0):
        s = store_at(k, size)
        lacks = s.wanted > s.loaded and s.loaded == store.unpromised_empties(s)
        if lacks and has_room(k, s, r.resupply_vehicle_capacity, r.resupply_vehicle_space, NO_LIMIT):
            if not s.emptied_before:
                s.loaded = 0  # the cylinder just opened will be one of the empties: wait until one is
    count = all_loaded(k)
    if count >= max(1, r.resupply_minimum_order):
        _order(k, count, again)


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
    load(k, cylinders, spaces, NO_LIMIT)
    count = all_loaded(k)
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


def _order(k: Record, wanted: Whole, again: Whole) -> None:
    """Decide an order of as many cylinders as can be paid for; it is placed at once, or when it is approved."""
    count, number = can_order(k, k.rules.resupply_minimum_order, False), k.orders
    k.orders += 1
    decided(k, number, count, wanted - count, again)
    approves = k.purse.buys_oxygen and k.rules.funds_approval_s.kind >= 0
    if count == 0 and not approves:
        _expect_if_placed(k, number, wanted)
        return
    place = new_order(k, number, False)
    if place == NONE:
        return
    order = order_at(k, place)
    order.lacking = wanted - count
    if approves:
        _await_approval(k, order)
    else:
        _place(k, order)


def new_order(k: Record, number: Whole, emergency: Whole) -> Whole:
    """Return the place of a new order of what is loaded, NONE where there is none."""
    place = 0
    while place < k.orders_used and order_at(k, place).open_order:
        place += 1
    if place == k.order_room:
        k.calendar.status = FULL
        return NONE
    k.orders_used = max(k.orders_used, place + 1)
    order = order_at(k, place)
    order.slot, order.number, order.count, order.emergency = place, number, all_loaded(k), emergency
    order.open_order, order.awaits, order.day, order.nth, order.lacking = True, False, 0, 0, 0
    order.cost_cents, order.placed_s, order.arrival_s = FROM_THE_START, k.now, UNKNOWN_S
    order.delivery = NONE
    for size in range(k.store_count):
        order.counts[size] = store_at(k, size).loaded
        order.first_away[size] = order.last_away[size] = NONE
    return place


def _await_approval(k: Record, order: Record) -> None:
    """Let an order wait until it is approved, where that takes time; its empties and its money are kept for it."""
    day, purse = today(k), k.purse
    purse.decided_on_day = purse.decided_on_day + 1 if day == purse.decided_day else 1
    purse.decided_day = day
    law, nth = k.rules.funds_approval_s, purse.decided_on_day - 1
    due_s = k.now + whole_draw(law, 0, k.seed, k.replication, STREAM.APPROVAL, np.uint64(day), nth)
    order.awaits = True
    for size in range(k.store_count):
        store.promise(store_at(k, size), order.counts[size])
    keep_money(k, order)
    note(k, LOG.ORDER_AWAITS_APPROVAL, order.number, order.count, due_s)
    schedule(k, due_s, RANK.REVIEW, APPROVED + order.number, STEP.ORDER_APPROVED, order.slot, 0)


def order_approved(k: Record, order: Record) -> None:
    """An order is approved: it is placed, if an emergency has left anything of it."""
    order.awaits = False
    k.ledger.approval_s += k.now - order.placed_s
    for size in range(k.store_count):
        store.unpromise(store_at(k, size), order.counts[size])
    if order.count == 0:
        order.open_order = False
        _expect_if_placed(k, order.number, order.lacking)
        return
    _place(k, order)


def _place(k: Record, order: Record) -> None:
    """Place an order that is decided."""
    day = today(k)
    k.orders_on_day = k.orders_on_day + 1 if day == k.orders_day else 1
    k.orders_day = day
    order.day, order.nth = day, k.orders_on_day - 1
    order.arrival_s = ordinary_arrival_s(k, order.day, order.nth)
    note(k, LOG.ORDER, order.number, order.count, order.arrival_s)
    place_order(k, order)
    if order.lacking > 0:
        expect(k, order.number, order.lacking, order.arrival_s)


def _expect_if_placed(k: Record, number: Whole, lacking: Whole) -> None:
    """Of an order of which money left nothing, only when it would have come counts."""
    day = today(k)
    nth = k.orders_on_day if day == k.orders_day else 0
    expect(k, number, lacking, arrival_if_placed_s(k, day, nth))


def today(k: Record) -> Whole:
    """Return the date as an ordinal."""
    return k.rules.start + (k.now - k.midnight_s) // DAY_S


def place_order(k: Record, order: Record) -> None:
    """Put an order down: its empties stay promised at the door, or leave with it to be filled."""
    if order.cost_cents == FROM_THE_START:
        keep_money(k, order)
    order.placed_s = k.now
    pay_as_placed(k, order)
    put_down(k, order)
    k.ledger.collections += k.rules.resupply_own_cylinders
    k.ledger.orders += 1


def put_down(k: Record, order: Record) -> None:
    """Keep the empties of an order for it, and let it come."""
    for size in range(k.store_count):
        if k.rules.resupply_own_cylinders:
            store.send_away(k, store_at(k, size), order, order.counts[size])
        else:
            store.promise(store_at(k, size), order.counts[size])
    order.delivery = schedule(k, order.arrival_s, RANK.DELIVERY, order.number, STEP.DELIVERY, order.slot, 0)


def delivery(k: Record, order: Record) -> None:
    """The supplier is at the door: full cylinders come for as many empties, those found unfit left out."""
    ledger, came = k.ledger, 0
    order.open_order = False
    credit_shelf(k)
    has_come(k, order)
    if has_lost_supplier(k, order):
        _nothing_comes(k, order)
        return
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
    bill(k, order)
    note(k, LOG.DELIVERY, order.number, came, store.all_full(k))
    for size in range(k.store_count):
        if store_at(k, size).brought < order.counts[size]:
            consider_review(k, store_at(k, size), True)


def _nothing_comes(k: Record, order: Record) -> None:
    """The supplier has failed since an order was paid: nothing comes, and the money is lost."""
    note(k, LOG.ORDER_CUT, order.number, order.count, -1)
    k.ledger.cylinders_cut += order.count
    for size in range(k.store_count):
        s, count = store_at(k, size), order.counts[size]
        _hand_over(k, s, order)
        for place in range(count - 1, -1, -1):
            store.hand_back(s, number_at(k.scratch, place).value)
        if count > 0:
            consider_review(k, s, True)


def _exchange(k: Record, s: Record, order: Record, brought: Whole) -> Whole:
    """Take as many empties of a size as full ones are brought; return how many came."""
    ledger, count = k.ledger, order.counts[s.number]
    _hand_over(k, s, order)
    for place in range(count - 1, brought - 1, -1):
        store.hand_back(s, number_at(k.scratch, place).value)
    filled, s.refilled_gas = 0, 0
    for place in range(brought):
        content = number_at(k.scratch, place).value
        if not _condemned(k, s, content):
            count_returned(k, s, content)
            ledger.refilled_gas += content
            s.refilled_gas_by_size += content
            s.refilled_gas += content
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


def _hand_over(k: Record, s: Record, order: Record) -> None:
    """Write down the contents of an order's empties of a size as the supplier takes them: at the door, or away."""
    own, count = k.rules.resupply_own_cylinders, order.counts[s.number]
    if own:
        s.on_order -= count
    else:
        store.unpromise(s, count)
    for place in range(count):
        number_at(k.scratch, place).value = store.first_back(k, s, order) if own else take_first(s.empties)


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
