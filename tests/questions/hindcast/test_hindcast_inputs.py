"""The scenario's own numbers beside the records', worked by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from statistics import NormalDist

import pytest
from small_books import TEXT, books, clock, day, hospital

from o2sim.questions.hindcast.inputs import checks
from o2sim.records.rows import Cut, Place, Stay
from o2sim.records.supply_rows import JobCard, Order, Unit
from o2sim.scenario import loads

LATE = (4, 5, 8, 3, 7, 5, 6, 4)  # days; t 3.9 with 7 degrees of freedom, p 0.006


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
    """14 expected, 27 seen: 13 over the root of 14, 3.47, by luck once in 2,000: doubted; 20 expected is not."""
    halved = _found(books(), TEXT.replace("1 / day", "0.5 / day"))["patients.children.admissions"]
    assert (halved.errors_apart, halved.doubted) == (pytest.approx(13 / 14**0.5), True)
    assert halved.by_luck == pytest.approx(2 * NormalDist().cdf(-13 / 14**0.5))
    assert not _found(books(), TEXT.replace("1 / day", "0.71 / day"))["patients.children.admissions"].doubted


UNITS = """concentrators:
  {count: 2, rated_flow: 5 L/min, failure: {exponential: {mean: 1000 h}}, repair: {exponential: {mean: 4 days}}}
"""


def _of_units(cards: int, days_out: int, units: int = 2) -> dict:
    """Return what is found of units of 5,000 running hours each, with so many job cards of the first."""
    rows = tuple(
        JobCard(4, 1, clock(30 * n, 6), 400.0 * n + 400, clock(30 * n + days_out, 6)) for n in range(cards)
    )
    listed = tuple(Unit(4 + n, n + 1, day(0), 0.0, 5_000.0, True) for n in range(units))
    place = (Place(4, kept_from=day(0), kept_to=day(399)),)
    text = TEXT.replace("concentrators: {count: 1, rated_flow: 5 L/min}\n", UNITS)
    return _found(books(stays=(), units=listed, job_cards=rows, places=place), text)


def test_units_that_agree_are_not_doubted():
    """10 failures in 10,000 running hours, out for 4 days each."""
    found = _of_units(10, 4)
    assert [(each.key, each.scenario, each.recorded, each.doubted) for each in found.values()] == [
        ("concentrators.failure", 1.0, 1.0, False),
        ("concentrators.repair", 4.0, 4.0, False),
    ]


def test_units_that_a_replay_hides_are_doubted():
    """One more than the scenario has, and out three times as long."""
    found = _of_units(10, 12, units=3)
    assert [each.key for each in found.values() if each.doubted] == ["concentrators.count", "concentrators.repair"]
    assert found["concentrators.count"].recorded == 3


def test_many_numbers_share_the_chance_of_a_false_doubt():
    """A p of 1 in 200 is doubted alone, and not beside another."""
    one = books(
        stays=(), orders=tuple(Order(4, ordered=day(n), came=day(n + late)) for n, late in enumerate(LATE))
    )
    assert 0.005 < _found(one)["resupply.lead_time"].by_luck < 0.01
    assert _found(one)["resupply.lead_time"].doubted
    more = replace(one, stays=books().stays)
    assert not _found(more)["resupply.lead_time"].doubted


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


def test_lead_times_have_the_usual_clocks_of_their_own_book():
    """Ordered at midnight, came at noon: half a day more than the days between; other books have other clocks."""
    own = Place(5, sheet="Orders", usual_start=dt.time(0), usual_end=dt.time(12))
    others = Place(4, kept_from=day(0), kept_to=day(27), usual_start=dt.time(8), usual_end=dt.time(9))
    rows = tuple(Order(4, ordered=day(n), came=day(n + 3)) for n in range(5))
    found = _found(books(orders=rows, places=(others, own)))["resupply.lead_time"]
    assert found.recorded == pytest.approx(3.5)


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
