"""Funds: what can be paid for, money kept for orders, bills and invoices, and what the last orders lacked."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.model.bank import Unit
from o2sim.model.purse import Invoice
from o2sim.model.rules import Rank
from o2sim.model.state import State, there
from o2sim.model.steps.loading import Lorry, load
from o2sim.model.store import Order
from o2sim.outcome import Cause

_NO_LIMIT = Lorry(None, None)
FROM_THE_START = -1  # cost of an order that is on its way as the run begins: it is paid


def pays_for_oxygen(state: State) -> bool:
    """Return True where orders of cylinders are paid from the purse."""
    return state.purse is not None and state.purse.rules.pays("oxygen")


def no_cylinder(state: State) -> Cause:
    """Return why there is no cylinder, or that money was lacking for the latest order that could have come."""
    return Cause.NO_FUNDS if state.purse is not None and state.purse.lacking > 0 else Cause.NO_CYLINDER


def affordable(state: State, wanted: list[int], *, emergency: bool = False) -> list[int]:
    """Return how many of the cylinders wanted of each size can be paid for now, all where nobody counts money.

    Where the whole load cannot, one at a time is taken for the size with the fewest days of cover.
    """
    if not pays_for_oxygen(state):
        return wanted

    def may_take(loaded: Sequence[int], size: int) -> bool:
        more = [count + (place == size) for place, count in enumerate(loaded)]
        return purse.pays(more, state.now, emergency=emergency)

    purse = there(state.purse)
    if purse.pays(wanted, state.now, emergency=emergency):
        return wanted
    return load(state, wanted, _NO_LIMIT, may_take)


def can_order(state: State, wanted: list[int], minimum_order: int, *, emergency: bool = False) -> list[int]:
    """Return how many of the cylinders wanted are ordered: as many as can be paid for, none below the minimum."""
    counts = affordable(state, wanted, emergency=emergency)
    return counts if sum(counts) >= max(1, minimum_order) else [0] * len(counts)


def decided(state: State, order: Order, again: bool) -> None:
    """A review has decided an order: what money cut from it is counted, once where it is looked at again."""
    if not pays_for_oxygen(state):
        return
    purse, ledger = there(state.purse), state.ledger
    purse.was_cut = order.lacking > 0
    if order.lacking > 0:
        ledger.cylinders_not_ordered += 0 if again else order.lacking
        ledger.orders_not_placed += order.count == 0 and not again
        state.note("order lacks money", order.number, order.lacking, order.count)


def keep_money(state: State, order: Order) -> None:
    """Keep the money for an order that is decided: reserved of the cash, or of what may be owed."""
    if not pays_for_oxygen(state) or order.count == 0:
        return
    purse = there(state.purse)
    order.cost_cents = purse.prices.order(order.counts, order.emergency)
    if purse.rules.supplier.terms == "credit":
        purse.ordered += order.cost_cents
    else:
        purse.reserved += order.cost_cents


def pay_as_placed(state: State, order: Order) -> None:
    """Pay an order that is placed, where orders are paid beforehand."""
    if order.cost_cents != FROM_THE_START and _prepaid(state):
        there(state.purse).reserved -= order.cost_cents
        _pay(state, order.cost_cents)


def _prepaid(state: State) -> bool:
    return there(state.purse).rules.supplier.terms == "prepaid"


def _pay(state: State, amount: int) -> None:
    """Pay a bill at once; less than 0: money comes back."""
    there(state.purse).cash -= amount
    state.ledger.billed_cents += amount
    state.ledger.paid_cents += amount


def let_go(state: State, order: Order) -> None:
    """Free the money kept for an order of which nothing will come, or take it back."""
    if order.cost_cents == FROM_THE_START:
        return
    purse = there(state.purse)
    if purse.rules.supplier.terms == "credit":
        purse.ordered -= order.cost_cents
    elif _prepaid(state) and not order.awaits:
        _pay(state, -order.cost_cents)
    else:
        purse.reserved -= order.cost_cents
    order.cost_cents = FROM_THE_START


def bill(state: State, order: Order, came: Sequence[int], refilled_gas: Sequence[int]) -> None:
    """Pay for what came of an order, or take the invoice for it; money paid for what did not come comes back.

    came: cylinders, by size; refilled_gas: what was in the empties that were filled, by size.
    """
    if order.cost_cents == FROM_THE_START:
        return
    purse = there(state.purse)
    amount = purse.prices.bill(came, refilled_gas, order.emergency)
    if _prepaid(state):
        _pay(state, amount - order.cost_cents)
    elif purse.rules.supplier.terms == "on delivery":
        purse.reserved -= order.cost_cents
        _pay(state, amount)
    else:
        purse.ordered -= order.cost_cents
        _invoice(state, order, amount)


def _invoice(state: State, order: Order, amount: int) -> None:
    """Owe the money for a delivery until its invoice is paid."""
    purse = there(state.purse)
    due_s = state.now + purse.rules.supplier.due_s
    purse.owed += amount
    state.ledger.billed_cents += amount
    purse.invoices.append(Invoice(due_s, amount))
    state.clock.at(due_s, Rank.PAYMENT_DUE, order.number, payment_due)


def payment_due(state: State) -> None:
    """An invoice falls due: if it is not paid by now, invoices are."""
    purse = there(state.purse)
    if purse.invoices and purse.invoices[0].due_s <= state.now:
        pay_invoices(state)


def pay_invoices(state: State) -> None:
    """Invoices are paid as far as the money goes, the oldest first, in part if need be."""
    purse = there(state.purse)
    while purse.invoices and (purse.free > 0 or purse.invoices[0].left == 0):
        first = purse.invoices[0]
        amount = min(purse.free, first.left)
        first.left -= amount
        purse.owed -= amount
        purse.cash -= amount
        state.ledger.paid_cents += amount
        if first.left == 0:
            purse.invoices.popleft()


def has_lost_supplier(state: State, order: Order) -> bool:
    """Return True for an order paid beforehand whose supplier has failed since it was placed."""
    if order.emergency or order.cost_cents == FROM_THE_START or not _prepaid(state):
        return False
    return any(order.placed_s <= failed_s < state.now for failed_s in state.supplier_failures)


def could_have_come(state: State, number: int, lacking: int) -> None:
    """An order would have come by now, had it been placed whole: what it lacked counts until a later one's."""
    purse = there(state.purse)
    if number > purse.lacking_from:
        purse.lacking_from, purse.lacking = number, lacking


