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
from o2sim.model.kernel.layout import NONE, note, number_at, order_at, start_at
from o2sim.model.kernel.queues import take_first
from o2sim.model.kernel.road import arrival_if_placed_s, ordinary_arrival_s
from o2sim.model.rules import APPROVED, UNKNOWN_S
from o2sim.scenario.types.hospital import DAY_S

_ZERO = np.uint64(0)


def begin_reviews(k: Record) -> None:
    """Schedule the first review: at once where it is continuous, else at a multiple from midnight."""
    r = k.rules
    consider_review(k, True)
    if r.has_resupply and r.resupply_review_s != NONE:
        start = start_at(k, 0)
        counted = start.present and start.next_review_s >= 0
        first_s = start.next_review_s if counted else k.midnight_s % r.resupply_review_s
        schedule(k, first_s, RANK.REVIEW, 0, STEP.REVIEW, NONE, 0)


def consider_review(k: Record, emptied: Whole) -> None:
    """Ask for a review at this instant, where review is continuous: a cylinder was opened, or emptied."""
    r = k.rules
    k.emptied_now = k.emptied_now or emptied
    if r.has_resupply and r.resupply_review_s == NONE and not k.review_pending:
        k.review_pending = True
        schedule(k, k.now, RANK.REVIEW, 0, STEP.REVIEW, NONE, 0)


def review(k: Record) -> None:
    """The time of a review has come: the stock is looked at."""
    r, emptied_now = k.rules, k.emptied_now
    k.emptied_now = k.review_pending = False
    if r.resupply_review_s != NONE:
        schedule(k, k.now + r.resupply_review_s, RANK.REVIEW, 0, STEP.REVIEW, NONE, 0)
    look_at_stock(k, emptied_now, False)


def look_at_stock(k: Record, emptied_now: Whole, again: Whole) -> None:
    """Look at the stock; order up to the level if the position is at or below the reorder point.

    again: as money has come since the last review.
    """
    r = k.rules
    k.purse.was_cut = False
    if store.position(k) > r.resupply_reorder_point:
        return
    wanted = r.resupply_order_up_to - store.position(k)
    if r.resupply_vehicle_capacity != NONE:
        wanted = min(wanted, r.resupply_vehicle_capacity)
    send_part_used(k, wanted, r.resupply_minimum_order, 0, False)
    if wanted > store.unpromised_empties(k) and r.resupply_review_s == NONE and not emptied_now:
        return  # the cylinder just opened will be one of the empties: wait until one is
    wanted = min(wanted, store.unpromised_empties(k))
    if wanted >= max(1, r.resupply_minimum_order):
        _order(k, wanted, again)


def send_part_used(k: Record, wanted: Whole, minimum_order: Whole, promised: Whole, emergency: Whole) -> None:
    """Part-used cylinders that hold little go to be filled, while an order wants more empties than there are.

    The emptiest first; some are kept, but for an emergency. None goes for an order that would stay below its
    minimum all the same; promised: empties of other orders that it may take too.
    """
    r = k.rules
    lacking = wanted - store.unpromised_empties(k)
    if not r.has_cylinders_send_part_used or lacking <= 0:
        return
    count = min(lacking, store.to_send(k, 0 if emergency else r.cylinders_send_part_used_keep))
    if min(wanted, store.unpromised_empties(k) + count + promised) < max(1, minimum_order):
        return
    credit_shelf(k)
    for _ in range(count):
        content = store.send_emptiest(k)
        k.ledger.cylinders_sent += 1
        k.ledger.sent_gas += content
        note(k, LOG.CYLINDER_SENT_PART_USED, k.rack.count_, k.empties.count_, content)


def _order(k: Record, wanted: Whole, again: Whole) -> None:
    """Decide an order of as many cylinders as can be paid for; it is placed at once, or when it is approved."""
    count, number = can_order(k, wanted, k.rules.resupply_minimum_order, False), k.orders
    k.orders += 1
    decided(k, number, count, wanted - count, again)
    approves = k.purse.buys_oxygen and k.rules.funds_approval_s.kind >= 0
    if count == 0 and not approves:
        _expect_if_placed(k, number, wanted)
        return
    place = new_order(k, number, count, False)
    if place == NONE:
        return
    order = order_at(k, place)
    order.lacking = wanted - count
    if approves:
        _await_approval(k, order)
    else:
        _place(k, order)


def new_order(k: Record, number: Whole, count: Whole, emergency: Whole) -> Whole:
    """Return the place of a new order, NONE where there is none."""
    place = 0
    while place < k.orders_used and order_at(k, place).open_order:
        place += 1
    if place == k.order_room:
        k.calendar.status = FULL
        return NONE
    k.orders_used = max(k.orders_used, place + 1)
    order = order_at(k, place)
    order.slot, order.number, order.count, order.emergency = place, number, count, emergency
    order.open_order, order.awaits, order.day, order.nth, order.lacking = True, False, 0, 0, 0
    order.cost_cents, order.placed_s, order.arrival_s = FROM_THE_START, k.now, UNKNOWN_S
    order.first_away = order.delivery = NONE
    return place


def _await_approval(k: Record, order: Record) -> None:
    """Let an order wait until it is approved, where that takes time; its empties and its money are kept for it."""
    day, purse = today(k), k.purse
    purse.decided_on_day = purse.decided_on_day + 1 if day == purse.decided_day else 1
    purse.decided_day = day
    law, nth = k.rules.funds_approval_s, purse.decided_on_day - 1
    due_s = k.now + whole_draw(law, 0, k.seed, k.replication, STREAM.APPROVAL, np.uint64(day), nth)
    order.awaits = True
    store.promise(k, order.count)
    keep_money(k, order)
    note(k, LOG.ORDER_AWAITS_APPROVAL, order.number, order.count, due_s)
    schedule(k, due_s, RANK.REVIEW, APPROVED + order.number, STEP.ORDER_APPROVED, order.slot, 0)


