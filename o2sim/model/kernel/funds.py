"""Funds: what can be paid for, money kept for orders, bills and invoices, and what the last orders lacked."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.philox import uniform
from o2sim.model.kernel.codes import CAUSE, LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import FULL, schedule
from o2sim.model.kernel.layout import NONE, invoice_at, note, number_at, store_at
from o2sim.model.kernel.loading import NO_LIMIT, all_loaded, load
from o2sim.model.kernel.packing import code
from o2sim.model.prices import ML_PER_LITRE
from o2sim.scenario.types.funds import Supplier

FROM_THE_START = NONE  # cost of an order that is on its way as the run begins: it is paid
_PREPAID, _ON_DELIVERY, _CREDIT = (code(Supplier, "terms", word) for word in ("prepaid", "on delivery", "credit"))


def no_cylinder(k: Record) -> Whole:
    """Return why there is no cylinder, or that money was lacking for the latest order that could have come."""
    return CAUSE.NO_FUNDS if k.purse.lacking > 0 else CAUSE.NO_CYLINDER


def free_cash(k: Record) -> Whole:
    """Return the cash that is not kept for anything."""
    return k.purse.cash - k.purse.reserved


def order_price(k: Record, order: Record) -> Whole:
    """Return what an order may cost at most."""
    amount = _trip_of(k, order.emergency)
    for size in range(k.store_count):
        amount += order.counts[size] * _cylinder_of(k, store_at(k, size), order.emergency)
    return amount


def _trip_of(k: Record, emergency: Whole) -> Whole:
    return k.purse.trip + (k.purse.emergency_trip if emergency else 0)


def _cylinder_of(k: Record, s: Record, emergency: Whole) -> Whole:
    return s.refill + k.purse.carriage + (k.purse.emergency_cylinder if emergency else 0)


def _bill_of(k: Record, emergency: Whole) -> Whole:
    """Return what is paid for what came, and was filled, by size."""
    amount = _trip_of(k, emergency)
    for size in range(k.store_count):
        s = store_at(k, size)
        amount += s.brought * _cylinder_of(k, s, emergency)
        amount -= s.refill * s.refilled_gas // s.billed_gas if s.billed_gas > 0 else 0
    return amount


def fuel_price(k: Record, ml: Whole) -> Whole:
    """Return the price of so much fuel, rounded up."""
    return -(-ml * k.purse.fuel // ML_PER_LITRE)


def _is_overdue(k: Record) -> Whole:
    """Return True while an invoice is unpaid after the second at which it fell due."""
    return k.purse.invoice_count > 0 and invoice_at(k, k.purse.first_invoice).due_s < k.now


def _left(k: Record) -> Whole:
    """Return what an order may cost now; NO_LIMIT: anything, less than 0: none can be placed."""
    r, purse = k.rules, k.purse
    if r.funds_supplier_terms != _CREDIT:
        return free_cash(k)
    if r.funds_supplier_stops_when_overdue and _is_overdue(k):
        return -1
    if r.funds_supplier_limit_cents == NONE:
        return NO_LIMIT
    return r.funds_supplier_limit_cents - purse.owed - purse.ordered


def pays_least(k: Record, count: Whole) -> Whole:
    """Return True if so many cylinders of the cheapest size can be ordered now."""
    cheapest = NO_LIMIT
    for size in range(k.store_count):
        cheapest = min(cheapest, _cylinder_of(k, store_at(k, size), False))
    left = _left(k)
    return left == NO_LIMIT or _trip_of(k, False) + count * cheapest <= left


def affordable(k: Record, emergency: Whole) -> None:
    """Cut what is loaded of each size to what can be paid for now, nothing where nobody counts money.

    Where the whole load cannot, one at a time is taken for the size with the fewest days of cover.
    """
    if not k.purse.buys_oxygen:
        return
    left = _left(k)
    if left == NO_LIMIT:
        return
    left -= _trip_of(k, emergency)
    for size in range(k.store_count):
        s = store_at(k, size)
        s.backed = s.loaded if left >= 0 else 0
        s.price = _cylinder_of(k, s, emergency)
    load(k, NONE, NONE, max(0, left))


def can_order(k: Record, minimum_order: Whole, emergency: Whole) -> Whole:
    """Cut what is loaded to what is ordered, and return it of all sizes: as many as can be paid for.

    None below the minimum.
    """
    affordable(k, emergency)
    count = all_loaded(k)
    if count >= max(1, minimum_order):
        return count
    for size in range(k.store_count):
        store_at(k, size).loaded = 0
    return 0


def decided(k: Record, number: Whole, count: Whole, lacking: Whole, again: Whole) -> None:
    """A review has decided an order: what money cut from it is counted, once where it is looked at again."""
    if not k.purse.buys_oxygen:
        return
    k.purse.was_cut = lacking > 0
    if lacking > 0:
        k.ledger.cylinders_not_ordered += 0 if again else lacking
        k.ledger.orders_not_placed += count == 0 and not again
        note(k, LOG.ORDER_LACKS_MONEY, number, lacking, count)


def keep_money(k: Record, order: Record) -> None:
    """Keep the money for an order that is decided: reserved of the cash, or of what may be owed."""
    if not k.purse.buys_oxygen or order.count == 0:
        return
    order.cost_cents = order_price(k, order)
    if k.rules.funds_supplier_terms == _CREDIT:
        k.purse.ordered += order.cost_cents
    else:
        k.purse.reserved += order.cost_cents


def pay_as_placed(k: Record, order: Record) -> None:
    """Pay an order that is placed, where orders are paid beforehand."""
    if order.cost_cents != FROM_THE_START and _prepaid(k):
        k.purse.reserved -= order.cost_cents
        _pay(k, order.cost_cents)


def _prepaid(k: Record) -> Whole:
    return k.rules.funds_supplier_terms == _PREPAID


def _pay(k: Record, amount: Whole) -> None:
    """Pay a bill at once; less than 0: money comes back."""
    k.purse.cash -= amount
    k.ledger.billed_cents += amount
    k.ledger.paid_cents += amount


def let_go(k: Record, order: Record) -> None:
    """Free the money kept for an order of which nothing will come, or take it back."""
    if order.cost_cents == FROM_THE_START:
        return
    if k.rules.funds_supplier_terms == _CREDIT:
        k.purse.ordered -= order.cost_cents
    elif _prepaid(k) and not order.awaits:
        _pay(k, -order.cost_cents)
    else:
        k.purse.reserved -= order.cost_cents
    order.cost_cents = FROM_THE_START


def bill(k: Record, order: Record) -> None:
    """Pay for what came of an order, or take the invoice for it; money paid for what did not come comes back."""
    if order.cost_cents == FROM_THE_START:
        return
    amount = _bill_of(k, order.emergency)
    if _prepaid(k):
        _pay(k, amount - order.cost_cents)
    elif k.rules.funds_supplier_terms == _ON_DELIVERY:
        k.purse.reserved -= order.cost_cents
        _pay(k, amount)
    else:
        k.purse.ordered -= order.cost_cents
        _invoice(k, order, amount)


def _invoice(k: Record, order: Record, amount: Whole) -> None:
    """Owe the money for a delivery until its invoice is paid."""
    purse = k.purse
    due_s = k.now + k.rules.funds_supplier_due_s
    if purse.invoice_count == purse.invoice_room:
        k.calendar.status = FULL
        return
    purse.owed += amount
    k.ledger.billed_cents += amount
    invoice = invoice_at(k, (purse.first_invoice + purse.invoice_count) % purse.invoice_room)
    invoice.due_s, invoice.left = due_s, amount
    purse.invoice_count += 1
    schedule(k, due_s, RANK.PAYMENT_DUE, order.number, STEP.PAYMENT_DUE, NONE, 0)


def payment_due(k: Record) -> None:
    """An invoice falls due: if it is not paid by now, invoices are."""
    if k.purse.invoice_count > 0 and invoice_at(k, k.purse.first_invoice).due_s <= k.now:
        pay_invoices(k)


def pay_invoices(k: Record) -> None:
    """Invoices are paid as far as the money goes, the oldest first, in part if need be."""
    purse = k.purse
    while purse.invoice_count > 0:
        first = invoice_at(k, purse.first_invoice)
        amount = min(free_cash(k), first.left)
        first.left -= amount
        purse.owed -= amount
        purse.cash -= amount
        k.ledger.paid_cents += amount
        if first.left > 0:
            return
        purse.first_invoice = (purse.first_invoice + 1) % purse.invoice_room
        purse.invoice_count -= 1


def has_lost_supplier(k: Record, order: Record) -> Whole:
    """Return True for an order paid beforehand whose supplier has failed since it was placed."""
    if order.emergency or order.cost_cents == FROM_THE_START or not _prepaid(k):
        return False
    for place in range(k.supplier_failure_count):
        if order.placed_s <= number_at(k.supplier_failures, place).value < k.now:
            return True
    return False


def could_have_come(k: Record, number: Whole, lacking: Whole) -> None:
    """An order would have come by now, had it been placed whole: what it lacked counts until a later one's."""
    if number > k.purse.lacking_from:
        k.purse.lacking_from, k.purse.lacking = number, lacking


