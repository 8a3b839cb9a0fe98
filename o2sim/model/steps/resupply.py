"""Resupply: reviews, orders, deliveries; and the time the shelf stands empty."""

from __future__ import annotations

import datetime as dt

from o2sim.model.rules import APPROVED, UNKNOWN_S, Rank
from o2sim.model.state import State, there
from o2sim.model.steps.funds import (
    FROM_THE_START,
    bill,
    can_order,
    decided,
    expect,
    has_come,
    has_lost_supplier,
    keep_money,
    pay_as_placed,
    pays_for_oxygen,
)
from o2sim.model.steps.road import arrival_if_placed_s, ordinary_arrival_s
from o2sim.model.store import Order
from o2sim.scenario.types.hospital import DAY_S


def begin_reviews(state: State) -> None:
    """Schedule the first review: at once where it is continuous, else at a multiple from midnight."""
    consider_review(state)
    resupply = state.rules.resupply
    if resupply is not None and resupply.review_s is not None:
        counted_s = state.start["next_review_s"] if state.start is not None else -1
        first_s = counted_s if counted_s >= 0 else state.midnight_s % resupply.review_s
        state.clock.at(first_s, Rank.REVIEW, 0, review)


def consider_review(state: State, emptied: bool = True) -> None:
    """Ask for a review at this instant, where review is continuous: a cylinder was opened, or emptied."""
    resupply = state.rules.resupply
    state.emptied_now |= emptied
    if resupply is not None and resupply.review_s is None and not state.review_pending:
        state.review_pending = True
        state.clock.at(state.now, Rank.REVIEW, 0, review)


def review(state: State) -> None:
    """The time of a review has come: the stock is looked at."""
    resupply = state.resupply_rules
    emptied_now, state.emptied_now, state.review_pending = state.emptied_now, False, False
    if resupply.review_s is not None:
        state.clock.at(state.now + resupply.review_s, Rank.REVIEW, 0, review)
    look_at_stock(state, emptied_now)


def look_at_stock(state: State, emptied_now: bool = True, *, again: bool = False) -> None:
    """Look at the stock; order up to the level if the position is at or below the reorder point.

    again: as money has come since the last review.
    """
    resupply, store = state.resupply_rules, there(state.store)
    if state.purse is not None:
        state.purse.was_cut = False
    if store.position > resupply.reorder_point:
        return
    wanted = resupply.order_up_to - store.position
    if resupply.vehicle_capacity is not None:
        wanted = min(wanted, resupply.vehicle_capacity)
    send_part_used(state, wanted, resupply.minimum_order)
    if wanted > store.unpromised_empties and resupply.review_s is None and not emptied_now:
        return  # the cylinder just opened will be one of the empties: wait until one is
    wanted = min(wanted, store.unpromised_empties)
    if wanted >= max(1, resupply.minimum_order):
        _order(state, wanted, again)


def send_part_used(
    state: State, wanted: int, minimum_order: int, promised: int = 0, *, emergency: bool = False
) -> None:
    """Part-used cylinders that hold little go to be filled, while an order wants more empties than there are.

    The emptiest first; some are kept, but for an emergency. None goes for an order that would stay below its
    minimum all the same; promised: empties of other orders that it may take too.
    """
    store, rule = there(state.store), state.cylinder_rules.send_part_used
    lacking = wanted - store.unpromised_empties
    if rule is None or lacking <= 0:
        return
    sent = store.to_send(rule, 0 if emergency else rule.keep)[:lacking]
    if min(wanted, store.unpromised_empties + len(sent) + promised) < max(1, minimum_order):
        return
    credit_shelf(state)
    for content in sent:
        store.send_part_used(content)
        state.ledger.cylinders_sent += 1
        state.ledger.sent_gas += content
        state.note("cylinder sent part-used", len(store.rack), len(store.empties), content)


def _order(state: State, wanted: int, again: bool) -> None:
    """Decide an order of as many cylinders as can be paid for; it is placed at once, or when it is approved."""
    count = can_order(state, wanted, state.resupply_rules.minimum_order)
    order = Order(state.orders, count, UNKNOWN_S, emergency=False, day=state.rules.start, nth=0)
    order.lacking = wanted - count
    state.orders += 1
    decided(state, order, again)
    if not await_approval(state, order):
        _place(state, order)


def await_approval(state: State, order: Order) -> bool:
    """Let an order wait until it is approved, where that takes time; its empties and its money are kept for it."""
    funds = state.rules.funds
    if funds is None or funds.approval_s is None or not pays_for_oxygen(state):
        return False
    due_s = state.now + state.draws.approval_s(funds.approval_s, *today(state, there(state.purse).decided_on_day))
    order.awaits, order.placed_s = True, state.now
    there(state.store).promise(order.count)
    state.open_orders[order.number] = order
    keep_money(state, order)
    state.note("order awaits approval", order.number, order.count, due_s)
    state.clock.at(due_s, Rank.REVIEW, APPROVED + order.number, order_approved, order)
    return True


