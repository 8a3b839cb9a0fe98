"""Resupply: reviews, orders, deliveries; and the time the shelf stands empty."""

from __future__ import annotations

import datetime as dt

from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.model.steps.loading import Lorry, has_room, load
from o2sim.model.steps.road import ordinary_arrival_s
from o2sim.model.store import CylinderStore, Order
from o2sim.scenario.types.hospital import DAY_S


def begin_reviews(state: State) -> None:
    """Schedule the first review: at once where it is continuous, else at a multiple from midnight."""
    for store in state.stores:
        consider_review(state, store)
    resupply = state.rules.resupply
    if resupply is not None and resupply.review_s is not None:
        counted_s = state.start["next_review_s"] if state.start is not None else -1
        first_s = counted_s if counted_s >= 0 else state.midnight_s % resupply.review_s
        state.clock.at(first_s, Rank.REVIEW, 0, review)


def consider_review(state: State, store: CylinderStore, emptied: bool = True) -> None:
    """Ask for a review at this instant, where review is continuous: one of a size was opened, or emptied."""
    resupply = state.rules.resupply
    store.emptied_now |= emptied
    if resupply is not None and resupply.review_s is None:
        store.asked = True
        if not state.review_pending:
            state.review_pending = True
            state.clock.at(state.now, Rank.REVIEW, 0, review)


def review(state: State) -> None:
    """Look at the stock of each size; order up to its level if its position is at or below its reorder point.

    A continuous review looks at the sizes of which one was opened or emptied. One order holds what each lacks.
    """
    resupply = state.resupply_rules
    continuous = resupply.review_s is None
    state.review_pending = False
    if resupply.review_s is not None:
        state.clock.at(state.now + resupply.review_s, Rank.REVIEW, 0, review)
    wanted, emptied = [0] * len(state.stores), [store.emptied_now for store in state.stores]
    for store, (point, level) in zip(state.stores, resupply.levels, strict=True):
        if (store.asked or not continuous) and store.position <= point:
            wanted[store.number] = level - store.position
        store.asked = store.emptied_now = False
    lorry = Lorry(resupply.vehicle_capacity, resupply.vehicle_space)
    loaded = ready_to_go(state, wanted, lorry, resupply.minimum_order)
    for store in state.stores if continuous else ():
        size = store.number
        lacks = wanted[size] > loaded[size] == store.unpromised_empties and has_room(state, loaded, size, lorry)
        if lacks and not emptied[size]:
            loaded[size] = 0  # the cylinder just opened will be one of the empties: wait until one is
    if sum(loaded) >= max(1, resupply.minimum_order):
        _order(state, loaded)


def ready_to_go(
    state: State,
    wanted: list[int],
    lorry: Lorry,
    minimum_order: int,
    promised: list[int] | None = None,
    *,
    emergency: bool = False,
) -> list[int]:
    """Return how many of what is wanted of each size have an empty to go for them, and fit on the lorry.

    Part-used cylinders that hold little go to be filled, while an order wants more empties than there are: the
    emptiest first; some are kept, but for an emergency. None goes for an order that would stay below its minimum
    all the same; promised: empties of other orders, by size, that it may take too.
    """
    rule = state.cylinder_rules.send_part_used
    keep = 0 if emergency or rule is None else rule.keep
    low = [store.to_send(rule, keep) if rule is not None else [] for store in state.stores]
    others = promised or [0] * len(wanted)
    backed = [
        min(wanted[size], store.unpromised_empties + len(low[size]) + others[size])
        for size, store in enumerate(state.stores)
    ]
    loaded = load(state, backed, lorry)
    if sum(loaded) < max(1, minimum_order):
        return [0] * len(wanted)
    for store in state.stores:
        lacking = loaded[store.number] - store.unpromised_empties
        if lacking > 0 and rule is not None:
            credit_shelf(state)
            _send_part_used(state, store, low[store.number][:lacking])
    return loaded


