"""The whole question without luck: the least order and whether to phone, worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from today_ward import DAY, HOUR, count, quiet, ward

from o2sim.questions.today.today import today
from o2sim.scenario.types.hospital import Law


def asked(lead_days: float, next_review_days: float):
    """Return the answer for the ward with nothing on order, a lead time and the next look so many days ahead."""
    scenario = ward(count(on_order=(), next_review_s=round(next_review_days * DAY)))
    one = quiet(scenario.hospitals["cylinders"])
    road = replace(one.resupply, lead_time_s=Law("constant", (lead_days * DAY,)))
    scenario = replace(scenario, hospitals={"cylinders": replace(one, resupply=road)})
    return today(scenario, replications=100, days=14, on="2027-05-03").record


@pytest.mark.parametrize(
    ("next_review_days", "least"),
    [
        (2, 0),  # the order after today's is there at 120 h, and the first bed is dry at 125.35 h
        (2.5, 2),  # at 132 h: beds want a spare at 125.35 and 128.47 h
        (4, 3),  # at 168 h: and at 158.83 h
        (5, 4),  # at 192 h: and at 178.69 h, when the one of 128.47 h is used up
    ],
)
def test_the_least_order_by_hand(next_review_days, least):
    """An order is there after three days; each spare beyond those on the shelf is one bed that is not dry."""
    found = asked(3, next_review_days).ordering
    tried = {each.order: each.without_supply.estimate for each in found.tried}
    assert (found.least, found.reached) == (least, True)
    assert tried == {order: float(order < least) for order in tried}


def test_no_order_comes_in_time():
    """It takes six days, and the first bed is dry after 5.2: to phone is all that is left."""
    found = asked(6, 2)
    assert (found.phone, found.ordering.reached, found.ordering.before_delivery.estimate) == (True, False, 1)
    assert found.cover.first_dry_hours * HOUR == pytest.approx(125.3528 * HOUR, rel=1e-6)
    assert [each.without_supply.estimate for each in found.by_day[:7]] == [0, 0, 0, 0, 0, 1, 1]


def test_an_order_in_time_needs_no_phone():
    """Nobody is without before the delivery of the third day, in any of them."""
    found = asked(3, 4)
    assert (found.phone, found.ordering.before_delivery.estimate) == (False, 0)
    assert (found.next_delivery.likely, found.next_delivery.within) == ("2027-05-10", 1)
