"""Resupply: reviews, orders, deliveries; and the time the shelf stands empty."""

from __future__ import annotations

import datetime as dt

from o2sim.model.rules import Rank
from o2sim.model.state import State, there
from o2sim.model.steps.road import ordinary_arrival_s
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
    """Look at the stock; order up to the level if the position is at or below the reorder point."""
    resupply, store = state.resupply_rules, there(state.store)
    emptied_now, state.emptied_now, state.review_pending = state.emptied_now, False, False
    if resupply.review_s is not None:
        state.clock.at(state.now + resupply.review_s, Rank.REVIEW, 0, review)
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
        _order(state, wanted)


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


def _order(state: State, count: int) -> None:
    day, nth = today(state, state.orders_on_day)
    arrival_s = ordinary_arrival_s(state, day, nth)
    order = Order(state.orders, count, arrival_s, emergency=False, day=day, nth=nth)
    state.note("order", order.number, count, arrival_s)
    place_order(state, order)


def today(state: State, counter: dict[dt.date, int]) -> tuple[dt.date, int]:
    """Return the date and how many orders were placed on it before (from 0), and count this one."""
    day = state.rules.start + dt.timedelta(days=(state.now - state.midnight_s) // DAY_S)
    nth = counter.get(day, 0)
    counter.clear()
    counter[day] = nth + 1
    return day, nth


def place_order(state: State, order: Order) -> None:
    """Put an order down: its empties stay promised at the door, or leave with it to be filled."""
    put_down(state, order)
    state.ledger.collections += state.resupply_rules.own_cylinders
    state.orders += 1
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
    state.note("delivery", order.number, len(fills), store.full)
    if len(fills) < order.count:
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
