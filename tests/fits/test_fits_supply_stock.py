"""The stock card: fleet, use, what is not accounted for, bare shelves, and what the register leaves open."""

import datetime as dt

import numpy as np
import pytest
from supply_books import books, day, loads, written

from o2sim.fits.supply.parts import supply_parts
from o2sim.fits.supply.stock import FLEET, loss, read_card, register_litres, stock_parts, unexplained
from o2sim.records.rows import MonthTotal, Stay
from o2sim.records.supply_rows import Stock


def said(records):
    """Return all cautions about the stock in one text."""
    return " ".join(caution for part in stock_parts(records, 1) for caution in part.cautions)


def register():
    """Return one stay of 1,180 hours at 1.55 L/min, 49 days and 4 hours from the end of the first day on."""
    begun = dt.datetime(2026, 1, 2)
    return (Stay(1, begun=begun, flow_ml_min=1_550, ended=begun + dt.timedelta(hours=1_180)),)


def test_a_card_and_a_register_that_do_not_agree():
    """14 + 22 received - 9 = 27 of 6,400 L emptied; the register has 109,740 L in 1,180 h: 36.5 % lost."""
    card = (Stock(1, day(0), 14), Stock(2, day(60), 9, received=22, emptied=21))
    records = books(stock=card, stays=register())
    found = loss(records, 6_400)
    assert read_card(records).use.emptied.tolist() == [27]
    assert (found.gone_l, found.given_l, found.share) == pytest.approx((172_800, 109_740, 0.36493), abs=1e-4)
    assert "1180 patient-hours at 1.55 L/min are 109,740 L, 4,064 L for each of 27 cylinders emptied" in said(
        records
    )
    assert "6 cylinders more gone than written as emptied in 1 lines; in 1 of them" in said(records)
    assert all("leak" not in key for part in stock_parts(records, 1) for key in part.keys)


def test_cylinders_in_use_may_explain_the_difference():
    """With 6 begun at the first count the 6 missing may have been emptied of what was in them: not unexplained."""
    card = (Stock(1, day(0), 14, 3, 3), Stock(2, day(60), 9, 0, 0, received=22, emptied=33))
    use = read_card(books(stock=card)).use
    assert (use.low.tolist(), use.emptied.tolist(), use.high.tolist()) == ([27], [27], [33])
    assert not unexplained(use).any()


def test_a_line_without_a_count_is_not_a_day_without_use():
    """A blank line is joined to the next; its receipts stay."""
    card = (Stock(1, day(0), 10), Stock(2, day(5), None, received=8), Stock(3, day(9), 6))
    use = read_card(books(stock=card)).use
    assert (use.days.tolist(), use.emptied.tolist()) == ([9], [12])


def test_cylinders_from_nowhere_are_a_forgotten_receipt():
    """5, then 12 with nothing received: 7 came that are not written; use is not made negative by them."""
    records = books(stock=(Stock(4, day(0), 5), Stock(5, day(3), 12), Stock(6, day(9), 2)))
    card = read_card(records)
    assert (card.mended, card.appeared, card.use.emptied.tolist()) == ((5,), 7, [0, 10])
    assert "1 line with more full cylinders than were there and came (7 in all)" in said(records)


def test_the_fleet_by_the_newest_complete_line():
    """Full, part-used, on patients and empty together; a newer line without one of them does not count."""
    card = (Stock(1, day(0), 14, 1, 2, 63), Stock(2, day(30), 9, 1, 2, 64), Stock(3, day(60), 9, None, 2, 60))
    (part,) = stock_parts(books(stock=card), 1)
    assert written(part, FLEET) == "76"
    assert "all cylinders together were 80 on 1 Jan 2026 and 76 on 31 Jan 2026" in said(books(stock=card))
    assert "the newest lines are not complete" in said(books(stock=card))
    assert loads(part).cylinders.fleet == 76


def test_no_complete_line_gives_no_fleet():
    """Full ones alone do not say how many there are."""
    (part,) = stock_parts(books(stock=(Stock(1, day(0), 14),)), 1)
    assert part.keys == ()
    assert "the fleet is not known" in part.cautions[0]
    assert "fewer than two counts" in part.cautions[1]


def test_bare_shelves_are_said():
    """Counts of no full cylinder, and days of month totals: use then is less than need."""
    card = (Stock(1, day(0), 0), Stock(2, day(3), 4, received=4), Stock(3, day(6), 0))
    months = (MonthTotal(1, day(0), None, days_shelf_bare=3), MonthTotal(2, day(31), None, days_shelf_bare=0))
    text = said(books(stock=card, months=months))
    assert "no full cylinder on 2 of 3 counts" in text
    assert "bare on 3 days of 2 months" in text
    assert "bare on 3 days of 2 months" in said(books(months=months))
    assert stock_parts(books(), 1) == ()


def test_litres_of_the_register():
    """Stays count within the card's days only, dates as whole days, blank flows as the mean, no open end."""
    stays = (
        Stay(1, begun=day(0), flow_ml_min=1_000, ended=day(10)),  # from the midnight after day 1: 8.5 days
        Stay(2, begun=day(3), ended=day(5)),
        Stay(3, begun=day(12), flow_ml_min=3_000, still_on=True),  # to the end of day 12: half a day
        Stay(4, begun=day(3), flow_ml_min=9_000),
    )
    hours, flow, litres, blank = register_litres(books(stays=stays), day(1), day(12))
    assert (hours, blank) == ((8.5 + 2 + 0.5) * 24, 1)
    assert flow == pytest.approx((8.5 + 0.5 * 3) / 9)
    assert litres == pytest.approx(hours * 60 * flow)
    assert np.isnan(register_litres(books(), day(1), day(9))[2])


def test_records_without_supply_give_nothing():
    """Empty books give no part."""
    assert supply_parts(books(first=None, last=None), 1) == ()
    assert loss(books(), 6_400) is None
