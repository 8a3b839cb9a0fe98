"""Stock: the book closed at each midnight, days of cover, emergency orders, cylinders that go missing."""

from __future__ import annotations

import math

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import rounded, whole_draw
from o2sim.draws.philox import uniform
from o2sim.model.kernel import store
from o2sim.model.kernel.codes import LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.layout import NONE, note, number_at, open_at, order_at, patient_at, store_at
from o2sim.model.kernel.ledger import count_lost, credit_served, drawn_gas, gas_in_use
from o2sim.model.kernel.manifold_gas import credit_manifold, drawn_ml_min, manifold_gas, manifold_usable
from o2sim.model.kernel.on_cylinder import flow_of, flows
from o2sim.model.kernel.resupply import consider_review, credit_shelf, place_order, ready_to_go, today
from o2sim.model.kernel.road import emergency_arrival_s
from o2sim.model.rules import BOOK_DAYS, GAS_PER_LITRE, MOST_COUNTED
from o2sim.scenario.types.hospital import DAY_S

_LONGEST_S = 1 << 40  # more than any cover that a scenario may ask for


def gas_of(k: Record, s: Record) -> Whole:
    """Return the gas in all cylinders of a size, those in use as last credited."""
    return gas_in_use(k, s, 0) + manifold_gas(k) + store.gas_on_hand(k, s)


def usable_of(k: Record, s: Record) -> Whole:
    """Return the gas above residual content in cylinders of a size but empties, and of the banks."""
    return gas_in_use(k, s, s.keep_gas) + manifold_usable(k) + store.usable_on_hand(k, s)


def usable_gas(k: Record) -> Whole:
    """Return the gas above residual content in cylinders of all sizes that are no empties."""
    gas = 0
    for size in range(k.store_count):
        gas += usable_of(k, store_at(k, size))
    return gas


def take_stock(k: Record) -> None:
    """Note what gas there is to begin with, by size."""
    for size in range(k.store_count):
        s = store_at(k, size)
        s.opening_gas, s.opening_usable = gas_of(k, s), usable_of(k, s)


def cylinder_flow(k: Record, only_flowing: Whole) -> Whole:
    """Return the flow of all on open cylinders, or on those that flow, and of the manifold, leaks included."""
    flow, place = drawn_ml_min(k), k.first_open
    while place != NONE:
        c = open_at(k, place)
        if not only_flowing or flows(k, c):
            flow += store_at(k, c.of_size).leak_ml_min + flow_of(k, c)
        place = c.after
    return flow


def close_book(k: Record) -> None:
    """Write down what was drawn from cylinders in the day that ends, leaks included."""
    _credit_cylinders(k)
    drawn = drawn_gas(k)
    k.book[k.booked_days % BOOK_DAYS] = drawn - k.booked_gas
    for size in range(k.store_count):
        store.close_book_of(store_at(k, size), k.booked_days)
    k.booked_days += 1
    k.booked_gas = drawn


def in_the_book(k: Record) -> Whole:
    """Return the gas drawn in the days that the book looks back on."""
    gas = 0
    for place in range(BOOK_DAYS):
        gas += k.book[place]
    return gas


def lasts_less(k: Record, coming_gas: Whole, cover_s: Whole) -> Whole:
    """Return True if days of cover are below a level.

    Usable gas on hand, in cylinders in use too, and coming, over the greater of the last seven days' use and the
    season's mean need. Before there are seven days in the book, those missing count as days without use.
    """
    _credit_cylinders(k)
    use = max(in_the_book(k), BOOK_DAYS * mean_need(k))
    return use > 0 and _whole_times(usable_gas(k) + coming_gas, use) < cover_s


def _whole_times(gas: Whole, use: Whole) -> Whole:
    """Return the whole seconds that gas lasts at a use in BOOK_DAYS, rounded down: no cover above it is reached.

    gas x seconds would not fit a word for a large fleet, so the days and their seconds are multiplied in turn.
    """
    seconds, rest = gas // use, gas % use
    for times in (BOOK_DAYS * 24, 3_600):
        if seconds > _LONGEST_S:
            return seconds
        seconds, rest = seconds * times + rest * times // use, rest * times % use
    return seconds


