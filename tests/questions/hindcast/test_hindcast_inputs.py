"""The scenario's own numbers beside the records', worked by hand."""

from __future__ import annotations

import datetime as dt

import pytest
from small_books import TEXT, books, clock, day, hospital

from o2sim.questions.hindcast.inputs import checks
from o2sim.records.rows import Cut, Place, Stay
from o2sim.records.supply_rows import Order
from o2sim.scenario import loads


def _found(records, text: str = TEXT) -> dict:
    return {each.key: each for each in checks(loads(text).hospitals["both"], records)}


def test_numbers_that_agree_are_not_doubted():
    """27 stays of a day at 2 L/min in 28 days, where the scenario has 1 a day."""
    found = _found(books())
    assert [each.doubted for each in found.values()] == [False] * 2
    admissions = found["patients.children.admissions"]
    assert (admissions.scenario, admissions.recorded, admissions.rows) == (1.0, pytest.approx(27 / 28), 27)
    assert admissions.errors_apart == pytest.approx(-1 / 28**0.5)


def test_admissions_far_below_the_books_are_doubted():
    """14 expected, 27 seen: 13 over the root of 14, 3.5, and just short; a quarter of them is beyond it."""
    halved = _found(books(), TEXT.replace("1 / day", "0.5 / day"))["patients.children.admissions"]
    assert (halved.errors_apart, halved.doubted) == (pytest.approx(13 / 14**0.5), False)
    assert _found(books(), TEXT.replace("1 / day", "0.25 / day"))["patients.children.admissions"].doubted


def test_missing_pages_are_not_days_without_patients():
    """A week without pages: 21 days and 20 stays."""
    gap = Place(5, sheet="Patients on oxygen", missing_from=day(7), missing_to=day(13))
    found = _found(books(places=(*books().places, gap)))["patients.children.admissions"]
    assert (found.recorded, found.rows) == (pytest.approx(20 / 21), 20)


def test_doubled_flows_are_doubted():
    """All are recorded at 2 L/min; a scenario of 4 L/min is off by no luck."""
    found = _found(books(), TEXT.replace("2 L/min", "4 L/min"))["patients.children.flow"]
    assert (found.scenario, found.recorded, found.doubted) == (4.0, 2.0, True)


def test_how_long_is_by_the_clocks_that_are_usual():
    """Begun at 15:00 and ended at 10:00 two days later: 43 hours, of stays begun long enough before the end."""
    rows = tuple(Stay(4, begun=day(n), ended=day(n + 2), class_="children") for n in range(60))
    place = Place(4, kept_from=day(0), kept_to=day(59), usual_start=dt.time(15), usual_end=dt.time(10))
    found = _found(books(stays=rows, places=(place,)))["patients.children.duration"]
    assert (found.recorded, found.scenario, found.rows) == (pytest.approx(43 / 24), 1.0, 30)


def test_lead_times_leave_out_what_a_shut_road_held_up():
    """Five of 6 days beside one of 40 that was held up."""
    rows = [Order(4, ordered=day(n), came=day(n + 6)) for n in range(5)] + [
        Order(9, day(9), 1, day(49), shut=True)
    ]
    found = _found(books(orders=tuple(rows)))["resupply.lead_time"]
    assert (found.scenario, found.recorded, found.rows, found.doubted) == (3.0, 6.0, 5, True)


def test_power_is_hours_a_day():
    """4 h in 24 by the scenario; 28 days with 4 h each."""
    rows = tuple(Cut(4, clock(n, 6), clock(n, 10)) for n in range(28))
    found = _found(books(cuts=rows))["power.grid"]
    assert (found.scenario, found.recorded, found.doubted) == (pytest.approx(4.0), 4.0, False)


def test_few_rows_say_nothing():
    """Four stays at another flow, and four cuts."""
    stays = tuple(
        Stay(4, begun=clock(n, 12), ended=clock(n, 13), class_="children", flow_ml_min=9) for n in range(4)
    )
    found = _found(books(stays=stays, cuts=tuple(Cut(4, clock(n, 6), clock(n, 10)) for n in range(4))))
    assert not found


def test_without_books_nothing_is_checked():
    """Neither patients nor orders nor cuts."""
    assert checks(hospital(), books(stays=())) == ()
