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
from o2sim.model.kernel.funds import can_order, expect, let_go
from o2sim.model.kernel.layout import NONE, note, number_at, open_at, order_at, patient_at
from o2sim.model.kernel.ledger import credit_served, drawn_gas, gas_in_cylinders_in_use
from o2sim.model.kernel.manifold_gas import credit_manifold, drawn_ml_min, manifold_gas, manifold_usable
from o2sim.model.kernel.on_cylinder import flow_of, flows
from o2sim.model.kernel.resupply import (
    consider_review,
    credit_shelf,
    new_order,
    place_order,
    send_part_used,
    today,
)
from o2sim.model.kernel.road import emergency_arrival_s
from o2sim.model.rules import BOOK_DAYS, GAS_PER_LITRE, MOST_COUNTED
from o2sim.scenario.types.hospital import DAY_S

_LONGEST_S = 1 << 40  # more than any cover that a scenario may ask for


def gas_in_cylinders(k: Record) -> Whole:
    """Return the gas in the whole fleet, cylinders in use as last credited."""
    return gas_in_cylinders_in_use(k) + manifold_gas(k) + store.gas_on_hand(k) if k.has_store else 0


def usable_gas(k: Record) -> Whole:
    """Return the gas above residual content in cylinders that are no empties, and what the banks can give."""
    if not k.has_store:
        return 0
    keep, gas, place = store.keep_gas(k.rules), store.usable_on_hand(k) + manifold_usable(k), k.first_open
    while place != NONE:
        gas += max(0, open_at(k, place).content - keep)
        place = open_at(k, place).after
    slot = k.first_present if k.at_beds > 0 else NONE
    while slot != NONE:
        p = patient_at(k, slot)
        gas += max(0, p.backup_content - keep) if p.backup_kind != NONE else 0
        slot = p.after
    return gas


def cylinder_flow(k: Record, only_flowing: Whole) -> Whole:
    """Return the flow of all on open cylinders, or on those that flow, and of the manifold, leaks included."""
    leak, flow, place = k.rules.cylinders_leak_ml_min, drawn_ml_min(k), k.first_open
    while place != NONE:
        c = open_at(k, place)
        if not only_flowing or flows(k, c):
            flow += leak + flow_of(k, c)
        place = c.after
    return flow


def close_book(k: Record) -> None:
    """Write down what was drawn from cylinders in the day that ends, leaks included."""
    _credit_cylinders(k)
    drawn = drawn_gas(k)
    k.book[k.booked_days % BOOK_DAYS] = drawn - k.booked_gas
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
    k.purse.emergency_cut = False
    if not r.has_resupply_emergency or not _low(k, r):
        return
    coming, ordinary = _on_order(k, True), 0
    # Empties promised to ordinary orders count too: they stand at the door, and this lorry comes first.
    if not r.resupply_own_cylinders:
        ordinary = _on_order(k, False)
    wanted = r.resupply_emergency_up_to - k.full - coming
    if r.resupply_emergency_vehicle_capacity != NONE:
        wanted = min(wanted, r.resupply_emergency_vehicle_capacity)
    send_part_used(k, wanted, r.resupply_emergency_minimum_order, ordinary, True)
    wanted = min(wanted, store.unpromised_empties(k) + ordinary)
    if wanted < max(1, r.resupply_emergency_minimum_order):
        return
    count = can_order(k, wanted, r.resupply_emergency_minimum_order, True)
    if count < wanted:
        k.purse.emergency_cut, wanted = True, count
    if wanted == 0:
        return
    _free_promised(k, wanted - store.unpromised_empties(k))
    day = today(k)
    k.emergencies_on_day = k.emergencies_on_day + 1 if day == k.emergencies_day else 1
    k.emergencies_day = day
    nth = k.emergencies_on_day - 1
    law = r.resupply_emergency_lead_time_s
    lead_time_s = whole_draw(law, 0, k.seed, k.replication, STREAM.EMERGENCY_LEAD_TIME, np.uint64(day), nth)
    arrival_s = emergency_arrival_s(k, lead_time_s)
    place = new_order(k, k.orders, wanted, True)
    if place == NONE:
        return
    order = order_at(k, place)
    order.day, order.nth, order.arrival_s = day, nth, arrival_s
    note(k, LOG.EMERGENCY_ORDER, order.number, wanted, arrival_s)
    k.orders += 1
    k.ledger.emergency_orders += 1
    place_order(k, order)