def _send_part_used(state: State, store: CylinderStore, contents: list[int]) -> None:
    for content in contents:
        store.send_part_used(content)
        state.ledger.cylinders_sent += 1
        state.ledger.sent_by_size[store.number] += 1
        state.ledger.sent_gas += content
        state.note("cylinder sent part-used", len(store.rack), len(store.empties), content)


def _order(state: State, counts: list[int]) -> None:
    day, nth = today(state, state.orders_on_day)
    arrival_s = ordinary_arrival_s(state, day, nth)
    order = Order(state.orders, counts, arrival_s, emergency=False, day=day, nth=nth)
    state.note("order", order.number, order.count, arrival_s)
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
    for store, count in zip(state.stores, order.counts, strict=True):
        if state.resupply_rules.own_cylinders:
            store.send_away(order.number, count)
        else:
            store.promise(count)
    state.open_orders[order.number] = order
    order.delivery = state.clock.at(order.arrival_s, Rank.DELIVERY, order.number, delivery, order)


def delivery(state: State, order: Order) -> None:
    """The supplier is at the door: full cylinders come for as many empties, those found unfit left out."""
    ledger = state.ledger
    del state.open_orders[order.number]
    credit_shelf(state)
    brought = order.counts if order.emergency else _brought(state, order)
    came = [_exchange(state, store, order, brought[store.number]) for store in state.stores]
    state.stock_came = True
    ledger.deliveries += 1
    ledger.since_delivery_s = ledger.since_delivery_s or ledger.end_s - state.now
    if order.emergency:
        ledger.emergency_deliveries += 1
        ledger.emergency_cylinders += sum(came)
    state.note("delivery", order.number, sum(came), state.full)
    for store in state.stores:
        if came[store.number] < order.counts[store.number]:
            consider_review(state, store)


def _exchange(state: State, store: CylinderStore, order: Order, brought: int) -> int:
    """Take as many empties of a size as full ones are brought; return how many came."""
    ledger, size = state.ledger, store.number
    empties = store.hand_over(order.number, order.counts[size])
    store.take_back(empties[brought:])
    filled = [content for content in empties[:brought] if not _condemned(state, store, content)]
    fills = [state.draws.fill(store.rules, store.delivered + nth) for nth in range(len(filled))]
    store.delivered += len(fills)
    store.receive(fills)
    ledger.returned(store, sum(filled))
    ledger.refilled_gas += sum(filled)
    ledger.refilled_gas_by_size[size] += sum(filled)
    ledger.received_gas += sum(fills)
    ledger.received_gas_by_size[size] += sum(fills)
    ledger.cylinders_delivered += len(fills)
    ledger.delivered_by_size[size] += len(fills)
    return len(fills)


def _brought(state: State, order: Order) -> list[int]:
    """Return how many cylinders of each size of an order come; the rest of it is cancelled."""
    brought = state.draws.brought(state.resupply_rules.part_delivery, order.counts, order.day, order.nth)
    cut = order.count - sum(brought)
    if cut > 0:
        state.note("order cut", order.number, cut)
        state.ledger.cylinders_cut += cut
    return brought


def _condemned(state: State, store: CylinderStore, content: int) -> bool:
    """Return True for an empty that the supplier refuses to fill; it leaves the fleet."""
    refused = state.draws.refused(store.rules, store.handed_over)
    store.handed_over += 1
    if refused:
        store.lost += 1
        state.ledger.lost(store, content)
        state.note("cylinder condemned", store.lost, -1, content)
    return refused


def credit_shelf(state: State) -> None:
    """Count the seconds with no full and no usable part-used cylinder since the stock last changed.

    Of each size, and of all sizes for patients at once.
    """
    ledger, seconds = state.ledger, state.now - state.shelf_since_s
    if not state.stores or seconds == 0:
        return
    for store in state.stores:
        ledger.empty_shelf_s_by_size[store.number] += seconds * (store.usable == 0)
    if all(state.stores[size].usable == 0 for size in state.sizes_for["bedside"]):
        ledger.empty_shelf_s += seconds
        ledger.since_bare_s = ledger.since_bare_s or ledger.end_s - state.shelf_since_s
    state.shelf_since_s = state.now
