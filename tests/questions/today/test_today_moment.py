"""The times of a run from a count: midnights, reviews, morning and evening, today's date."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from today_ward import DAY, HOUR, MONDAY, TEXT, count, hospital

from o2sim.errors import O2simError
from o2sim.questions.today import moment
from o2sim.questions.today.moment import Reviews
from o2sim.scenario import loads


def at(hour: int, minute: int = 0, **changes):
    """Return the ward as counted at a time of that Monday."""
    return hospital(count(counted=MONDAY.replace(hour=hour, minute=minute), **changes))


def test_the_midnights_after_the_count():
    """The first comes after 16.5 h, and the run's own midnight lies 7.5 h before it."""
    one = hospital()
    assert moment.midnights_s(one.now, 2).tolist() == [59_400, 145_800]
    assert (one.warm_up_s, one.start) == (-27_000, dt.date(2027, 5, 3))


@pytest.mark.parametrize(("hour", "morning_h", "evening_h"), [(7, 24, 12), (20, 11, 0), (3, 4, 0), (12, 19, 7)])
def test_morning_and_evening(hour, morning_h, evening_h):
    """The next 07:00, a day later where it is that now; 19:00, or now where it is night."""
    one = at(hour)
    assert (moment.morning_s(one) / HOUR, moment.evening_s(one) / HOUR) == (morning_h, evening_h)


@pytest.mark.parametrize(
    ("next_s", "period_s", "expected"),
    [
        (HOUR, 7 * DAY, Reviews(HOUR, HOUR + 7 * DAY)),
        (0, 7 * DAY, Reviews(0, 7 * DAY)),
        (59_400, 7 * DAY, Reviews(None, 59_400)),  # midnight is tomorrow
        (HOUR, 4 * HOUR, Reviews(HOUR, 61_200)),  # several a day are one
        (None, 7 * DAY, Reviews(None, 7 * DAY - 27_000)),  # from the midnight of the count
        (None, None, Reviews(0, DAY)),  # continuous
    ],
)
def test_which_review_is_todays(next_s, period_s, expected):
    """It falls before the midnight that ends the day of the count; the first after it is the next."""
    one = hospital(count(next_review_s=next_s))
    assert moment.reviews(replace(one, resupply=replace(one.resupply, review_s=period_s))) == expected


def test_without_resupply_nobody_looks():
    """There are no reviews."""
    assert moment.reviews(replace(hospital(), resupply=None)) is None


@pytest.mark.parametrize(
    ("asked", "today", "expected"),
    [
        (None, "2027-05-10", "2027-05-10"),
        (None, "2027-07-02", "2027-07-02"),
        (None, "2027-07-03", "2027-05-03"),
        (None, "2027-05-02", "2027-05-03"),
        (" 2027-05-04 ", "2020-01-01", "2027-05-04"),
    ],
)
def test_which_day_is_meant(asked, today, expected):
    """As asked for, else the computer's date 0 to 60 days after the count, else that of the count."""
    assert moment.day_meant(count(), asked, dt.date.fromisoformat(today)).isoformat() == expected


@pytest.mark.parametrize(("asked", "words"), [("soon", "allowed: a date, such as 2027-05-04"),
                                              ("2027-05-02", "before the count of 2027-05-03"),
                                              ("2027-13-01", "found '2027-13-01'")])  # fmt: skip
def test_what_is_no_day(asked, words):
    """Neither a word nor a day before the count nor one of no calendar."""
    with pytest.raises(O2simError, match=words):
        moment.day_meant(count(), asked, dt.date(2027, 5, 3))


def test_nothing_counted():
    """A scenario without a count says how to give one."""
    one = next(iter(loads(TEXT).hospitals.values()))
    with pytest.raises(O2simError, match="give --count, --records or a section now"):
        moment.now_of(one)


def test_days_counted_at_midnight_hold_the_midnight_that_ends_the_last():
    """Of a count at 00:00 the last midnight would lie just beyond the days; at 07:30 it lies within."""
    assert [moment.horizon_s(at(hour), 1) for hour in (0, 7)] == [DAY + 1, DAY]
