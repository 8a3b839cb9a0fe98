"""Stock: the book closed at each midnight, days of cover, emergency orders, cylinders that go missing."""

from __future__ import annotations

from o2sim.model.rules import BOOK_DAYS, GAS_PER_LITRE, MOST_COUNTED, Rank, keep_gas, size_share
from o2sim.model.state import State, there
from o2sim.model.steps.loading import Lorry
from o2sim.model.steps.manifold_gas import credit_manifold
from o2sim.model.steps.resupply import consider_review, credit_shelf, place_order, ready_to_go, today
from o2sim.model.steps.road import emergency_arrival_s
from o2sim.model.store import CylinderStore, Order
from o2sim.scenario.types.hospital import DAY_S, Emergency


def close_book(state: State) -> None:
    """Write down what was drawn from cylinders in the day that ends, leaks included."""
    _credit_cylinders(state)
    drawn = state.ledger.drawn_gas
    state.book.append(drawn - state.booked_gas)
    state.booked_gas = drawn
    for store in state.stores:
        store.close_book()


def lasts_less(state: State, coming_gas: int, cover_s: int) -> bool:
    """Return True if days of cover are below a level.

    Usable gas on hand, in cylinders in use too, and coming, over the greater of the last seven days' use and the
    season's mean need. Before there are seven days in the book, those missing count as days without use.
    """
    _credit_cylinders(state)
    use = max(sum(state.book), BOOK_DAYS * _need(state))
    return (state.usable_gas() + coming_gas) * BOOK_DAYS * DAY_S < use * cover_s


