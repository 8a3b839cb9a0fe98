"""The stock card walked from count to count, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from small_books import books, day, hospital, use, weekly

from o2sim.questions.hindcast.card import MORE_THAN_CAME, NOT_COVERED, Between, read_card, walk
from o2sim.questions.hindcast.laid import bare_days, of_card, walked
from o2sim.questions.hindcast.replay import replay
from o2sim.records.rows import MonthTotal, Place
from o2sim.records.supply_rows import Order, Stock


def _between(full: int, came: list[int], seen: int = 0, open_before: int | None = None) -> Between:
    arrived = np.array(came)
    return Between(0, len(came), full, seen, open_before, arrived, full + sum(came) - seen, None, "")


def test_use_day_by_day_with_a_delivery():
    """5 full, 2 used each day, 4 come on the third day: 3, 1, 3, 1 are left, and the shelf is never bare."""
    found = walk(_between(5, [0, 0, 4, 0]), use(2, 2, 2, 2))
    assert (found.used.tolist(), found.full.tolist(), found.bare_on.tolist()) == ([8], [1], [[False] * 4])


def test_a_bare_shelf_cuts_the_use_off():
    """3 full, 2 wanted each day: 2 and 1 are used, none on the third day, 2 of the 4 that come on the fourth."""
    found = walk(_between(3, [0, 0, 0, 4]), use(2, 2, 2, 2))
    assert (found.used.tolist(), found.full.tolist()) == ([5], [2])
    assert found.bare_on.tolist() == [[False, True, True, False]]
    assert found.short_on.tolist() == [[False, True, True, False]]


def test_who_went_without_wants_a_cylinder_as_one_comes():
    """Two are wanted of none; each patient opens half a cylinder a day: one less is wanted next day."""
    daily = use(2, 1, 0)
    daily.on_cylinders[:] = 2
    found = walk(_between(0, [0, 4, 0]), daily)
    assert (found.used.tolist(), found.full.tolist()) == ([2], [2])
    assert found.short_on.tolist() == [[True, False, False]]


def test_who_has_left_wants_none():
    """The two who went without have gone by midnight."""
    assert walk(_between(0, [0, 4, 0]), use(2, 1, 0)).used.tolist() == [1]


def test_who_waits_at_a_count_wants_a_cylinder():
    """The shelf was bare at the count of the second day, with one patient on a cylinder of three."""
    daily = use(0, 0, 0)
    daily.on_cylinders[:] = 3
    between = Between(1, 3, 0, 2, None, np.array([4, 0]), 2, None, "", on_patients=1)
    assert walk(between, daily).used.tolist() == [2]


def test_emptied_are_no_more_than_were_begun():
    """With 1 begun and 3 full at most 4 can be emptied; without that count of begun ones nothing is known."""
    assert walk(_between(3, [0, 0], open_before=1), use(3, 3)).emptied.tolist() == [4]
    assert walk(_between(3, [0, 0]), use(3, 3)).emptied.tolist() == [6]


def test_a_count_at_a_bare_shelf_has_the_rank_of_all_that_want_more():
    """On hand were 3, and all were used: forecasts of 3, 5 and 9 are all 3, so that its rank may be any."""
    records = books(stock=weekly(9, 9, 3, 0, 0))
    replayed = replay(hospital(), records)
    daily = use(*[0] * 28, replications=3)
    daily.opened[:, 14] = 3, 5, 9
    (series, *_) = of_card(walked(read_card(records, replayed), daily))
    assert series.seen.tolist() == [6, 3, 0]
    assert series.forecast[1].tolist() == [3, 3, 3]


def test_use_is_what_was_there_and_came_less_what_is_left():
    """10 full, 6 came, 9 left: 7 used."""
    rows = (Stock(4, day(7), 10), Stock(5, day(14), 9, received=6), Stock(6, day(21), 9))
    found = read_card(books(stock=rows), replay(hospital(), books(stock=rows))).between
    assert [each.used for each in found] == [7, 0]
    assert found[0].came.tolist() == [0, 0, 0, 6, 0, 0, 0]


def test_deliveries_come_on_the_days_of_the_orders():
    """Where the orders of the days between add up to what the card received."""
    rows = (Stock(4, day(7), 10), Stock(5, day(14), 9, received=6))
    order = Order(4, ordered=day(7), came=day(9), cylinders_came=6)
    records = books(stock=rows, orders=(order,))
    assert read_card(records, replay(hospital(), records)).between[0].came.tolist() == [0, 0, 6, 0, 0, 0, 0]
    assert read_card(records, replay(hospital(), records)).cautions == ()


def test_a_delivery_on_the_day_of_the_count_may_be_in_its_line():
    """It then came before the count, on the last day between."""
    rows = (Stock(4, day(7), 10), Stock(5, day(14), 15, received=6))
    records = books(stock=rows, orders=(Order(4, ordered=day(7), came=day(14), cylinders_came=6),))
    assert read_card(records, replay(hospital(), records)).between[0].came.tolist() == [0, 0, 0, 0, 0, 0, 6]


def test_a_receipt_without_a_day_is_half_way_and_said():
    """The card alone says how many came."""
    rows = (Stock(4, day(7), 10), Stock(5, day(14), 9, received=6))
    records = books(stock=rows)
    assert read_card(records, replay(hospital(), records)).cautions == (
        "Once no book says on which day cylinders came: taken as half-way between the counts.",
    )


def test_more_on_the_shelf_than_was_there_is_left_out():
    """Nothing came, and yet there are more."""
    records = books(stock=weekly(5, 5, 8, 8))
    found = read_card(records, replay(hospital(), records)).between
    assert [each.left_out for each in found] == [NOT_COVERED, MORE_THAN_CAME, ""]


@pytest.mark.parametrize("sheet", ["Patients on oxygen", "Stock card", "Power cuts"])
def test_missing_pages_leave_counts_out(sheet):
    """Of any book that the forecast or the card needs; after those of the patients a week more."""
    from small_books import CUT

    gap = Place(5, sheet=sheet, missing_from=day(15), missing_to=day(16))
    records = books(stock=weekly(5, 5, 5, 5), cuts=(CUT,))
    records = books(stock=records.stock, cuts=records.cuts, places=(*records.places, gap))
    found = [each.left_out for each in read_card(records, replay(hospital(), records)).between]
    assert found == [NOT_COVERED, "", NOT_COVERED]


def test_a_line_without_a_count_joins_its_neighbours():
    """Of three lines the middle one has no count: one use over two weeks, all that was received in it."""
    rows = (Stock(4, day(7), 10), Stock(5, day(14), None, received=2), Stock(6, day(21), 4, received=1))
    (found,) = read_card(books(stock=rows), replay(hospital(), books(stock=rows))).between
    assert (found.days, found.used, int(found.came.sum())) == (14, 9, 3)


def test_bare_days_of_a_month_are_those_of_the_walk():
    """April has 30 days, on each of which a shelf of none is bare; 28 are written."""
    start = (day(31) - day(0)).days  # 1 April
    rows = (Stock(4, day(start), 0), Stock(5, day(start + 30), 0))
    place = Place(4, kept_from=day(0), kept_to=day(start + 29))
    months = (MonthTotal(4, month=day(start), days_shelf_bare=28),)
    records = books(stock=rows, months=months, places=(place,))
    replayed = replay(hospital(), records)
    (found,) = bare_days(records, replayed, walked(read_card(records, replayed), use(*[1] * replayed.days)))
    assert (found.days, found.recorded, found.forecast.mean) == (30, 28, 30)
