"""Emergency orders: placed outside the rule when the shelf is low, at their own lead time and price."""

from __future__ import annotations

from o2sim.model.order import Order
from o2sim.model.rules import keep_gas
from o2sim.model.state import State, there
from o2sim.model.steps.cover import lasts_less
from o2sim.model.steps.resupply import place_order, today
from o2sim.model.steps.road import emergency_arrival_s
from o2sim.scenario.types.hospital import Emergency


def consider_emergency(state: State) -> None:
    """Order in an emergency if the shelf is low, as far as there are empties to hand over."""
    rule = state.rules.resupply.emergency if state.rules.resupply else None
    if rule is None or not _low(state, rule):
        return
    store = there(state.store)
    coming = _coming(state)
    # Empties promised to ordinary orders count too: they stand at the door, and this lorry comes first.
    spare = store.unpromised_empties + sum(order.count for order in _ordinary(state))
    wanted = min(rule.up_to - store.full - coming, spare)
    if rule.vehicle_capacity is not None:
        wanted = min(wanted, rule.vehicle_capacity)
    if wanted < max(1, rule.minimum_order):
        return
    _free_promised(state, wanted - store.unpromised_empties)
    day, nth = today(state, state.emergencies_on_day)
    lead_time_s = state.draws.emergency_lead_time_s(rule.lead_time_s, day, nth)
    arrival_s = emergency_arrival_s(state, lead_time_s)
    order = Order(state.orders, wanted, arrival_s, emergency=True, day=day, nth=nth)
    state.note("emergency order", order.number, wanted, arrival_s)
    state.ledger.emergency_orders += 1
    place_order(state, order)


def consider_by_the_book(state: State) -> None:
    """Look at midnight as well where the trigger is days of cover: the stock book has just been closed."""
    rule = state.rules.resupply.emergency if state.rules.resupply else None
    if rule is not None and rule.days_of_cover_s is not None:
        consider_emergency(state)


def _low(state: State, rule: Emergency) -> bool:
    """Return True if the cylinders on hand and in an emergency order are too few, or last too short a time."""
    store, coming = there(state.store), _coming(state)
    if rule.below is not None:
        return store.full + len(store.rack) + coming < rule.below
    coming_gas = coming * (store.rules.full_gas - keep_gas(store.rules))
    if rule.days_of_cover_s is not None:
        return lasts_less(state, coming_gas, rule.days_of_cover_s)
    assert rule.cover_s is not None
    flow = sum(cylinder.flow_ml_min + state.leak_ml_min for cylinder in state.open_cylinders.values())
    flow += state.manifold.drawn_ml_min if state.manifold is not None else 0
    return store.usable_on_hand + coming_gas < flow * rule.cover_s


def _coming(state: State) -> int:
    return sum(order.count for order in state.open_orders.values() if order.emergency)


def _ordinary(state: State) -> list[Order]:
    """Return the open orders whose empties stand at the door, the last to arrive first."""
    assert state.rules.resupply is not None
    if state.rules.resupply.own_cylinders:
        return []
    found = [order for order in state.open_orders.values() if not order.emergency]
    return sorted(found, key=lambda order: (-order.arrival_s, -order.number))


def _free_promised(state: State, count: int) -> None:
    """Cut ordinary orders by the empties that an emergency takes from them; one cut to nothing is cancelled."""
    for order in _ordinary(state):
        cut = min(order.count, max(count, 0))
        if cut == 0:
            return
        count -= cut
        order.count -= cut
        there(state.store).call_off(cut)
        state.ledger.cylinders_cut += cut
        state.note("order cut", order.number, cut)
        if order.count == 0:
            order.delivery.cancel()
            del state.open_orders[order.number]