def mean_need(k: Record) -> Whole:
    """Return the season's mean need of today, whatever source meets it."""
    return number_at(k.mean_need, (k.now - k.midnight_s) // DAY_S + k.warm_up_days).value


def stock_book(k: Record, row: Record) -> None:
    """Write down usable litres on hand, litres of seven days and of one, the mean need, the flow drawn now."""
    row[11] = min(MOST_COUNTED, usable_gas(k) // GAS_PER_LITRE)
    row[12] = min(MOST_COUNTED, in_the_book(k) // GAS_PER_LITRE)
    row[13] = min(MOST_COUNTED, mean_need(k) // GAS_PER_LITRE)
    row[14] = min(MOST_COUNTED, cylinder_flow(k, True))
    row[15] = min(MOST_COUNTED, k.book[(k.booked_days - 1) % BOOK_DAYS] // GAS_PER_LITRE)


def _credit_cylinders(k: Record) -> None:
    """Bring the contents of the cylinders in use up to this second."""
    credit_manifold(k)
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.flowing and (p.piped or p.cylinder != NONE):
            credit_served(k, p)
        slot = p.after


def consider_emergency(k: Record) -> None:
    """Order in an emergency if the shelf is low, as far as there are empties to hand over."""
    r = k.rules
    if not r.has_resupply_emergency or not _low(k, r):
        return
    _reckon_coming(k)
    for size in range(k.store_count):
        s = store_at(k, size)
        s.wanted = max(0, s.emergency_up_to - s.full - s.coming)
    cylinders, spaces = r.resupply_emergency_vehicle_capacity, r.resupply_emergency_vehicle_space
    count = ready_to_go(k, cylinders, spaces, r.resupply_emergency_minimum_order, True)
    if count == 0:
        return
    for size in range(k.store_count):
        s = store_at(k, size)
        s.lacking = max(0, s.loaded - store.unpromised_empties(s))
    _free_promised(k)
    day = today(k)
    k.emergencies_on_day = k.emergencies_on_day + 1 if day == k.emergencies_day else 1
    k.emergencies_day = day
    nth = k.emergencies_on_day - 1
    law = r.resupply_emergency_lead_time_s
    lead_time_s = whole_draw(law, 0, k.seed, k.replication, STREAM.EMERGENCY_LEAD_TIME, np.uint64(day), nth)
    arrival_s = emergency_arrival_s(k, lead_time_s)
    note(k, LOG.EMERGENCY_ORDER, k.orders, count, arrival_s)
    k.ledger.emergency_orders += 1
    place_order(k, arrival_s, True, day, nth)


def consider_by_the_book(k: Record) -> None:
    """Look at midnight as well where the trigger is days of cover: the stock book has just been closed."""
    r = k.rules
    if r.has_resupply_emergency and r.resupply_emergency_days_of_cover_s != NONE:
        consider_emergency(k)


def _low(k: Record, r: Record) -> Whole:
    """Return True if the cylinders on hand and in an emergency order are too few, or last too short a time.

    Too few: of any size, beside its share of the level. How long they last is asked of all sizes together.
    """
    _reckon_coming(k)
    gas, coming_gas = 0, 0
    for size in range(k.store_count):
        s = store_at(k, size)
        if r.resupply_emergency_below != NONE:
            if store.usable(s) + s.coming < s.emergency_below:
                return True
            continue
        coming_gas += s.coming * (s.full_gas - s.keep_gas)
        if r.resupply_emergency_cover_s != NONE:
            gas += store.usable_on_hand(k, s)
    if r.resupply_emergency_below != NONE:
        return False
    if r.resupply_emergency_days_of_cover_s != NONE:
        return lasts_less(k, coming_gas, r.resupply_emergency_days_of_cover_s)
    return gas + coming_gas < cylinder_flow(k, False) * r.resupply_emergency_cover_s


def _reckon_coming(k: Record) -> None:
    """Write down by size what is in open emergency orders, and in ordinary ones whose empties are at the door."""
    for size in range(k.store_count):
        s = store_at(k, size)
        s.coming = s.ordinary = 0
        for place in range(k.orders_used):
            order = order_at(k, place)
            if order.open_order and order.emergency:
                s.coming += order.counts[size]
            elif order.open_order and not k.rules.resupply_own_cylinders:
                s.ordinary += order.counts[size]


def _free_promised(k: Record) -> None:
    """Cut ordinary orders by the empties that an emergency lacks; one cut to nothing is cancelled."""
    cut_last = NONE
    while True:
        last = NONE  # to arrive, of those not looked at
        for place in range(k.orders_used):
            order = order_at(k, place)
            ordinary = order.open_order and not order.emergency and not k.rules.resupply_own_cylinders
            looked_at = cut_last != NONE and not _later(order_at(k, cut_last), order)
            if ordinary and not looked_at and (last == NONE or _later(order, order_at(k, last))):
                last = place
        if last == NONE:
            return
        _cut(k, order_at(k, last))
        cut_last = last


def _cut(k: Record, order: Record) -> None:
    before = order.count
    for size in range(k.store_count):
        s = store_at(k, size)
        cut = min(order.counts[size], s.lacking)
        s.lacking -= cut
        order.counts[size] -= cut
        order.count -= cut
        store.unpromise(s, cut)
    if order.count == before:
        return
    k.ledger.cylinders_cut += before - order.count
    note(k, LOG.ORDER_CUT, order.number, before - order.count, -1)
    if order.count == 0:
        order.delivery = call_off(k, order.delivery)
        order.open_order = False


def _later(order: Record, other: Record) -> Whole:
    if order.arrival_s != other.arrival_s:
        return order.arrival_s > other.arrival_s
    return order.number > other.number


def begin_losses(k: Record) -> None:
    """Schedule the first loss of each size of which cylinders go missing."""
    for size in range(k.store_count):
        if store_at(k, size).losses_per_day > 0:
            _next_loss(k, store_at(k, size))


def _next_loss(k: Record, s: Record) -> None:
    u = uniform(k.seed, k.replication, STREAM.CYLINDER_LOSS, s.word, s.losses_met)
    due_s = k.now + rounded(-(DAY_S / s.losses_per_day) * math.log1p(-u), 1)
    schedule(k, due_s, RANK.CYLINDER_LOST, s.number, STEP.CYLINDER_LOST, s.number, 0)


def cylinder_lost(k: Record, s: Record) -> None:
    """A cylinder that stands about goes missing: full, part-used or empty alike; none in use or promised."""
    credit_shelf(k)
    luck = uniform(k.seed, k.replication, STREAM.LOST_CYLINDER, s.word, s.losses_met)
    content = store.lose(s, np.int64(luck * store.can_be_lost(s)))
    if content != NONE:
        count_lost(k, s, content)
        note(k, LOG.CYLINDER_LOST, s.lost, s.full, content)
        consider_review(k, s, True)
        consider_emergency(k)
    s.losses_met += 1
    _next_loss(k, s)


compile_file(globals())