def consider_by_the_book(k: Record) -> None:
    """Look at midnight as well where the trigger is days of cover: the stock book has just been closed."""
    r = k.rules
    if r.has_resupply_emergency and r.resupply_emergency_days_of_cover_s != NONE:
        consider_emergency(k)


def _low(k: Record, r: Record) -> Whole:
    """Return True if the cylinders on hand and in an emergency order are too few, or last too short a time."""
    coming = _on_order(k, True)
    if r.resupply_emergency_below != NONE:
        return store.usable(k) + coming < r.resupply_emergency_below
    coming_gas = coming * (r.cylinders_full_gas - store.keep_gas(r))
    if r.resupply_emergency_days_of_cover_s != NONE:
        return lasts_less(k, coming_gas, r.resupply_emergency_days_of_cover_s)
    return store.usable_on_hand(k) + coming_gas < cylinder_flow(k, False) * r.resupply_emergency_cover_s


def _on_order(k: Record, emergency: Whole) -> Whole:
    """Return the cylinders in open emergency orders, or in open ordinary ones."""
    count = 0
    for place in range(k.orders_used):
        order = order_at(k, place)
        if order.open_order and order.emergency == emergency:
            count += order.count
    return count


def _free_promised(k: Record, count: Whole) -> None:
    """Cut ordinary orders by the empties that an emergency takes from them; one cut to nothing is cancelled."""
    while count > 0:
        last = NONE  # to arrive, of the ordinary orders
        for place in range(k.orders_used):
            order = order_at(k, place)
            ordinary = order.open_order and not order.emergency and order.count > 0
            if ordinary and (last == NONE or _later(order, order_at(k, last))):
                last = place
        if last == NONE:
            return
        order = order_at(k, last)
        cut = min(order.count, count)
        count -= cut
        order.count -= cut
        store.unpromise(k, cut)
        k.ledger.cylinders_cut += cut
        note(k, LOG.ORDER_CUT, order.number, cut, -1)
        if order.count == 0:
            let_go(k, order)
        if order.count == 0 and not order.awaits:
            order.delivery = call_off(k, order.delivery)
            order.open_order = False
            if order.lacking == 0 and k.purse.buys_oxygen:
                expect(k, order.number, 0, order.arrival_s)


def _later(order: Record, other: Record) -> Whole:
    if order.arrival_s != other.arrival_s:
        return order.arrival_s > other.arrival_s
    return order.number > other.number


_ZERO = np.uint64(0)


def begin_losses(k: Record) -> None:
    """Schedule the first loss, where cylinders go missing."""
    if k.has_store and k.rules.cylinders_losses_per_day > 0:
        _next_loss(k)


def _next_loss(k: Record) -> None:
    u = uniform(k.seed, k.replication, STREAM.CYLINDER_LOSS, _ZERO, k.losses_met)
    due_s = k.now + rounded(-(DAY_S / k.rules.cylinders_losses_per_day) * math.log1p(-u), 1)
    schedule(k, due_s, RANK.CYLINDER_LOST, 0, STEP.CYLINDER_LOST, NONE, 0)


def cylinder_lost(k: Record) -> None:
    """A cylinder that stands about goes missing: full, part-used or empty alike; none in use or promised."""
    credit_shelf(k)
    luck = uniform(k.seed, k.replication, STREAM.LOST_CYLINDER, _ZERO, k.losses_met)
    content = store.lose(k, np.int64(luck * store.can_be_lost(k)))
    if content != NONE:
        k.ledger.cylinders_lost += 1
        k.ledger.returned_gas += content
        note(k, LOG.CYLINDER_LOST, k.lost, k.full, content)
        consider_review(k, True)
        consider_emergency(k)
    k.losses_met += 1
    _next_loss(k)


compile_file(globals())