def order_approved(k: Record, order: Record) -> None:
    """An order is approved: it is placed, if an emergency has left anything of it."""
    order.awaits = False
    k.ledger.approval_s += k.now - order.placed_s
    store.unpromise(k, order.count)
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
    if k.rules.resupply_own_cylinders:
        store.send_away(k, order)
    else:
        store.promise(k, order.count)
    order.delivery = schedule(k, order.arrival_s, RANK.DELIVERY, order.number, STEP.DELIVERY, order.slot, 0)


def delivery(k: Record, order: Record) -> None:
    """The supplier is at the door: full cylinders come for as many empties, those found unfit left out."""
    ledger, count = k.ledger, order.count
    order.open_order = False
    credit_shelf(k)
    own = order.first_away != NONE
    if own:
        k.on_order -= count
    else:
        store.unpromise(k, count)
    for place in range(count):  # in scratch, as the supplier takes them
        number_at(k.scratch, place).value = store.first_back(k, order) if own else take_first(k.empties)
    has_come(k, order)
    if has_lost_supplier(k, order):
        _nothing_comes(k, order)
        return
    brought = count if order.emergency else _brought(k, order)
    for place in range(count - 1, brought - 1, -1):
        store.hand_back(k, number_at(k.scratch, place).value)
    filled, refilled_gas = 0, 0
    for place in range(brought):
        content = number_at(k.scratch, place).value
        if not _condemned(k, content):
            ledger.returned_gas += content
            ledger.refilled_gas += content
            refilled_gas += content
            filled += 1
    for _ in range(filled):
        content = _filled(k, k.delivered)
        k.delivered += 1
        store.receive(k, content)
        ledger.received_gas += content
    k.stock_came = True
    ledger.cylinders_delivered += filled
    ledger.deliveries += 1
    if ledger.since_delivery_s == 0:
        ledger.since_delivery_s = k.end_s - k.now
    if order.emergency:
        ledger.emergency_deliveries += 1
        ledger.emergency_cylinders += filled
    bill(k, order, filled, refilled_gas)
    note(k, LOG.DELIVERY, order.number, filled, k.full)
    if filled < count:
        consider_review(k, True)


def _nothing_comes(k: Record, order: Record) -> None:
    """The supplier has failed since an order was paid: nothing comes, and the money is lost."""
    for place in range(order.count - 1, -1, -1):
        store.hand_back(k, number_at(k.scratch, place).value)
    note(k, LOG.ORDER_CUT, order.number, order.count, -1)
    k.ledger.cylinders_cut += order.count
    consider_review(k, True)


def _brought(k: Record, order: Record) -> Whole:
    """Return how many cylinders of an order come; the rest of it is cancelled."""
    r, count, day = k.rules, order.count, np.uint64(order.day)
    if not r.has_resupply_part_delivery:
        return count
    if uniform(k.seed, k.replication, STREAM.PART_DELIVERY, day, order.nth) >= r.resupply_part_delivery_chance:
        return count
    u = uniform(k.seed, k.replication, STREAM.PART_DELIVERY_SHARE, day, order.nth)
    brought = min(count, rounded(quantile_at(r.resupply_part_delivery_share, u) * count, 1))
    if brought < count:
        note(k, LOG.ORDER_CUT, order.number, count - brought, -1)
        k.ledger.cylinders_cut += count - brought
    return brought


def _filled(k: Record, nth: Whole) -> Whole:
    """Return the content of the nth cylinder delivered in the run; 0 for one that is unusable."""
    r = k.rules
    if r.cylinders_unusable > 0:
        if uniform(k.seed, k.replication, STREAM.CYLINDER_UNUSABLE, _ZERO, nth) < r.cylinders_unusable:
            return 0
    if not r.has_cylinders_underfilled:
        return r.cylinders_full_gas
    if uniform(k.seed, k.replication, STREAM.CYLINDER_UNDERFILLED, _ZERO, nth) >= r.cylinders_underfilled_share:
        return r.cylinders_full_gas
    u = uniform(k.seed, k.replication, STREAM.UNDERFILLED_CONTENT, _ZERO, nth)
    content = rounded(quantile_at(r.cylinders_underfilled_content, u) * r.cylinders_full_gas, 1)
    return min(r.cylinders_full_gas, content)


def _condemned(k: Record, content: Whole) -> Whole:
    """Return True for an empty that the supplier refuses to fill; it leaves the fleet."""
    share = k.rules.cylinders_refused
    refused = share > 0 and uniform(k.seed, k.replication, STREAM.EMPTY_REFUSED, _ZERO, k.handed_over) < share
    k.handed_over += 1
    if refused:
        k.lost += 1
        k.ledger.cylinders_lost += 1
        k.ledger.returned_gas += content
        note(k, LOG.CYLINDER_CONDEMNED, k.lost, -1, content)
    return refused


def credit_shelf(k: Record) -> None:
    """Count the seconds with no full and no usable part-used cylinder since the stock last changed."""
    if k.has_store:
        if store.usable(k) == 0 and k.now > k.shelf_since_s:
            k.ledger.empty_shelf_s += k.now - k.shelf_since_s
            if k.ledger.since_bare_s == 0:
                k.ledger.since_bare_s = k.end_s - k.shelf_since_s
        k.shelf_since_s = k.now


compile_file(globals())
