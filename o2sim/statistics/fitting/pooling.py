"""Classes with few rows borrow from the others: rates by a gamma law, medians by a normal law of their
logarithms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq, minimize
from scipy.special import gammaincinv, gammaln

Values = npt.NDArray[np.float64]
POINTS = (0.05, 0.5, 0.95)
_LOG_SHAPE = (-6.0, 12.0)


@dataclass(frozen=True)
class PooledRates:
    """A gamma law of the rates of classes (shape; rate, a time) and each class's rate drawn to it.

    means: shape (k,), in 1 / the unit of the exposures; points: their 5, 50 and 95 %, shape (k, 3).
    """

    shape: float
    rate: float
    means: Values
    points: Values


def pooled_rates(counts: npt.ArrayLike, exposures: npt.ArrayLike) -> PooledRates:
    """Return rates of k classes (or units) that borrow from each other, from counts over exposures, shape (k,)
    each.

    Empirical Bayes: counts are negative binomial by maximum likelihood, and each rate is then
    Gamma(shape + count, rate + exposure). Source: Gaver and O'Muircheartaigh, Technometrics 1987;29:1-15. Raises
    ValueError for fewer than 2, counts below 0 or all 0, and exposures of 0.
    """
    x, time = np.asarray(counts, np.float64), np.asarray(exposures, np.float64)
    if len(x) < 2 or np.any(x < 0) or not x.sum() > 0 or np.any(time <= 0):
        raise ValueError(f"rates: {x.sum():g} in {len(x)} classes; at least 2, not all 0, over exposures above 0")

    def loss(free: Values) -> float:
        shape, mean = np.exp(free)
        rate = shape / mean
        terms = (
            gammaln(shape + x) - gammaln(shape) + shape * np.log(rate / (rate + time)) - x * np.log(rate + time)
        )
        return -float(np.sum(terms))

    middle = float(np.log(x.sum() / time.sum()))
    box = [_LOG_SHAPE, (middle - 10, middle + 10)]
    fits = [
        minimize(
            loss, np.array([at, middle]), method="L-BFGS-B", bounds=box, options={"ftol": 1e-14, "gtol": 1e-8}
        )
        for at in (0.0, 2.0, 5.0)
    ]
    shape, mean = np.exp(min(fits, key=lambda got: float(got.fun)).x).tolist()
    rate = shape / mean
    points = np.column_stack([gammaincinv(shape + x, share) / (rate + time) for share in POINTS])
    return PooledRates(shape, rate, (shape + x) / (rate + time), points)


@dataclass(frozen=True)
class PooledMeans:
    """Numbers of classes (say log medians) around one mean: variance between them, and each drawn to the mean.

    estimates, errors: shape (k,), after pooling; errors are standard errors, the doubt about the mean in them.
    """

    mean: float
    mean_error: float
    between: float
    estimates: Values
    errors: Values


def pooled_means(estimates: npt.ArrayLike, errors: npt.ArrayLike) -> PooledMeans:
    """Return numbers of k classes that borrow from each other, from estimates and standard errors, shape (k,)
    each.

    Normal within and between classes; the variance between by restricted maximum likelihood (Patterson and
    Thompson, Biometrika 1971;58:545-54, from memory). An infinite error marks a class without rows: it gets the
    mean, with the spread between classes as its doubt. Raises ValueError for fewer than 2 classes with rows or
    errors of 0.
    """
    y, s = np.asarray(estimates, np.float64), np.asarray(errors, np.float64)
    there = np.isfinite(s)
    if there.sum() < 2 or np.any(s <= 0):
        raise ValueError(f"classes: {there.sum()} with rows; at least 2, with standard errors above 0")
    between = _between(y[there], s[there] ** 2)
    weights = np.where(there, 1 / (s**2 + between), 0.0)
    mean = float(weights @ np.where(there, y, 0.0) / weights.sum())
    kept = np.where(there, between / (between + s**2), 0.0)  # of its own estimate
    pooled = np.where(there, kept * np.where(there, y, 0.0), 0.0) + (1 - kept) * mean
    own = np.where(there, kept * np.where(there, s, 0.0) ** 2, between)
    return PooledMeans(
        mean, float(weights.sum() ** -0.5), between, pooled, np.sqrt(own + (1 - kept) ** 2 / weights.sum())
    )


def _between(y: Values, variances: Values) -> float:
    """Return the variance between classes of the largest restricted likelihood, 0 at least."""

    def loss(tau2: float) -> float:
        w = 1 / (variances + tau2)
        mean = float(w @ y / w.sum())
        return 0.5 * float(np.sum(np.log(variances + tau2)) + np.log(w.sum()) + w @ (y - mean) ** 2)

    def slope(tau2: float) -> float:
        w = 1 / (variances + tau2)
        mean = float(w @ y / w.sum())
        return float(w.sum() - (w**2).sum() / w.sum() - (w**2) @ (y - mean) ** 2)

    most = float(np.ptp(y)) ** 2 * 10 + float(variances.max())
    grid = np.concatenate([[0.0], most * np.logspace(-8, 0, 60)])
    best = int(np.argmin([loss(v) for v in grid]))
    if best == 0 and slope(0.0) >= 0:
        return 0.0
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    return float(brentq(slope, low, high)) if slope(low) < 0 < slope(high) else float(grid[best])
