"""Money comes: allotments, fees, what lapses; what waited for money is tried again."""

from __future__ import annotations

from o2sim.draws.funds import lapses
from o2sim.model.rules import ALLOTMENT, LAPSE, MIDNIGHT, Rank
from o2sim.model.state import State, there
from o2sim.model.steps.funds import pay_invoices, pays_for_oxygen
from o2sim.model.steps.generator import fuel_ordered
from o2sim.model.steps.repairs import begin_waiting_repairs
from o2sim.model.steps.resupply import look_again
from o2sim.model.steps.stock import consider_emergency
from o2sim.scenario.types.hospital import DAY_S


def begin_funds(state: State) -> None:
    """Schedule what lapses, the first allotment and the midnights of the purse."""
    if state.purse is None:
        return
    for lapse_s in lapses(state.rules):
        state.clock.at(lapse_s, Rank.FUNDS_COME, LAPSE, money_lapses)
    _next_allotment(state, 0)
    state.clock.at(state.midnight_s % DAY_S, Rank.FUNDS_COME, MIDNIGHT, midnight_of_purse)


def _next_allotment(state: State, number: int) -> None:
    """Schedule an allotment by its place in order of coming; only one at a time is pending."""
    if number < len(state.allotments):
        state.clock.at(state.allotments[number], Rank.FUNDS_COME, ALLOTMENT, allotment_comes, number)


def money_lapses(state: State) -> None:
    """The month ends after which what is left is lost, but for what is kept for orders."""
    purse = there(state.purse)
    lost = purse.free
    purse.cash -= lost
    state.ledger.lapsed_cents += lost
    state.note("money lapses", -1, -1, lost)


def allotment_comes(state: State, number: int) -> None:
    """An allotment comes into the purse."""
    assert state.rules.funds is not None
    rule = there(state.rules.funds.allotment)
    state.ledger.allotted_cents += rule.amount_cents
    _came(state, ALLOTMENT, rule.amount_cents)
    _next_allotment(state, number + 1)


def midnight_of_purse(state: State) -> None:
    """The fees of a day come in; what waits for money is tried again; a day without funds is counted."""
    purse = there(state.purse)
    fees, purse.fees_due = purse.fees_due, 0
    if fees > 0:
        state.ledger.fees_cents += fees
        _came(state, MIDNIGHT, fees)
    else:
        _try_again(state, reviewed=False)
    state.ledger.days_without_funds += _without_funds(state)
    if state.now + DAY_S < state.rules.end_s:
        state.clock.at(state.now + DAY_S, Rank.FUNDS_COME, MIDNIGHT, midnight_of_purse)


def _came(state: State, what: int, amount: int) -> None:
    """Money is in the purse: invoices are paid, then what waits is tried again."""
    there(state.purse).cash += amount
    state.note("money comes", what, -1, there(state.purse).cash)
    pay_invoices(state)
    _try_again(state, reviewed=True)


def _try_again(state: State, *, reviewed: bool) -> None:
    """Try what waits for money, in the order of the purse; reviewed: orders too, if the last look was cut."""
    purse = there(state.purse)
    for what in purse.rules.pays_for:
        if what == "oxygen" and reviewed:
            if purse.emergency_cut:
                consider_emergency(state)
            if purse.was_cut:
                look_again(state)
        elif what == "fuel" and purse.fuel_waits:
            fuel_ordered(state)
        elif what == "parts":
            begin_waiting_repairs(state)


def _without_funds(state: State) -> bool:
    """Return True where not even the least order could be placed for want of money."""
    resupply = state.rules.resupply
    if resupply is None or not pays_for_oxygen(state):
        return False
    return not there(state.purse).pays_least(max(1, resupply.minimum_order), state.now)
