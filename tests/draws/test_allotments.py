"""When money comes and lapses: the days of the calendar, intervals, and delays of each allotment's own."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from build import DAY, HOUR, constant, hospital

from o2sim.draws import Draws
from o2sim.draws.funds import lapses
from o2sim.scenario.types.hospital import Allotment, Funds, Hospital, Law

MIDNIGHT = dt.datetime(2027, 1, 1)


def year_of(lapse: int | None = None, warm_up_s: int = 0, **rule: Any) -> Hospital:
    """Return the year 2027 with a purse."""
    funds = Funds(allotment=Allotment(100, **rule), lapses=lapse)
    return hospital(horizon_s=365 * DAY, warm_up_s=warm_up_s, funds=funds)


def dates(rules: Hospital, seconds: list[int]) -> list[str]:
    """Return seconds of a run as month-day of their midnights."""
    moments = [MIDNIGHT + dt.timedelta(seconds=each - rules.warm_up_s) for each in seconds]
    assert all(each.time() == dt.time() for each in moments)
    return [f"{each:%m-%d}" for each in moments]


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        ({"every_s": "month", "day": 31}, ["01-31", "02-28", "03-31", "04-30", "05-31", "06-30"]),
        ({"every_s": "year", "month": 7, "day": 5}, ["07-05"]),
        ({"every_s": "year"}, ["01-01"]),
        ({"every_s": 90 * DAY}, ["01-01", "04-01", "06-30", "09-28", "12-27"]),
    ],
)
def test_allotments_come_at_midnights_of_the_calendar(rule: dict[str, Any], expected: list[str]) -> None:
    """In a shorter month the last day stands for the 31st; an interval begins with the run."""
    rules = year_of(**rule)
    assert dates(rules, Draws(1, 0).allotments(rules))[: len(expected)] == expected


def test_what_is_due_in_the_warm_up_comes_there() -> None:
    """A warm-up of 40 days meets 1 December and 1 January; what was due before it is in the opening."""
    rules = year_of(warm_up_s=40 * DAY, every_s="month")
    assert dates(rules, Draws(1, 0).allotments(rules))[:3] == ["12-01", "01-01", "02-01"]
    assert len(Draws(1, 0).allotments(rules)) == 13


def test_a_delay_is_drawn_for_each_month_whenever_the_run_begins() -> None:
    """The allotment of a month is as late in a run that begins earlier; one is no later than another by rule."""
    late = Law("exponential", (50.0 * DAY,))
    one = year_of(every_s="month", delay_s=late)
    other = replace(one, warm_up_s=31 * DAY)
    delays, earlier = Draws(1, 0).allotments(one), Draws(1, 0).allotments(other)
    assert {each + 31 * DAY for each in delays} <= set(earlier)
    assert delays == sorted(delays)
    assert Draws(1, 0).allotments(year_of(every_s="month", delay_s=constant(HOUR)))[0] == HOUR


def test_money_lapses_at_the_midnight_that_ends_a_month() -> None:
    """June ends with 1 July, December with 1 January; not in the first second of a run."""
    assert dates(year_of(6), lapses(year_of(6))) == ["07-01"]
    assert lapses(year_of(12)) == []
    assert dates(year_of(12, warm_up_s=DAY), lapses(year_of(12, warm_up_s=DAY))) == ["01-01"]
