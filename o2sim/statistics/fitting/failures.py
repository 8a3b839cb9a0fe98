"""How often units fail: all hours that all units ran, those that never failed too, and a weak prior for few
failures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import chdtri, gammaincinv

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import cdf
from o2sim.statistics.fitting.luck import uniforms

Values = npt.NDArray[np.float64]
_SHAPES = (0.05, 1e4)


@dataclass(frozen=True)
class Prior:
    """A gamma law of the failure rate, worth `failures` in `hours`."""

    failures: float
    hours: float


@dataclass(frozen=True)
class Failures:
    """Failures over the hours that all units ran together."""

    failures: int
    hours: float


def ran(meters_then: npt.ArrayLike, meters_now: npt.ArrayLike, failures: npt.ArrayLike) -> Failures:
    """Return failures over hours from the meters of all units, shape (n,) each; 0 for a unit that never failed.

    Raises ValueError for meters that went back, and for no hours.
    """
    hours = np.asarray(meters_now, np.float64) - np.asarray(meters_then, np.float64)
    counts = np.asarray(failures, np.int64)
    if np.any(hours < 0) or not hours.sum() > 0 or np.any(counts < 0) or counts.shape != hours.shape:
        raise ValueError(
            f"units: {len(hours)} ran {hours.sum():g} hours; meters must not go back, some must have run"
        )
    return Failures(int(counts.sum()), float(hours.sum()))


def mean_time(seen: Failures) -> float:
    """Return the hours from failure to failure, by the exponential law; inf where none failed."""
    return seen.hours / seen.failures if seen.failures else float("inf")


def chi_square_range(seen: Failures, confidence: float = 0.9) -> tuple[float, float]:
    """Return the range of the mean time (hours) where the watching ended at a time; upper end inf for no failure.

    2 hours / chi2 with 2 failures + 2 degrees below, 2 failures above. Source: Nelson, Applied Life Data
    Analysis, 1982.
    """
    tail = (1 - confidence) / 2
    low = 2 * seen.hours / float(chdtri(2 * seen.failures + 2, tail))
    return low, 2 * seen.hours / float(chdtri(2 * seen.failures, 1 - tail)) if seen.failures else float("inf")


def updated(prior: Prior, seen: Failures) -> Prior:
    """Return the gamma law of the rate after what was seen: both counts and both hours added."""
    return Prior(prior.failures + seen.failures, prior.hours + seen.hours)


def mean_time_points(rate: Prior) -> tuple[float, float, float]:
    """Return the 5, 50 and 95 % points of the mean time from failure to failure, in hours."""
    points = rate.hours / gammaincinv(rate.failures, np.array([0.95, 0.5, 0.05]))
    low, middle, high = points.tolist()
    return low, middle, high


def mean_of_mean_time(rate: Prior) -> float:
    """Return the mean of the mean time, in hours: hours / (failures - 1); inf for 1 failure or less."""
    return rate.hours / (rate.failures - 1) if rate.failures > 1 else float("inf")


def mean_time_draws(rate: Prior, draws: int, seed: int, item: str) -> Values:
    """Return mean times drawn from the law of the rate, in hours, shape (draws,); item keeps kinds of units
    apart."""
    return np.asarray(rate.hours / gammaincinv(rate.failures, uniforms(seed, "failures", item, draws)), np.float64)


def prior_from_range(low_h: float, high_h: float) -> Prior:
    """Return the prior by which the mean time lies below low and above high with 5 % each, in hours.

    Raises ValueError unless 0 < low < high, not nearer than a factor of 1.04 and not farther than 10^20.
    """
    if not 0 < low_h < high_h:
        raise ValueError(f"range: {low_h:g} to {high_h:g} h; allowed: 0 < low < high")

    def ratio(log_shape: float) -> float:
        shape = np.exp(log_shape)
        wide = np.log(gammaincinv(shape, 0.95)) - np.log(gammaincinv(shape, 0.05))
        return float(wide - np.log(high_h / low_h))

    low_end, high_end = (float(np.log(shape)) for shape in _SHAPES)
    if not ratio(low_end) > 0 > ratio(high_end):
        raise ValueError(f"range: {low_h:g} to {high_h:g} h is too narrow or too wide for a prior")
    shape = float(np.exp(brentq(ratio, low_end, high_end)))
    return Prior(shape, high_h * float(gammaincinv(shape, 0.05)))


def expected_failures(law: Law, until: float, points: int = 60) -> tuple[Values, Values]:
    """Return ages from 0 to `until` and the mean number of failures of a unit by then, as new after each.

    Shapes (points + 1,), in the unit of the law. The renewal equation by sums at midpoints: Xie, Communications in
    Statistics - Simulation and Computation 1989;18:281-93 (from memory).
    """
    step = until / points
    over = cdf(law, step * np.arange(1, points + 1))
    halves = cdf(law, step * (np.arange(points + 1) + 0.5))
    mean = np.zeros(points + 1)
    for at in range(1, points + 1):
        before = float(halves[at - 1 : 0 : -1] @ np.diff(mean[:at]))
        mean[at] = (over[at - 1] + before - halves[0] * mean[at - 1]) / (1 - halves[0])
    return np.linspace(0.0, until, points + 1), mean