def has_come(state: State, order: Order) -> None:
    """The time of an order that money had not cut has come: it lacked nothing."""
    if pays_for_oxygen(state) and not order.emergency and order.lacking == 0:
        could_have_come(state, order.number, 0)


def expect(state: State, order: Order, arrival_s: int) -> None:
    """Note when an order that money cut could have come, had it been placed whole."""
    state.clock.at(arrival_s, Rank.DELIVERY, order.number, could_have_come, order.number, order.lacking)


def keep_for_fuel(state: State) -> bool:
    """Keep the money for a whole tank of fuel, the most that may come; return False where there is too little."""
    purse, generator = state.purse, there(state.chain.generator)
    if purse is None or not purse.rules.pays("fuel"):
        return True
    amount = purse.prices.fuel_of(there(generator.rules.tank_ml))
    if amount > purse.free:
        if not purse.fuel_waits:
            state.note("fuel lacks money")
        purse.fuel_waits = True
        return False
    purse.fuel_waits = False
    purse.fuel_reserved = amount
    purse.reserved += amount
    return True


def pay_for_fuel(state: State, received_ml: int) -> None:
    """Pay for the fuel that came."""
    purse = state.purse
    if purse is None or not purse.rules.pays("fuel"):
        return
    purse.reserved -= purse.fuel_reserved
    purse.fuel_reserved = 0
    _pay(state, purse.prices.fuel_of(received_ml))


def pay_for_repair(state: State, unit: Unit) -> bool:
    """Pay for the repair of a unit that is about to begin; return False where there is too little money."""
    purse = state.purse
    if purse is None or not purse.rules.pays("parts"):
        return True
    price = purse.prices.repair[unit.number]
    if price > purse.free:
        return False
    _pay(state, price)
    return True


def take_fee(state: State, patient_luck: int) -> None:
    """A patient leaves, and pays the fee or not; what was paid in a day comes into the purse at midnight."""
    fees = state.rules.funds.fees if state.rules.funds is not None else None
    if fees is not None and state.draws.pays_fee(fees.paid_by, patient_luck):
        there(state.purse).fees_due += fees.amount_cents
