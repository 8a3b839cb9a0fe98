"""Stock: the book closed at each midnight, days of cover, emergency orders, cylinders that go missing."""

from __future__ import annotations

from o2sim.model.rules import BOOK_DAYS, GAS_PER_LITRE, MOST_COUNTED, Rank, keep_gas
from o2sim.model.state import State, there
from o2sim.model.steps.funds import can_order, expect, let_go, pays_for_oxygen
from o2sim.model.steps.manifold_gas import credit_manifold
from o2sim.model.steps.resupply import consider_review, credit_shelf, place_order, send_part_used, today
from o2sim.model.steps.road import emergency_arrival_s
from o2sim.model.store import Order
from o2sim.scenario.types.hospital import DAY_S, Emergency


def close_book(state: State) -> None:
    """Write down what was drawn from cylinders in the day that ends, leaks included."""
    _credit_cylinders(state)
    drawn = state.ledger.drawn_gas
    state.book.append(drawn - state.booked_gas)
    state.booked_gas = drawn


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
    if state.store is None:
        return (0,) * 5
    leak = state.leak_ml_min
    flow = sum(cylinder.flow_ml_min + leak for cylinder in state.open_cylinders.values() if cylinder.flowing)
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
            state.ledger.served(patient, state.now, state.leak_ml_min)


def consider_emergency(state: State) -> None:
    """Order in an emergency if the shelf is low, as far as there are empties to hand over."""
    rule = state.rules.resupply.emergency if state.rules.resupply else None
    if state.purse is not None:
        state.purse.emergency_cut = False
    if rule is None or not _low(state, rule):
        return
    store = there(state.store)
    coming = _coming(state)
    # Empties promised to ordinary orders count too: they stand at the door, and this lorry comes first.
    promised = sum(order.count for order in _ordinary(state))
    wanted = rule.up_to - store.full - coming
    if rule.vehicle_capacity is not None:
        wanted = min(wanted, rule.vehicle_capacity)
    send_part_used(state, wanted, rule.minimum_order, promised, emergency=True)
    wanted = min(wanted, store.unpromised_empties + promised)
    if wanted < max(1, rule.minimum_order):
        return
    count = can_order(state, wanted, rule.minimum_order, emergency=True)
    if count < wanted:
        there(state.purse).emergency_cut, wanted = True, count
    if wanted == 0:
        return
    _free_promised(state, wanted - store.unpromised_empties)
    day, nth = today(state, state.emergencies_on_day)
    lead_time_s = state.draws.emergency_lead_time_s(rule.lead_time_s, day, nth)
    arrival_s = emergency_arrival_s(state, lead_time_s)
    order = Order(state.orders, wanted, arrival_s, emergency=True, day=day, nth=nth)
    state.note("emergency order", order.number, wanted, arrival_s)
    state.orders += 1
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
    found = [order for order in state.open_orders.values() if not order.emergency and order.count > 0]
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
            let_go(state, order)
            if order.awaits:
                continue
            order.delivery.cancel()
            del state.open_orders[order.number]
            if order.lacking == 0 and pays_for_oxygen(state):
                expect(state, order, order.arrival_s)


def begin_losses(state: State) -> None:
    """Schedule the first loss, where cylinders go missing."""
    cylinders = state.rules.cylinders
    if cylinders is not None and cylinders.losses_per_day > 0:
        state.losses = state.draws.losses(cylinders)
        _next_loss(state)


def _next_loss(state: State) -> None:
    assert state.losses is not None
    due_s = state.now + state.losses[state.losses_met]
    state.clock.at(due_s, Rank.CYLINDER_LOST, 0, cylinder_lost)


def cylinder_lost(state: State) -> None:
    """A cylinder that stands about goes missing: full, part-used or empty alike; none in use or promised."""
    store = there(state.store)
    credit_shelf(state)
    place = int(state.draws.draw("lost cylinder", 0, state.losses_met) * store.can_be_lost)
    content = store.lose(place)
    if content is not None:
        state.ledger.cylinders_lost += 1
        state.ledger.returned_gas += content
        state.note("cylinder lost", store.lost, store.full, content)
        consider_review(state)
        consider_emergency(state)
    state.losses_met += 1
    _next_loss(state)
