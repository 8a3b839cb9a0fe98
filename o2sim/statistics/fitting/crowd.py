"""How many are there at once: stays from month totals (Little's law) or from counts at midnight, and their chance.

With arrivals at an even pace the number at once has lag correlation U(t) / E[L] and mean rate x E[L], whatever
the law of stays (Eick, Massey and Whitt, Management Science 1993;39:241-52; Little, Operations Research
1961;9:383-7; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from scipy.special import pdtr, pdtrik  # scipy.stats takes 30 MB and a quarter of a second

from o2sim.scenario.types.laws import Law, scaled
from o2sim.statistics.fitting.laws import beyond, moment, quantile, still_on_in_a_crowd
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.maximum import law_of

Values = npt.NDArray[np.float64]
LEAST_COUNTS = 28  # nights in a row or not
_WIDTHS = {"lognormal": 0.8, "gamma": 1.0, "weibull": 1.0, "exponential": 1.0}  # sigma; sd / mean; 1 / shape


def little(
    days: npt.ArrayLike,
    begun: npt.ArrayLike,
    there_first: float = np.nan,
    there_last: float = np.nan,
    both_ends: bool = False,
) -> float:
    """Return the mean stay in days by patient-days and how many began, of each month, shape (n,) each.

    there_first, there_last: how many were there as the first month began and the last ended; with them the count
    is the mean of those who began and those who ended. both_ends: days were counted with both end days, one too
    many for each stay. Raises ValueError where nobody began, or stays would be 0 or less.
    """
    total, count = float(np.sum(days)), float(np.sum(begun))
    edge = 0.0 if math.isnan(there_first) or math.isnan(there_last) else (there_first - there_last) / 2
    stays = count + edge
    if not stays > 0 or not total / stays - both_ends > 0:
        raise ValueError(f"totals: {total:g} patient-days of {count:g} stays give no stay; check both columns")
    return total / stays - both_ends


def mean_flow(litres: float, patient_hours: float) -> float:
    """Return the mean flow in L/min by litres used over hours on oxygen. Raises ValueError for no hours."""
    if not patient_hours > 0:
        raise ValueError("totals: no hours on oxygen")
    return litres / (patient_hours * 60)


def time_sd(mean_number: float, law: Law, span: float) -> float:
    """Return the standard deviation of the time spent by all within a span, unit of the law: those at once go on.

    sqrt(2 m integral of (span - t) U(t) / E[L] dt), m at once on average. Taking each hour for itself gives
    sqrt(m span).
    """
    area = quad(lambda t: (span - t) * float(still_on_in_a_crowd(law, t)), 0, span, limit=200)[0]
    return math.sqrt(2 * mean_number * float(area))


@dataclass(frozen=True)
class CountsFit:
    """Stays (days) by counts at midnight: the law, arrivals a day, mean and variance / mean of counts,
    correlations.

    lags: 1, 2, ... nights, shape (k,); seen: their correlations; fitted: what the law gives in a book as long.
    """

    law: Law
    rate_per_day: float
    mean: float
    dispersion: float
    lags: Values
    seen: Values
    fitted: Values


def stays_from_counts(counts: npt.ArrayLike, kind: str = "exponential", width: float | None = None) -> CountsFit:
    """Return the law of stays whose lag correlation comes nearest, by counts of nights in order, nan where none.

    width: sigma of a lognormal, sd / mean of a gamma, 1 / shape of a Weibull law, from another source: counts
    say how long stays are, hardly how wide their law is. A season in the counts looks like longer stays: give
    residuals around it plus the mean. Raises ValueError for fewer than 28 nights, or counts that never differ.
    """
    y = np.asarray(counts, np.float64)
    if np.sum(~np.isnan(y)) < LEAST_COUNTS or np.nanvar(y) == 0:
        raise ValueError(
            f"counts: {np.sum(~np.isnan(y))} nights; at least {LEAST_COUNTS}, not all alike, are needed"
        )
    most = min(len(y) // 4, 60)
    seen = _correlations(y, most)
    below = np.flatnonzero(seen[1:] < 0.05)
    lags = np.arange(1, max(int(below[0]) + 1 if below.size else most, 3) + 1)
    wide = _WIDTHS[kind] if width is None else width

    def candidate(place: float) -> Law:
        return law_of(kind, np.array([place, math.log(wide)]))

    def loss(place: float) -> float:
        return float(np.sum((_expected(candidate(place), len(y), lags) - seen[lags]) ** 2))

    grid = np.linspace(math.log(0.05), math.log(len(y) / 2), 40)
    best = int(np.argmin([loss(place) for place in grid]))
    ends = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    law = candidate(float(minimize_scalar(loss, bounds=ends, method="bounded").x))
    mean = float(np.nanmean(y))
    return CountsFit(
        law, mean / moment(law), mean, float(np.nanvar(y, ddof=1)) / mean, lags.astype(np.float64), seen[lags],
        _expected(law, len(y), lags),
    )  # fmt: skip


def counts_draws(
    fit: CountsFit, nights: int, draws: int, seed: int, width: float | None = None
) -> tuple[Law, ...]:
    """Return laws of stays that the counts leave possible: fits to drawn books, turned to the other side of the
    fit."""
    found = []
    for nth in range(draws):
        book = drawn_counts(fit.law, fit.rate_per_day, nights, seed, nth)
        try:
            again = stays_from_counts(book, fit.law.kind, width)
        except ValueError:
            continue
        found.append(scaled(fit.law, moment(fit.law) / moment(again.law)))
    return tuple(found)


def drawn_counts(law: Law, rate_per_day: float, nights: int, seed: int, book: int = 0) -> Values:
    """Return counts at midnight, shape (nights,), of arrivals at an even pace with stays by the law (days)."""
    mean = rate_per_day * moment(law)
    there = _poisson(mean, uniforms(seed, "there at first", book, 1))[0]
    left = _in_a_crowd(law, uniforms(seed, "stays of those there", book, there))
    coming = _poisson(rate_per_day * nights, uniforms(seed, "who come", book, 1))[0]
    luck = uniforms(seed, "stays of those who come", book, (2, coming))
    begins = np.concatenate([np.zeros(there), luck[0] * nights])
    ends = begins + np.concatenate([left, quantile(law, luck[1])])
    midnights = np.arange(nights) + 1.0
    begun = np.searchsorted(np.sort(begins), midnights, side="right")
    return (begun - np.searchsorted(np.sort(ends), midnights, side="right")).astype(np.float64)


def _correlations(y: Values, most: int) -> Values:
    """Return the correlations of lags 0 to `most`, over pairs of nights that are both there."""
    centred = y - np.nanmean(y)
    covariances = [np.nanmean(centred[lag:] * centred[: len(y) - lag]) for lag in range(most + 1)]
    return np.asarray(covariances / covariances[0], np.float64)


def _expected(law: Law, n: int, lags: npt.NDArray[np.int64]) -> Values:
    """Return the correlations that a book of n nights shows on average: its own mean takes away some of each."""
    whole = still_on_in_a_crowd(law, np.arange(n, dtype=np.float64))
    of_mean = (1 + 2 * float(np.sum((1 - np.arange(1, n) / n) * whole[1:]))) / n
    return np.asarray((whole[lags] - of_mean) / max(1 - of_mean, 1e-9), np.float64)


def _poisson(mean: float, u: Values) -> list[int]:
    """Return Poisson counts by inversion: the least k with a chance of at most k that is u or more."""
    above = np.ceil(pdtrik(u, mean))
    below = np.maximum(above - 1, 0)
    return [int(k) for k in np.where(pdtr(below, mean) >= u, below, above)]


def _in_a_crowd(law: Law, u: Values) -> Values:
    """Return times to come of those met at a random moment, by inversion of U(t) / E[L] on a fine grid."""
    grid = np.concatenate([[0.0], np.geomspace(1e-4, 1e3, 2_000) * moment(law)])
    chances = beyond(law, grid) / moment(law)
    return np.asarray(np.interp(u, chances[::-1], grid[::-1]), np.float64)
