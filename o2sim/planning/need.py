"""How many patients of a class are given oxygen at once on each day, surges included.

Patients on oxygen at once are M(t)/G/infinity, so their number on a day is Poisson with a mean known exactly
(Eick, Massey and Whitt 1993, from memory). Where the days' admissions are overdispersed that mean varies by
chance; its variance is kept beside it. Those found in need and those given oxygen without need are counted; those
not found are not.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from o2sim.draws.laws import quantile
from o2sim.draws.season import cumulative
from o2sim.planning.total_flow import POINTS, Array, midpoints
from o2sim.scenario.types.hospital import DAY_S, Law, PatientClass, Surge
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.stages import Stage

YEAR = 366  # days looked at for the peak: one whole turn of the season
LOOK_BACK = 1_096  # days of past admissions followed one by one; longer stays meet the yearly mean rate
SURGE_POINTS = 200  # equally likely lengths that stand for the law of a surge's length
SURGE_STEP = 1 / 24  # days; the admissions of a surge are followed hour by hour
GOLDEN = (5**0.5 - 1) / 2
REMEMBERED = 256  # stages: the strategies of a scenario mostly meet the same classes


@dataclass(frozen=True)
class OnOxygen:
    """One stage of a class: patients given oxygen at once, and in need; yearly mean, and by day at noon (366,)."""

    mean: float
    by_day: Array
    needed_mean: float
    needed_by_day: Array
    missed_mean: float  # in need, but not recognised
    spread: float  # variance of the expected number over that number, by overdispersion
    flow_ml_min: Law  # of one of those at once
    mean_flow_ml_min: float

    def at(self, day: int) -> tuple[float, float]:
        """Return (given oxygen, in need) on a day."""
        return float(self.by_day[day]), float(self.needed_by_day[day])

    def flow_by_day(self) -> Array:
        """Return the mean total flow of those given oxygen on each day, in mL/min."""
        return self.mean_flow_ml_min * self.by_day

    def flow_on(self, _day: int) -> tuple[Law, float]:
        """Return the law and the mean (mL/min) of the flow of one of those given oxygen on a day."""
        return self.flow_ml_min, self.mean_flow_ml_min


@lru_cache(REMEMBERED)
def on_oxygen(stage: Stage, first: dt.date, end: dt.date | None = None) -> OnOxygen:
    """Return the numbers of one stage of a class from `first` on; surges from `end` on do not happen.

    A register counts by its mean day here, as where its days are drawn; one that is replayed: recorded_need.py.
    What was asked before is not worked out again; nobody changes its arrays.
    """
    item = stage.patients
    whole = quantile(item.duration_s, midpoints()) / DAY_S
    stays, mean_days = _clipped(stage, whole), stage.mean_s / DAY_S
    longer_stays, longer_days = stays, mean_days
    if item.weaned_late_s is not None:
        longer_stays = _clipped(stage, whole + _late(item.weaned_late_s))
        longer_days = float((longer_stays[1] - longer_stays[0]).mean())
        if stage.from_s == 0 and stage.to_s is None:
            longer_days = mean_days + law_mean(item.weaned_late_s) / DAY_S
    need = item.admissions_per_day * item.hypoxaemic
    found = need * item.recognised
    without = item.admissions_per_day * (1 - item.hypoxaemic) * item.given_without_need
    surges = tuple(surge for surge in item.surges if end is None or surge.start < end)
    plain = _present(item, stays, mean_days, first, surges)
    longer = plain if item.weaned_late_s is None else _present(item, longer_stays, longer_days, first, surges)
    needed = found * plain
    given = found * longer + without * plain
    scale = _yearly(plain, surges, mean_days)
    both = found * longer_days + without * mean_days
    flow = stage.flow_ml_min, law_mean(stage.flow_ml_min)
    if item.recorded is not None:  # a long stay is met more often, and flow and stay came together
        rows = slice(item.recorded.present, None)
        flow = weighted(item.recorded.flow_ml_min[rows], item.recorded.need_s[rows]) or flow
    return OnOxygen(
        mean=found * _yearly(longer, surges, longer_days) + without * scale,
        by_day=given,
        needed_mean=found * scale,
        needed_by_day=needed,
        missed_mean=(need - found) * scale,
        spread=_spread(item, found + without, longer_stays, both),
        flow_ml_min=flow[0],
        mean_flow_ml_min=flow[1],
    )


def weighted(values: ArrayLike, weights: ArrayLike) -> tuple[Law, float] | None:
    """Return the law of values met as often as their weights say, by equally likely points, and its exact mean.

    None where all weights are 0.
    """
    value, weight = (np.asarray(each, dtype=np.float64) for each in (values, weights))
    whole = float(weight.sum())
    if whole <= 0:
        return None
    order = np.argsort(value, kind="stable")
    until = np.cumsum(weight[order]) / whole
    places = np.minimum(np.searchsorted(until, midpoints()), len(order) - 1)
    return Law("empirical", tuple(value[order][places].tolist())), float(value @ weight) / whole


def _clipped(stage: Stage, stays: Array) -> tuple[Array, Array]:
    """Return when in each stay (days) the stage begins and ends."""
    begun = np.minimum(stays, stage.from_s / DAY_S)
    return begun, stays if stage.to_s is None else np.minimum(stays, stage.to_s / DAY_S)


def _late(law: Law) -> Array:
    """Return late weaning in days at points of its law, out of step with those of the stays."""
    apart = np.asarray((np.arange(POINTS) * GOLDEN + 0.5) % 1, dtype=np.float64)
    return np.asarray(quantile(law, apart) / DAY_S, dtype=np.float64)


def _yearly(by_day: Array, surges: tuple[Surge, ...], mean_days: float) -> float:
    """Return the mean number over a year for a rate of one a day: exact, and by day where there are surges."""
    return float(by_day[: YEAR - 1].mean()) if surges else mean_days


def _present(
    item: PatientClass, stays: tuple[Array, Array], mean_days: float, first: dt.date, surges: tuple[Surge, ...]
) -> Array:
    """Return the mean number present at noon of each day for a yearly mean rate of one a day, shape (366,).

    stays: when in each stay the stage begins and ends, in days.
    """
    begun, ended = stays
    if float((ended - begun).mean()) == 0:
        return np.zeros(YEAR)
    excess = np.maximum(ended - LOOK_BACK, 0) - np.maximum(begun - LOOK_BACK, 0)
    since = _until(item, (begun if begun.any() else np.zeros(1)).tobytes(), first, surges)
    # Equally likely points lose a little of a long tail; the law's own mean is exact, so scale to it.
    scale = mean_days / float((ended - begun).mean())
    return np.asarray(scale * (since - _until(item, ended.tobytes(), first, surges) + excess).mean(axis=1))


@lru_cache(4)  # a stage begins where the one before it ends
def _until(item: PatientClass, ago: bytes, first: dt.date, surges: tuple[Surge, ...]) -> Array:
    """Return the admissions up to so many days (float64) before the noon of each day, shape (366, days given)."""
    day_zero = first - dt.timedelta(days=LOOK_BACK)
    noon = np.arange(LOOK_BACK, LOOK_BACK + YEAR, dtype=np.float64) + 0.5
    days = np.asarray(noon[:, None] - np.minimum(np.frombuffer(ago, dtype=np.float64), LOOK_BACK))
    plain = cumulative(days, item.season, day_zero)
    return sum((_of_surge(item, each, day_zero, days) for each in surges), plain)


def _of_surge(item: PatientClass, surge: Surge, day_zero: dt.date, days: Array) -> Array:
    """Return the extra admissions of a surge up to each of `days`, averaged over its length, for a rate of 1."""
    start = (surge.start - day_zero).days
    lengths = quantile(surge.length_s, (np.arange(SURGE_POINTS) + 0.5) / SURGE_POINTS) / DAY_S
    grid = np.arange(0.0, min(float(lengths.max()), LOOK_BACK + YEAR) + SURGE_STEP, SURGE_STEP)
    inside = np.minimum(grid[:, None], lengths)
    extra = cumulative(np.asarray(start + inside), item.season, day_zero).mean(axis=1)
    extra -= cumulative(np.array([float(start)]), item.season, day_zero)
    return np.asarray(np.interp(days - start, grid, (surge.multiplier - 1) * extra), dtype=np.float64)


def _spread(item: PatientClass, rate: float, stays: tuple[Array, Array], patients: float) -> float:
    """Return the variance that overdispersed days give the expected number at noon, over that number.

    A day's rate is multiplied by a gamma factor of variance (d - 1) / admissions, so the variance is the sum over
    past days of that times the square of those of the day still present.
    """
    if item.overdispersion == 1 or patients <= 0:
        return 0.0
    edges = np.concatenate([[0.0], np.arange(LOOK_BACK) + 0.5])
    begun, ended = stays
    within = [float((np.minimum(ended, edge) - np.minimum(begun, edge)).mean()) for edge in edges]
    until = np.array(within)  # integral of the chance to be in the stage
    still = np.diff(until)
    share = rate / item.admissions_per_day
    return (item.overdispersion - 1) * share * rate * float(still @ still) / patients