def order_approved(state: State, order: Order) -> None:
    """An order is approved: it is placed, if an emergency has left anything of it."""
    order.awaits = False
    state.ledger.approval_s += state.now - order.placed_s
    there(state.store).call_off(order.count)
    del state.open_orders[order.number]
    _place(state, order)


def _place(state: State, order: Order) -> None:
    """Place an order that is decided; where money left nothing of it, only when it would have come counts."""
    if order.count == 0:
        day = _date(state)
        expect(state, order, arrival_if_placed_s(state, day, state.orders_on_day.get(day, 0)))
        return
    order.day, order.nth = today(state, state.orders_on_day)
    order.arrival_s = ordinary_arrival_s(state, order.day, order.nth)
    state.note("order", order.number, order.count, order.arrival_s)
    place_order(state, order)
    if order.lacking > 0:
        expect(state, order, order.arrival_s)


def _date(state: State) -> dt.date:
    return state.rules.start + dt.timedelta(days=(state.now - state.midnight_s) // DAY_S)


def today(state: State, counter: dict[dt.date, int]) -> tuple[dt.date, int]:
    """Return the date and how many orders were placed on it before (from 0), and count this one."""
    day = _date(state)
    nth = counter.get(day, 0)
    counter.clear()
    counter[day] = nth + 1
    return day, nth


def place_order(state: State, order: Order) -> None:
    """Put an order down: its empties stay promised at the door, or leave with it to be filled."""
    if order.cost_cents == FROM_THE_START:
        keep_money(state, order)
    order.placed_s = state.now
    pay_as_placed(state, order)
    put_down(state, order)
    state.ledger.collections += state.resupply_rules.own_cylinders
    state.ledger.orders += 1


def put_down(state: State, order: Order) -> None:
    """Keep the empties of an order for it, and let it come."""
    store = there(state.store)
    if state.resupply_rules.own_cylinders:
        store.send_away(order.number, order.count)
    else:
        store.promise(order.count)
    state.open_orders[order.number] = order
    order.delivery = state.clock.at(order.arrival_s, Rank.DELIVERY, order.number, delivery, order)


def delivery(state: State, order: Order) -> None:
    """The supplier is at the door: full cylinders come for as many empties, those found unfit left out."""
    store, ledger = there(state.store), state.ledger
    del state.open_orders[order.number]
    credit_shelf(state)
    empties = store.hand_over(order.number, order.count)
    has_come(state, order)
    if has_lost_supplier(state, order):
        _nothing_comes(state, order, empties)
        return
    brought = order.count if order.emergency else _brought(state, order)
    store.take_back(empties[brought:])
    filled = [content for content in empties[:brought] if not _condemned(state, content)]
    fills = [state.draws.fill(store.rules, state.delivered + nth) for nth in range(len(filled))]
    state.delivered += len(fills)
    store.receive(fills)
    state.stock_came = True
    ledger.returned_gas += sum(filled)
    ledger.refilled_gas += sum(filled)
    ledger.received_gas += sum(fills)
    ledger.cylinders_delivered += len(fills)
    ledger.deliveries += 1
    ledger.since_delivery_s = ledger.since_delivery_s or ledger.end_s - state.now
    if order.emergency:
        ledger.emergency_deliveries += 1
        ledger.emergency_cylinders += len(fills)
    bill(state, order, len(fills), sum(filled))
    state.note("delivery", order.number, len(fills), store.full)
    if len(fills) < order.count:
        consider_review(state)


def _nothing_comes(state: State, order: Order, empties: list[int]) -> None:
    """The supplier has failed since an order was paid: nothing comes, and the money is lost."""
    there(state.store).take_back(empties)
    state.note("order cut", order.number, order.count)
    state.ledger.cylinders_cut += order.count
    consider_review(state)


def _brought(state: State, order: Order) -> int:
    """Return how many cylinders of an order come; the rest of it is cancelled."""
    brought = state.draws.brought(state.resupply_rules.part_delivery, order.count, order.day, order.nth)
    if brought < order.count:
        state.note("order cut", order.number, order.count - brought)
        state.ledger.cylinders_cut += order.count - brought
    return brought


def _condemned(state: State, content: int) -> bool:
    """Return True for an empty that the supplier refuses to fill; it leaves the fleet."""
    store = there(state.store)
    refused = state.draws.refused(store.rules, state.handed_over)
    state.handed_over += 1
    if refused:
        store.lost += 1
        state.ledger.cylinders_lost += 1
        state.ledger.returned_gas += content
        state.note("cylinder condemned", store.lost, -1, content)
    return refused


def credit_shelf(state: State) -> None:
    """Count the seconds with no full and no usable part-used cylinder since the stock last changed."""
    if state.store is not None:
        if state.store.usable == 0 and state.now > state.shelf_since_s:
            ledger = state.ledger
            ledger.empty_shelf_s += state.now - state.shelf_since_s
            ledger.since_bare_s = ledger.since_bare_s or ledger.end_s - state.shelf_since_s
        state.shelf_since_s = state.now
