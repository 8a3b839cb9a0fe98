"""Whether a rate follows the season, the week or the hour, and how large a season may have gone unseen.

The score test for a harmonic over whole years is 2 N R^2 / D ~ chi2(2), for a true amplitude A with
noncentrality N A^2 / (2 D); seven totals of weekdays N sum (p - 1/7)^2 x 7 / D ~ chi2(6). Batschelet, Circular
Statistics in Biology, 1981 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import chdtri, chndtr, ndtri

from o2sim.statistics.fitting.counts import Rates, ScoreTest, constant, fit_rates, harmonic, levels, score_test
from o2sim.statistics.fitting.luck import uniforms

Values = npt.NDArray[np.float64]
LEVEL = 0.05  # of the tests that decide what is kept
_MOST_NONCENTRAL = 1e5


@dataclass(frozen=True)
class Seasonal:
    """What the dates say of a season: the test, whether it is kept, and highest over lowest rate with its range.

    peak_day: days after 1 January. low, high: a 90 % range; low is 1 where no season at all is possible.
    """

    test: ScoreTest
    is_kept: bool
    ratio: float
    low: float
    high: float
    peak_day: float
    rates: Rates
    turn_days: float = 365.25


def season(
    counts: npt.ArrayLike,
    days: npt.ArrayLike,
    others: npt.ArrayLike | None = None,
    exposure: npt.ArrayLike = 1.0,
    turn_days: float = 365.25,
) -> Seasonal:
    """Return the season of counts by days since a 1 January, shape (n,) each; others: weekday or year, shape (n,
    k).

    A season has the rate m (1 + A cos(...)), ratio (1 + A) / (1 - A). A is fitted on the logarithm, where the
    highest over the lowest is exp(2 x amplitude). The range of the ratio is that of all noncentralities that the
    statistic leaves possible at 5 % on either side. Raises ValueError as fit_rates does.
    """
    y = np.asarray(counts, np.float64)
    base = constant(len(y)) if others is None else np.hstack([constant(len(y)), np.asarray(others, np.float64)])
    wave = harmonic(days, turn_days)
    test = score_test(y, base, wave, exposure)
    rates = fit_rates(y, np.hstack([base, wave]), exposure)
    cosine, sine = rates.coefficients[-2:].tolist()
    amplitude = float(np.hypot(cosine, sine))
    wald, per_amplitude = _along_the_wave(rates)
    low, high = (float(np.sqrt(noncentral(wald, 2, share))) * per_amplitude for share in (0.95, 0.05))
    peak = float(np.arctan2(sine, cosine)) % (2 * np.pi) * turn_days / (2 * np.pi)
    ratio, least, most = np.exp(2 * np.array([amplitude, low, high])).tolist()
    return Seasonal(test, test.chance < LEVEL, ratio, least, most, peak, rates, turn_days)


def season_draws(found: Seasonal, draws: int, seed: int, item: str) -> tuple[Values, Values]:
    """Return ratios and peak days that the dates leave possible, shape (draws,) each; item keeps classes apart.

    Ratios by the noncentralities of `season`, so that their 5 and 95 % points are its range, 1 where no season is
    possible; peaks by the normal law of both coefficients.
    """
    luck = uniforms(seed, "season", item, (3, draws))
    wald, per_amplitude = _along_the_wave(found.rates)
    noncentralities = np.array([noncentral(wald, 2, 1 - share) for share in luck[0]])
    width = np.linalg.cholesky(found.rates.covariance[-2:, -2:])
    cosine, sine = found.rates.coefficients[-2:, None] + width @ ndtri(luck[1:])
    turn_days = found.turn_days
    peaks = np.arctan2(sine, cosine) % (2 * np.pi) * turn_days / (2 * np.pi)
    return np.exp(2 * np.sqrt(noncentralities) * per_amplitude), np.asarray(peaks, np.float64)


def _along_the_wave(rates: Rates) -> tuple[float, float]:
    """Return Wald's statistic of a wave, its last two coefficients, and the standard error along it."""
    wave = rates.coefficients[-2:]
    wald = float(wave @ np.linalg.solve(rates.covariance[-2:, -2:], wave))
    return wald, float(np.hypot(*wave) / np.sqrt(max(wald, 1e-12)))


def weekday_test(counts: npt.ArrayLike, weekdays: npt.ArrayLike, exposure: npt.ArrayLike = 1.0) -> ScoreTest:
    """Return whether counts, shape (n,), differ by day of the week (0-6), shape (n,). Raises as fit_rates does."""
    y = np.asarray(counts, np.float64)
    return score_test(y, constant(len(y)), levels(weekdays), exposure)


def noncentral(statistic: float, freedom: int, share: float) -> float:
    """Return the noncentrality with which a statistic as small or smaller has this chance; 0 where none has."""
    if chndtr(statistic, freedom, 0.0) <= share:
        return 0.0
    return float(brentq(lambda lam: chndtr(statistic, freedom, lam) - share, 0.0, statistic * 4 + 100))


def power(noncentrality: float, freedom: int, level: float = LEVEL) -> float:
    """Return the chance that a test at a level finds what has this noncentrality."""
    return 1 - float(chndtr(chdtri(freedom, level), freedom, noncentrality))


def season_noncentrality(n: float, ratio: float, dispersion: float = 1.0) -> float:
    """Return N A^2 / (2 D) for n events in whole years whose highest over lowest rate is `ratio`."""
    amplitude = (ratio - 1) / (ratio + 1)
    return n * amplitude**2 / (2 * dispersion)


def weekday_noncentrality(n: float, shares: npt.ArrayLike, dispersion: float = 1.0) -> float:
    """Return N sum (p - 1/k)^2 x k / D for n events that fall on k days by these shares, shape (k,)."""
    p = np.asarray(shares, np.float64) / np.sum(shares)
    return float(n * np.sum((p - 1 / len(p)) ** 2) * len(p) / dispersion)


def events_needed(ratio: float, dispersion: float = 1.0, chance: float = 0.8) -> float:
    """Return how many events a book needs so that a season of this ratio is found with this chance."""
    wanted = brentq(lambda lam: power(lam, 2) - chance, 0.0, _MOST_NONCENTRAL)
    return float(wanted / season_noncentrality(1, ratio, dispersion))


@dataclass(frozen=True)
class Circle:
    """Times on a circle: length of their mean (0 even, 1 all at once), where it points (hours), and Rayleigh's
    chance."""

    length: float
    hour: float
    chance: float


def hours_of_day(hours: npt.ArrayLike) -> Circle:
    """Return whether starts, hours of the day, shape (n,), gather at one time of day.

    Rayleigh's test, chance exp(-n R^2): a little too large for few starts (true 5 % point of R 0.385 for 20, taken
    0.387). Source: Batschelet 1981 (from memory). Raises ValueError for none.
    """
    at = np.asarray(hours, np.float64)
    if not at.size:
        raise ValueError("hours: none are given; at least one start is needed")
    mean = np.exp(2j * np.pi * at / 24).mean()
    length = float(abs(mean))
    return Circle(
        length, float(np.angle(mean)) % (2 * np.pi) * 24 / (2 * np.pi), float(np.exp(-len(at) * length**2))
    )


def rayleigh_point(n: int, level: float = LEVEL) -> float:
    """Return the length of the mean of n even times that is exceeded with a chance of `level`: sqrt(-ln level /
    n)."""
    return float(np.sqrt(-np.log(level) / n))
