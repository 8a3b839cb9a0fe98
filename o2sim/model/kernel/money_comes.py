"""Money comes: allotments, fees, what lapses; what waited for money is tried again."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.codes import LOG, RANK, STEP
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.funds import free_cash, pay_invoices, pays_least
from o2sim.model.kernel.generator import fuel_ordered
from o2sim.model.kernel.layout import NONE, note, number_at
from o2sim.model.kernel.repairs import begin_waiting_repairs
from o2sim.model.kernel.resupply import look_again
from o2sim.model.kernel.stock import consider_emergency
from o2sim.model.rules import ALLOTMENT, LAPSE, MIDNIGHT
from o2sim.scenario.types.funds import PURCHASES
from o2sim.scenario.types.hospital import DAY_S

_OXYGEN, _FUEL, _PARTS = range(len(PURCHASES))


def begin_funds(k: Record) -> None:
    """Schedule what lapses, the first allotment and the midnights of the purse."""
    if not k.rules.has_funds:
        return
    for place in range(k.lapse_count):
        schedule(k, number_at(k.lapses, place).value, RANK.FUNDS_COME, LAPSE, STEP.MONEY_LAPSES, NONE, 0)
    _next_allotment(k, 0)
    schedule(k, k.midnight_s % DAY_S, RANK.FUNDS_COME, MIDNIGHT, STEP.MIDNIGHT_OF_PURSE, NONE, 0)


def _next_allotment(k: Record, number: Whole) -> None:
    """Schedule an allotment by its place in order of coming; only one at a time is pending."""
    if number < k.allotment_count:
        due_s = number_at(k.allotments, number).value
        schedule(k, due_s, RANK.FUNDS_COME, ALLOTMENT, STEP.ALLOTMENT_COMES, number, 0)


def money_lapses(k: Record) -> None:
    """The month ends after which what is left is lost, but for what is kept for orders."""
    lost = free_cash(k)
    k.purse.cash -= lost
    k.ledger.lapsed_cents += lost
    note(k, LOG.MONEY_LAPSES, -1, -1, lost)


def allotment_comes(k: Record, number: Whole) -> None:
    """An allotment comes into the purse."""
    k.ledger.allotted_cents += k.rules.funds_allotment_amount_cents
    _came(k, ALLOTMENT, k.rules.funds_allotment_amount_cents)
    _next_allotment(k, number + 1)


def midnight_of_purse(k: Record) -> None:
    """The fees of a day come in; what waits for money is tried again; a day without funds is counted."""
    fees = k.purse.fees_due
    k.purse.fees_due = 0
    if fees > 0:
        k.ledger.fees_cents += fees
        _came(k, MIDNIGHT, fees)
    else:
        _try_again(k, False)
    k.ledger.days_without_funds += _without_funds(k)
    if k.now + DAY_S < k.end_s:
        schedule(k, k.now + DAY_S, RANK.FUNDS_COME, MIDNIGHT, STEP.MIDNIGHT_OF_PURSE, NONE, 0)


def _came(k: Record, what: Whole, amount: Whole) -> None:
    """Money is in the purse: invoices are paid, then what waits is tried again."""
    k.purse.cash += amount
    note(k, LOG.MONEY_COMES, what, -1, k.purse.cash)
    pay_invoices(k)
    _try_again(k, True)


def _try_again(k: Record, reviewed: Whole) -> None:
    """Try what waits for money, in the order of the purse; reviewed: orders too, if the last look was cut."""
    for place in range(k.rules.funds_pays_for_count):
        what = number_at(k.rules.funds_pays_for, place).value
        if what == _OXYGEN and reviewed:
            if k.purse.emergency_cut:
                consider_emergency(k)
            if k.purse.was_cut:
                look_again(k)
        elif what == _FUEL and k.purse.fuel_waits:
            fuel_ordered(k)
        elif what == _PARTS:
            begin_waiting_repairs(k)


def _without_funds(k: Record) -> Whole:
    """Return True where not even the least order could be placed for want of money."""
    if not k.rules.has_resupply or not k.purse.buys_oxygen:
        return False
    return not pays_least(k, max(1, k.rules.resupply_minimum_order))


compile_file(globals())
