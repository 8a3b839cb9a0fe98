"""Books of patients drawn from known laws, as Records, with the usual gaps; for the tests of their fits."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import PurePath

import numpy as np

from o2sim.records.books import Records
from o2sim.records.rows import DATES_ONLY, Admissions, Midnight, MonthTotal, Place, Stay

FIRST = dt.datetime(2026, 1, 1)
DAY = dt.timedelta(days=1)
MEDIAN_H, WIDTH = 60.0, 2.2  # of the lognormal law of stays
MEAN_H = MEDIAN_H * np.exp(np.log(WIDTH) ** 2 / 2)
FLOWS, FLOW_SHARES = np.array([500, 1000, 1500, 2000, 5000]), np.array([0.2, 0.4, 0.2, 0.15, 0.05])
MEAN_FLOW = float(FLOWS @ FLOW_SHARES) / 1000


@dataclass(frozen=True)
class Truth:
    """What a book is drawn from: patients a day, season's ratio (peak 15 July), days, variance over mean."""

    rate: float = 2.0
    ratio: float = 1.0
    days: int = 365
    spread: float = 1.0
    median_h: float = MEDIAN_H


PEAK_DAY = 195.0


def drawn(truth: Truth, seed: int, name: str = "children", before_days: int = 40) -> list[Stay]:
    """Return all who came from before_days before the book until its end, with clocks; those ended before too."""
    rng = np.random.default_rng(seed)
    days, mean = day_means(truth, rng, before_days)
    counts = rng.poisson(mean)
    begun = np.repeat(days, counts) + rng.random(counts.sum())
    hours = truth.median_h * np.exp(np.log(WIDTH) * rng.standard_normal(len(begun)))
    flows = rng.choice(FLOWS, len(begun), p=FLOW_SHARES)
    stays = []
    for row, (day, span, flow) in enumerate(zip(begun, hours, flows, strict=True), 14):
        start = (FIRST + DAY * day).replace(microsecond=0)
        end = (start + dt.timedelta(hours=span)).replace(microsecond=0)
        stays.append(Stay(row, class_=name, begun=start, ended=end, flow_ml_min=int(flow)))
    return stays


def day_means(truth: Truth, rng: np.random.Generator, before_days: int) -> tuple[np.ndarray, np.ndarray]:
    """Return days from before the book on, and how many on average are put on oxygen on each."""
    days = np.arange(-before_days, truth.days)
    wave = np.cos(2 * np.pi * (days - PEAK_DAY) / 365.25)
    mean = truth.rate * (1 + (truth.ratio - 1) / (truth.ratio + 1) * wave)
    if truth.spread > 1:
        shape = mean / (truth.spread - 1)
        mean = rng.gamma(shape, mean / shape)
    return days, mean


def shown(stays: list[Stay], days: int, *, dates: bool = True, first: dt.datetime = FIRST) -> list[Stay]:
    """Return the rows that a book of so many days from its first shows: who ended before is not there."""
    end = first + DAY * days
    there = [stay for stay in stays if stay.ended >= first and stay.begun < end]
    cut = [stay if stay.ended < end else replace(stay, ended=None, still_on=True) for stay in there]
    return [by_dates(stay) for stay in cut] if dates else cut


def by_dates(stay: Stay) -> Stay:
    """Return a row with dates alone."""
    return replace(stay, begun=stay.begun.date(), ended=stay.ended and stay.ended.date())


def records(stays=(), days: int = 365, **books) -> Records:
    """Return records of rows of a book kept for so many days; other books by the name of their field."""
    place = Place(14, kept_from=FIRST.date(), kept_to=(FIRST + DAY * (days - 1)).date())
    return Records(PurePath("drawn.xlsx"), "0" * 16, stays=tuple(stays), **{"places": (place,), **books})


def dates_only(of: Records) -> Records:
    """Return records whose Place says that the register has dates only."""
    return replace(of, places=(*of.places, Place(15, sheet="Patients on oxygen", clock=DATES_ONLY)))


def months(stays: list[Stay], name: str | None = "children", days: int = 365) -> tuple[MonthTotal, ...]:
    """Return month totals of all that came and were there at midnights, by those with clocks."""
    found = []
    for first in firsts(days):
        after = (first.replace(day=28) + DAY * 4).replace(day=1)
        nights = [first + DAY * (k + 1) for k in range((after - first).days)]
        put_on = sum(first <= stay.begun < after for stay in stays)
        there = sum(stay.begun < night <= stay.ended for stay in stays for night in nights)
        found.append(MonthTotal(14, first.date(), name, put_on_oxygen=put_on, patient_days=float(there)))
    return tuple(found)


def firsts(days: int) -> list[dt.datetime]:
    """Return the first midnight of each month of a book."""
    all_ = [dt.datetime(2026 + k // 12, k % 12 + 1, 1) for k in range(36)]
    return [first for first in all_ if first < FIRST + DAY * days]


def nights(stays: list[Stay], days: int) -> tuple[Midnight, ...]:
    """Return counts at the midnights that end each day."""
    begun = np.sort([(stay.begun - FIRST) / DAY for stay in stays])
    ended = np.sort([(stay.ended - FIRST) / DAY for stay in stays])
    at = np.arange(1, days + 1)
    counts = np.searchsorted(begun, at, side="right") - np.searchsorted(ended, at, side="right")
    return tuple(Midnight(14, (FIRST + DAY * int(k)).date(), on_oxygen=int(n)) for k, n in enumerate(counts))


def admissions(
    stays: list[Stay], truth: Truth, seed: int, hypoxaemic: float, found: float, blank: float = 0.0
) -> tuple[Admissions, ...]:
    """Return all admissions of the year of `drawn` with this truth and seed, those on oxygen the share `found`.

    What makes a day uneven is the same for all who are admitted on it.
    """
    days, mean = day_means(truth, np.random.default_rng(seed), 40)
    rng = np.random.default_rng([seed, 1])
    off = rng.poisson(mean * (1 / found - 1))
    without = rng.poisson(mean / found * (1 / hypoxaemic - 1))
    rows = []
    for first in firsts(365):
        after = (first.replace(day=28) + DAY * 4).replace(day=1)
        there = (days >= (first - FIRST).days) & (days < (after - FIRST).days)
        in_need = sum(first <= stay.begun < after for stay in stays) + int(off[there].sum())
        others = int(without[there].sum())
        read = rng.binomial(in_need, 1 - blank), rng.binomial(others, 1 - blank)
        rows.append(Admissions(14, first.date(), "children", in_need + others, int(sum(read)), int(read[0])))
    return tuple(rows)