def has_come(k: Record, order: Record) -> None:
    """The time of an order that money had not cut has come: it lacked nothing."""
    if k.purse.buys_oxygen and not order.emergency and order.lacking == 0:
        could_have_come(k, order.number, 0)


def expect(k: Record, number: Whole, lacking: Whole, arrival_s: Whole) -> None:
    """Note when an order that money cut could have come, had it been placed whole."""
    schedule(k, arrival_s, RANK.DELIVERY, number, STEP.COULD_HAVE_COME, number, lacking)


def keep_for_fuel(k: Record) -> Whole:
    """Keep the money for a whole tank of fuel, the most that may come; return False where there is too little."""
    purse = k.purse
    if not purse.buys_fuel:
        return True
    amount = fuel_price(k, k.rules.power_generator_tank_ml)
    if amount > free_cash(k):
        if not purse.fuel_waits:
            note(k, LOG.FUEL_LACKS_MONEY, -1, -1, -1)
        purse.fuel_waits = True
        return False
    purse.fuel_waits = False
    purse.fuel_reserved = amount
    purse.reserved += amount
    return True


def pay_for_fuel(k: Record, received_ml: Whole) -> None:
    """Pay for the fuel that came."""
    purse = k.purse
    if not purse.buys_fuel:
        return
    purse.reserved -= purse.fuel_reserved
    purse.fuel_reserved = 0
    _pay(k, fuel_price(k, received_ml))


def pay_for_repair(k: Record, u: Record) -> Whole:
    """Pay for the repair of a unit that is about to begin; return False where there is too little money."""
    if not k.purse.buys_parts:
        return True
    if u.repair_price > free_cash(k):
        return False
    _pay(k, u.repair_price)
    return True


def take_fee(k: Record, p: Record) -> None:
    """A patient leaves, and pays the fee or not; what was paid in a day comes into the purse at midnight."""
    if k.purse.takes_fees and uniform(k.seed, k.replication, STREAM.FEE, p.luck, 0) < k.rules.funds_fees_paid_by:
        k.purse.fees_due += k.rules.funds_fees_amount_cents


compile_file(globals())
