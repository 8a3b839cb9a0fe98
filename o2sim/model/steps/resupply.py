"""Resupply: reviews, orders, the road, deliveries; and the time the shelf stands empty."""

from __future__ import annotations

import datetime as dt

from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.scenario.types import DAY_S


def begin_reviews(state: State) -> None:
    """Schedule the first review: at once where it is continuous, else at a multiple from midnight."""
    consider_review(state)
    resupply = state.rules.resupply
    if resupply is not None and resupply.review_s is not None:
        state.clock.at(state.midnight_s % resupply.review_s, Rank.REVIEW, 0, review)


def consider_review(state: State, emptied: bool = True) -> None:
    """Ask for a review at this instant, where review is continuous: a cylinder was opened, or emptied."""
    resupply = state.rules.resupply
    state.emptied_now |= emptied
    if resupply is not None and resupply.review_s is None and not state.review_pending:
        state.review_pending = True
        state.clock.at(state.now, Rank.REVIEW, 0, review)


def review(state: State) -> None:
    """Look at the stock; order up to the level if the position is at or below the reorder point."""
    resupply, store = state.rules.resupply, state.store
    assert resupply is not None
    assert store is not None
    emptied_now, state.emptied_now, state.review_pending = state.emptied_now, False, False
    if resupply.review_s is not None:
        state.clock.at(state.now + resupply.review_s, Rank.REVIEW, 0, review)
    if store.position > resupply.reorder_point:
        return
    wanted = resupply.order_up_to - store.position
    if resupply.vehicle_capacity is not None:
        wanted = min(wanted, resupply.vehicle_capacity)
    if wanted > store.unpromised_empties and resupply.review_s is None and not emptied_now:
        return  # the cylinder just opened will be one of the empties: wait until one is
    wanted = min(wanted, store.unpromised_empties)
    if wanted >= max(1, resupply.minimum_order):
        _order(state, wanted)


def _order(state: State, count: int) -> None:
    assert state.store is not None
    number, arrival_s = state.orders, _arrival_s(state)
    state.note("order", number, count, arrival_s)
    state.store.on_order += count
    state.orders += 1
    state.ledger.orders += 1
    state.clock.at(arrival_s, Rank.DELIVERY, number, delivery, number, count)


def _arrival_s(state: State) -> int:
    """Return when an order placed now arrives: lead time, no overtaking, not while the road is closed."""
    resupply = state.rules.resupply
    assert resupply is not None
    day = state.rules.start + dt.timedelta(days=(state.now - state.midnight_s) // DAY_S)
    nth = state.orders_on_day.get(day, 0)
    state.orders_on_day = {day: nth + 1}
    arrival_s = state.now + state.draws.lead_time_s(resupply.lead_time_s, day, nth)
    if not resupply.overtaking:
        arrival_s = max(arrival_s, state.last_delivery_s)
    for start_s, end_s in state.closures:
        if start_s <= arrival_s < end_s:
            arrival_s = end_s
    state.last_delivery_s = max(arrival_s, state.last_delivery_s)
    return arrival_s


def delivery(state: State, order: int, count: int) -> None:
    """Full cylinders arrive and as many empties go back."""
    store = state.store
    assert store is not None
    credit_shelf(state)
    state.ledger.returned_gas += store.exchange(count)
    state.ledger.received_gas += count * store.rules.full_gas
    state.ledger.cylinders_delivered += count
    state.ledger.deliveries += 1
    state.note("delivery", order, count, store.full)
    state.stock_came = True


def credit_shelf(state: State) -> None:
    """Count the seconds with no full and no usable part-used cylinder since the stock last changed."""
    if state.store is not None:
        if not state.store.has_usable:
            state.ledger.empty_shelf_s += state.now - state.shelf_since_s
        state.shelf_since_s = state.now
