"""The times of a run from a count: midnights, reviews, the next morning; seconds are from the count."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.errors import O2simError
from o2sim.scenario.types.hospital import DAY_S, Hospital, Scenario
from o2sim.scenario.types.now import Now, since_midnight_s

Whole = npt.NDArray[np.int64]
OLDEST_DAYS = 60  # a count may be before the computer's date, to be taken as what is meant
NOTHING_COUNTED = "nothing is counted: give --count, --records or a section now"


def now_of(hospital: Hospital) -> Now:
    """Return the count that a hospital's run begins from. Raises O2simError where there is none."""
    if hospital.now is None:
        raise O2simError(NOTHING_COUNTED)
    return hospital.now


def begun_from(scenario: Scenario, now: Now) -> Scenario:
    """Return a scenario whose runs begin from a count, under every strategy."""
    hospitals = {name: _begun(each, now) for name, each in scenario.hospitals.items()}
    return replace(scenario, hospitals=hospitals)


def _begun(hospital: Hospital, now: Now) -> Hospital:
    """Return a hospital whose runs begin from a count, without what its strategy does not have."""
    own = replace(
        now,
        cylinders=None if hospital.cylinders is None else now.cylinders,
        units=None if hospital.concentrators is None else now.units,
    )
    return replace(hospital, now=own, start=now.counted.date(), warm_up_s=-since_midnight_s(now.counted))


def at(now: Now, second: float) -> dt.datetime:
    """Return the date and time of a second from the count."""
    return now.counted.replace(microsecond=0) + dt.timedelta(seconds=round(second))


def midnights_s(now: Now, days: int) -> Whole:
    """Return the seconds of the midnights after the count, shape (days,): the first ends the day of the count."""
    return np.arange(1, days + 1, dtype=np.int64) * DAY_S - since_midnight_s(now.counted)


def horizon_s(hospital: Hospital, days: int) -> int:
    """Return the seconds of so many days, with the midnight that ends the last where the count is at midnight."""
    return days * DAY_S + (hospital.warm_up_s == 0)


def morning_s(hospital: Hospital) -> int:
    """Return the second at which the next day's staff begin."""
    since_s = since_midnight_s(now_of(hospital).counted)
    return (hospital.day_hours.from_s - since_s - 1) % DAY_S + 1


def evening_s(hospital: Hospital) -> int:
    """Return the second at which the night begins; 0 where it is night already."""
    since_s = since_midnight_s(now_of(hospital).counted)
    hours = hospital.day_hours
    return hours.to_s - since_s if hours.from_s <= since_s < hours.to_s else 0


@dataclass(frozen=True)
class Reviews:
    """When the stock is looked at: today, if it is an order day, and the first time after today."""

    today_s: int | None
    after_s: int


def reviews(hospital: Hospital) -> Reviews | None:
    """Return the reviews; None without resupply. A continuous review counts as one a day, as the count.

    That of today falls before the midnight that ends the day of the count.
    """
    if hospital.resupply is None:
        return None
    now, period_s = now_of(hospital), hospital.resupply.review_s
    if period_s is None:
        return Reviews(0, DAY_S)
    since_s = since_midnight_s(now.counted)
    next_s = -since_s % period_s if now.next_review_s is None else now.next_review_s
    if next_s >= DAY_S - since_s:
        return Reviews(None, next_s)
    today_s = next_s
    while next_s < DAY_S - since_s:  # several a day are one
        next_s += period_s
    return Reviews(today_s, next_s)


def day_meant(now: Now, asked: str | None, today: dt.date) -> dt.date:
    """Return today's date: as asked for, else the computer's where it fits the count, else that of the count.

    Raises O2simError for no date, and for one before the count.
    """
    counted = now.counted.date()
    if asked is None:
        return today if 0 <= (today - counted).days <= OLDEST_DAYS else counted
    found = read_day(asked)
    if found < counted:
        raise O2simError(f"on: found {found}, before the count of {counted}; allowed: its day or later")
    return found


def read_day(asked: str) -> dt.date:
    """Return a date as asked for. Raises O2simError for what is none."""
    try:
        return dt.date.fromisoformat(asked.strip())
    except ValueError:
        raise O2simError(f"on: found {asked!r}; allowed: a date, such as 2027-05-04") from None


def in_words(day: dt.date) -> str:
    """Return a date as people say it: "Wed 5 May"."""
    return f"{day:%a} {day.day} {day:%b}"
