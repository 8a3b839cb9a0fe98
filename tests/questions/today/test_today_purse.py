"""What the purse pays for today limits every order, and an order that is tried is paid."""

from __future__ import annotations

from dataclasses import replace

import pytest
from today_ward import ward

from o2sim.questions.today import order, purse
from o2sim.questions.today.moment import reviews
from o2sim.scenario.types.funds import Funds, Supplier
from o2sim.scenario.types.hospital import Costs
from o2sim.scenario.types.laws import Law

COSTS = Costs("USD", refill=16.0, transport_per_cylinder=1.5, trip=140.0)


def poor(**changes):
    """Return the ward with 200.00 in the purse: an order of 3 costs 192.50, of 4 more than there is."""
    one = next(iter(ward().hospitals.values()))
    return replace(one, costs=COSTS, funds=Funds(opening_cents=200_00, **changes))


@pytest.mark.theory
@pytest.mark.parametrize(("cents", "count"), [(500_00, 20), (490_00, 20), (489_99, 19), (157_49, 0)])
def test_how_many_cylinders_money_pays_for_against_a_sum_by_hand(cents, count):
    """Trip 140, refill 16, carriage 1.50: 500.00 pay for 20 and leave 10.00."""
    rules = replace(poor(), funds=Funds(opening_cents=cents))
    assert purse.pays_for(rules, 70) == count


def test_no_more_can_be_ordered_than_is_paid_for():
    """Seven empties, the purse pays for three; the rule says why."""
    rules = poor()
    assert order.allowed(rules, rules.resupply) == (0, 2, 3)
    assert order.paid_for(rules, rules.resupply) == 3
    always = replace(rules, now=replace(rules.now, next_review_s=0))
    said = order.by_rule(always, always.resupply, reviews(always))
    assert (said.order, said.why[-1]) == (3, "the purse pays for 3")


def test_an_order_tried_is_paid_at_the_count():
    """What is left: 200.00 less 140 less 3 x 17.50."""
    rules = poor()
    assert order.ordering(rules, 3, reviews(rules)).funds.opening_cents == 7_50
    assert order.ordering(rules, 0, reviews(rules)).funds == rules.funds


def test_with_credit_the_limit_counts_not_the_cash():
    """An order is owed; without a limit nothing is short."""
    owed = poor(supplier=Supplier("credit", 175_00))
    assert purse.pays_for(owed, 70) == 2
    assert purse.once_paid(owed, 2).funds.supplier.limit_cents == 0
    assert purse.pays_for(poor(supplier=Supplier("credit")), 70) == 70


def test_the_notes_say_what_is_in_the_purse_and_that_approval_takes_time():
    """Nothing is said where money plays no part."""
    late = Law("exponential", (86_400.0,))
    assert list(purse.notes(poor(approval_s=late))) == [
        "The purse has USD 200 at the count (funds.opening); an order of today is paid from it, or owed.",
        purse.NO_APPROVAL,
    ]
    assert list(purse.notes(next(iter(ward().hospitals.values())))) == []