def stock_book(state: State) -> tuple[int, int, int, int, int]:
    """Return usable litres on hand, litres used in seven days, the mean need, the flow now, litres used in one."""
    if not state.stores:
        return (0,) * 5
    opened = state.open_cylinders.values()
    flow = sum(cylinder.flow_ml_min + cylinder.rules.leak_ml_min for cylinder in opened if cylinder.flowing)
    flow += state.manifold.drawn_ml_min if state.manifold is not None else 0
    gas = state.usable_gas(), sum(state.book), _need(state), state.book[-1]
    usable, used, need, last = (min(each // GAS_PER_LITRE, MOST_COUNTED) for each in gas)
    return usable, used, need, min(flow, MOST_COUNTED), last


def _need(state: State) -> int:
    """Return the season's mean need of today, whatever source meets it."""
    return state.mean_need[(state.now - state.midnight_s) // DAY_S + state.warm_up_days]


def _credit_cylinders(state: State) -> None:
    """Bring the contents of the cylinders in use up to this second."""
    credit_manifold(state)
    piped = state.manifold.patients if state.manifold is not None else []
    for patient in (*state.on_cylinder.values(), *piped):
        if patient.flowing:
            state.ledger.served(patient, state.now)


def consider_emergency(state: State) -> None:
    """Order in an emergency if the shelf is low, as far as there are empties to hand over."""
    rule = state.rules.resupply.emergency if state.rules.resupply else None
    if rule is None or not _low(state, rule):
        return
    coming = _coming(state)
    # Empties promised to ordinary orders count too: they stand at the door, and this lorry comes first.
    promised = [sum(order.counts[store.number] for order in _ordinary(state)) for store in state.stores]
    wanted = [
        max(0, share_of(state, rule.up_to, store) - store.full - coming[store.number]) for store in state.stores
    ]
    lorry = Lorry(rule.vehicle_capacity, rule.vehicle_space)
    counts = ready_to_go(state, wanted, lorry, rule.minimum_order, promised, emergency=True)
    if not any(counts):
        return
    _free_promised(state, [counts[store.number] - store.unpromised_empties for store in state.stores])
    day, nth = today(state, state.emergencies_on_day)
    lead_time_s = state.draws.emergency_lead_time_s(rule.lead_time_s, day, nth)
    arrival_s = emergency_arrival_s(state, lead_time_s)
    order = Order(state.orders, counts, arrival_s, emergency=True, day=day, nth=nth)
    state.note("emergency order", order.number, order.count, arrival_s)
    state.ledger.emergency_orders += 1
    place_order(state, order)


def share_of(state: State, level: int, store: CylinderStore) -> int:
    """Return what a level of an emergency order is for a size."""
    return size_share(state.cylinder_rules, level, store.number)


def consider_by_the_book(state: State) -> None:
    """Look at midnight as well where the trigger is days of cover: the stock book has just been closed."""
    rule = state.rules.resupply.emergency if state.rules.resupply else None
    if rule is not None and rule.days_of_cover_s is not None:
        consider_emergency(state)


def _low(state: State, rule: Emergency) -> bool:
    """Return True if the cylinders on hand and in an emergency order are too few, or last too short a time.

    Too few: of any size, beside its share of the level. How long they last is asked of all sizes together.
    """
    coming = _coming(state)
    if rule.below is not None:
        return any(
            store.usable + coming[store.number] < share_of(state, rule.below, store) for store in state.stores
        )
    coming_gas = sum(
        coming[store.number] * (store.rules.full_gas - keep_gas(store.rules)) for store in state.stores
    )
    if rule.days_of_cover_s is not None:
        return lasts_less(state, coming_gas, rule.days_of_cover_s)
    assert rule.cover_s is not None
    flow = sum(each.flow_ml_min + each.rules.leak_ml_min for each in state.open_cylinders.values())
    flow += state.manifold.drawn_ml_min if state.manifold is not None else 0
    return sum(store.usable_on_hand for store in state.stores) + coming_gas < flow * rule.cover_s


def _coming(state: State) -> list[int]:
    """Return the cylinders in emergency orders, by size."""
    orders = [order for order in state.open_orders.values() if order.emergency]
    return [sum(order.counts[store.number] for order in orders) for store in state.stores]


def _ordinary(state: State) -> list[Order]:
    """Return the open orders whose empties stand at the door, the last to arrive first."""
    assert state.rules.resupply is not None
    if state.rules.resupply.own_cylinders:
        return []
    found = [order for order in state.open_orders.values() if not order.emergency]
    return sorted(found, key=lambda order: (-order.arrival_s, -order.number))


def _free_promised(state: State, counts: list[int]) -> None:
    """Cut ordinary orders by the empties that an emergency takes from them; one cut to nothing is cancelled.

    counts: empties that are wanting, by size.
    """
    for order in _ordinary(state):
        before = order.count
        for store in state.stores:
            cut = min(order.counts[store.number], max(counts[store.number], 0))
            counts[store.number] -= cut
            order.counts[store.number] -= cut
            store.call_off(cut)
        if order.count == before:
            continue
        state.ledger.cylinders_cut += before - order.count
        state.note("order cut", order.number, before - order.count)
        if order.count == 0:
            order.delivery.cancel()
            del state.open_orders[order.number]


def begin_losses(state: State) -> None:
    """Schedule the first loss of each size of which cylinders go missing."""
    for store in state.stores:
        if store.rules.losses_per_day > 0:
            store.losses = state.draws.losses(store.rules)
            _next_loss(state, store)


def _next_loss(state: State, store: CylinderStore) -> None:
    due_s = state.now + there(store.losses)[store.losses_met]
    state.clock.at(due_s, Rank.CYLINDER_LOST, store.number, cylinder_lost, store)


def cylinder_lost(state: State, store: CylinderStore) -> None:
    """A cylinder that stands about goes missing: full, part-used or empty alike; none in use or promised."""
    credit_shelf(state)
    luck = state.draws.draw("lost cylinder", store.rules.name or 0, store.losses_met)
    content = store.lose(int(luck * store.can_be_lost))
    if content is not None:
        state.ledger.lost(store, content)
        state.note("cylinder lost", store.lost, store.full, content)
        consider_review(state, store)
        consider_emergency(state)
    store.losses_met += 1
    _next_loss(state, store)
