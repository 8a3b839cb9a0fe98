"""What to order: the rule by hand, the search on chances written down, the order that is tried."""

from __future__ import annotations

from dataclasses import replace

import pytest
from today_ward import DAY, HOUR, count, hospital

from o2sim.questions.today import order
from o2sim.questions.today.moment import Reviews, reviews
from o2sim.scenario.types.now import CountedCylinders, OrderUnderWay

TODAY = {"next_review_s": HOUR}


def rule(**changes):
    """Return what the rule of the ward (at 14 or fewer up to 20; a lorry takes 15, 2 at least) says of a count."""
    one = hospital(count(**changes))
    found = order.by_rule(one, one.resupply, reviews(one))
    return found.order, found.why


@pytest.mark.parametrize(
    ("full", "empty", "on_order", "expected"),
    [
        (3, 12, 5, (7, ("only 7 empties are there that no open order waits for",))),
        (3, 30, 0, (15, ("one lorry takes 15",))),
        (9, 20, 2, (9, ())),
        (10, 20, 5, (0, ("full and on order are 15, above the reorder point of 14",))),
        (
            3,
            6,
            5,
            (0, ("only 1 empties are there that no open order waits for", "fewer than 2 are not delivered")),
        ),
    ],
)
def test_the_rule_by_hand(full, empty, on_order, expected):
    """On an order day: up to the level, as lorry and empties let it, none below the least that is delivered."""
    stock, open_orders = CountedCylinders(full, empty), (OrderUnderWay(on_order),) if on_order else ()
    assert rule(cylinders=stock, on_order=open_orders, **TODAY) == expected


def test_on_another_day_the_rule_orders_nothing():
    """It says which day is next."""
    assert rule() == (0, ("today is not an order day: the next is Wed 5 May",))


def test_an_order_time_of_today_that_is_over_is_said_to_be():
    """At midnight, before the count at 07:30: whoever still has to order says so by the next review."""
    said = "today's order time was before the count: the next is Mon 10 May"
    more = "(state next review 2027-05-03 if it is still to come)"
    assert rule(next_review_s=7 * DAY - 27_000) == (0, (f"{said} {more}",))


def test_part_used_ones_count_where_the_rule_says_so():
    """Of two, one holds more than half of what a full one gives."""
    one = hospital()
    full = one.cylinders.full_gas
    one = hospital(count(cylinders=CountedCylinders(3, 12, (round(0.6 * full), round(0.3 * full)))))
    counts = replace(one.resupply, position_counts_above_permille=500)
    assert [order.position_of(one, each) for each in (one.resupply, counts)] == [8, 9]


def test_orders_that_can_be_placed():
    """None, or from the least to the lorry or the empties that no order waits for."""
    one = hospital()
    assert order.allowed(one, one.resupply) == (0, 2, 3, 4, 5, 6, 7)
    many = hospital(count(cylinders=CountedCylinders(3, 35)))
    assert order.allowed(many, many.resupply)[-1] == 15
    none = hospital(count(cylinders=CountedCylinders(3, 5)))
    assert order.allowed(none, none.resupply) == (0,)


CHANCES = {0: 0.9, 2: 0.5, 3: 0.2, 4: 0.06, 5: 0.04, 6: 0.03, 7: 0.029}


@pytest.mark.parametrize(("target", "expected"), [(0.05, (5, True)), (0.95, (0, True)), (0.029, (7, True)),
                                                  (0.01, (6, False)), (0.5, (2, True))])  # fmt: skip
def test_the_least_order_by_halving(target, expected):
    """The first within the target; where none is, the first that is within 1 in 100 of the largest."""
    asked = []

    def chance(each):
        asked.append(each)
        return CHANCES[each]

    assert order.least(tuple(CHANCES), chance, target) == expected
    assert len(set(asked)) <= 5


def test_nothing_can_be_ordered():
    """With one choice it is that."""
    assert order.least((0,), {0: 0.3}.get, 0.05) == (0, False)
    assert order.settled((0,), 0, {0: 0.3}.get, 0.05, 6) == (0, False)


def test_where_nothing_can_be_told_apart_all_is_ordered():
    """Where even the largest order leaves more than half without, no smaller one is said to be as good."""
    hopeless = {0: 1.0, 4: 0.99, 8: 0.985}
    assert order.least(tuple(hopeless), hopeless.get, 0.05) == (8, False)
    assert order.settled(tuple(hopeless), 4, hopeless.get, 0.05, 6) == (8, False)


def test_one_a_little_too_small_does_not_lead_to_the_largest():
    """From 24, not quite as good as 60, up by one and two more to 27, and not to 60 at once."""
    chances = {number: 0.19 + 0.8 * 0.6**number for number in range(61)} | {24: 0.202, 25: 0.2}
    assert order.settled(tuple(chances), 24, chances.get, 0.05, 6) == (27, False)


@pytest.mark.parametrize(
    ("first", "target", "expected"),
    [(3, 0.05, (5, True)), (7, 0.05, (5, True)), (2, 0.01, (7, False)), (6, 0.01, (6, False))],
)
def test_a_search_with_few_replications_is_put_right_with_many(first, target, expected):
    """From an order that turns out too small it goes up, from one too large down; it ends where none is enough."""
    assert order.settled(tuple(CHANCES), first, CHANCES.get, target, 6) == expected


def test_it_looks_until_the_order_after_todays_can_be_there():
    """The next look after today on Wednesday, and three days on the road; no longer than the days looked at."""
    one = hospital()
    times = reviews(one)
    assert times == Reviews(None, one.now.next_review_s)
    assert order.until_s(one.resupply, times, 21) == one.now.next_review_s + 3 * DAY
    assert order.until_s(one.resupply, times, 2) == 2 * DAY


def test_an_order_that_is_tried_stands_in_place_of_the_rules():
    """It is placed at the count; the next look is that after today, once a day where it goes on all the time."""
    one = hospital(count(**TODAY))
    tried = order.ordering(one, 4, reviews(one))
    assert tried.now.on_order == (*one.now.on_order, OrderUnderWay(4, 0))
    assert tried.now.next_review_s == HOUR + 7 * DAY
    assert order.ordering(one, 0, reviews(one)).now.on_order == one.now.on_order
    always = replace(one, resupply=replace(one.resupply, review_s=None))
    assert order.ordering(always, 1, reviews(always)).resupply.review_s == DAY


def test_why_the_two_orders_differ():
    """The rule's limits, what comes anyway, and patients beyond the usual; nothing where they agree."""
    one = hospital()
    said = order.by_rule(one, one.resupply, reviews(one))
    found = order.why_apart(7, 7, said, order.Around(9, 3.0), one)
    assert found == (
        "Today is not an order day: the next is Wed 5 May.",
        "9 on oxygen are more than usual (about 3).",
        "7 is the largest order that can be placed today.",
    )
    assert order.why_apart(0, 7, said, order.Around(9, 3.0), one) == ()
    more = replace(said, order=12, why=("only 12 empties are there that no open order waits for",))
    assert order.why_apart(4, 7, more, order.Around(None, 3.0), one) == (
        "5 on order may come before they are needed.",
        "The rule fills up to 20; the least order only has to last to the one after.",
    )


def test_uneven_chances_are_seen():
    """A larger order that comes out worse is no even row."""
    assert (order.is_even(CHANCES), order.is_even({**CHANCES, 7: 0.5}), order.is_even({})) == (True, False, True)
