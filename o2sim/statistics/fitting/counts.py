"""Rates from counts: a log-linear model whose variance is more than Poisson's, and tests of what moves it.

Quasi-Poisson: variance = D x mean. NB2: variance = mean + alpha x mean^2, a rate that itself differs from one
interval to the next. Both by iteratively reweighted least squares, D and alpha by Pearson's statistic over what
is left of the degrees of freedom (McCullagh and Nelder, Generalized Linear Models, 1989; Breslow, Applied
Statistics 1984;33:38-44; both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import chdtrc, gammaincinv, gammaln

from o2sim.statistics.fitting.luck import uniforms

Values = npt.NDArray[np.float64]
_ROUNDS = 100
_SETTLED = 1e-10
_WIDEST_ALPHA = 1e6


@dataclass(frozen=True)
class Rates:
    """A log-linear model of counts: rate of row i is exp(design[i] @ coefficients) per unit of exposure.

    fitted: expected counts, shape (n,); covariance: of the coefficients, shape (k, k), the extra spread in it.
    dispersion: Pearson's statistic over its degrees of freedom, of quasi-Poisson; alpha: of NB2, else 0.
    """

    coefficients: Values
    covariance: Values
    fitted: Values
    dispersion: float
    alpha: float


def fit_rates(
    counts: npt.ArrayLike, design: npt.ArrayLike, exposure: npt.ArrayLike = 1.0, negative_binomial: bool = False
) -> Rates:
    """Return the model of counts, shape (n,), by a design, shape (n, k), over exposures (> 0), shape (n,).

    negative_binomial: NB2 with alpha by moments, else quasi-Poisson. Dispersion is never below 1 in the
    covariance. Raises ValueError for counts below 0, all 0, exposures of 0, and no more rows than columns.
    """
    y, x, time = _checked(counts, design, exposure)
    freedom = len(y) - x.shape[1]
    beta = _weighted(y, x, time, 0.0)
    mean = time * np.exp(x @ beta)
    alpha = 0.0
    if negative_binomial:
        for _ in range(_ROUNDS):
            before, alpha = alpha, _alpha(y, mean, freedom)
            beta = _weighted(y, x, time, alpha)
            mean = time * np.exp(x @ beta)
            if abs(alpha - before) < _SETTLED * (1 + alpha):
                break
    spread = float(np.sum((y - mean) ** 2 / (mean + alpha * mean**2)) / freedom)
    information = x.T @ (x * (mean / (1 + alpha * mean))[:, None])
    extra = 1.0 if negative_binomial else max(spread, 1.0)
    return Rates(beta, np.asarray(np.linalg.inv(information) * extra, np.float64), mean, spread, alpha)


def constant(n: int) -> Values:
    """Return the design of one rate for all, shape (n, 1)."""
    return np.ones((n, 1))


def harmonic(days: npt.ArrayLike, turn_days: float = 365.25) -> Values:
    """Return cosine and sine of the time of the year of days since 1 January, shape (n, 2)."""
    angle = 2 * np.pi * np.asarray(days, np.float64) / turn_days
    return np.column_stack([np.cos(angle), np.sin(angle)])


def levels(which: npt.ArrayLike) -> Values:
    """Return what sets each weekday, year or class apart from the first that is there, shape (n, kinds - 1)."""
    kinds, place = np.unique(np.asarray(which), return_inverse=True)
    return np.eye(len(kinds))[place][:, 1:]


@dataclass(frozen=True)
class ScoreTest:
    """A score test: its statistic, degrees of freedom and the chance of one as large where nothing moves the
    rate."""

    statistic: float
    freedom: int
    chance: float


def score_test(
    counts: npt.ArrayLike, base: npt.ArrayLike, extra: npt.ArrayLike, exposure: npt.ArrayLike = 1.0
) -> ScoreTest:
    """Return whether columns `extra`, shape (n, m), move the rate beyond those of `base`, shape (n, k).

    The score over its variance, divided by D of the full model. Over whole years that are covered evenly a
    harmonic gives 2 N R^2 / D, R the length of the mean of the dates on a circle. Source: Rao 1948 (from
    memory). Raises ValueError as fit_rates does.
    """
    y, x, time = _checked(counts, base, exposure)
    more = np.asarray(extra, np.float64).reshape(len(y), -1)
    plain = fit_rates(y, x, time)
    full = fit_rates(y, np.hstack([x, more]), time)
    weighted = more * plain.fitted[:, None]
    crossed = x.T @ weighted
    inner = np.linalg.solve(x.T @ (x * plain.fitted[:, None]), crossed)
    information = more.T @ weighted - crossed.T @ inner
    score = more.T @ (y - plain.fitted)
    statistic = float(score @ np.linalg.solve(information, score)) / max(full.dispersion, 1.0)
    return ScoreTest(statistic, more.shape[1], float(chdtrc(more.shape[1], statistic)))


@dataclass(frozen=True)
class NegativeBinomial:
    """The largest likelihood of NB2 with one mean: its mean, alpha and logarithm of the likelihood."""

    mean: float
    alpha: float
    log_likelihood: float


def negative_binomial(counts: npt.ArrayLike) -> NegativeBinomial:
    """Return mean and alpha (variance = mean + alpha mean^2) of counts, shape (n,), by maximum likelihood.

    alpha is 0 where the counts differ no more than Poisson's. Raises ValueError for counts below 0 or all 0.
    """
    y, _, _ = _checked(counts, np.ones((np.size(counts), 1)), 1.0, spare=0)
    mean = float(y.mean())

    def log_likelihood(alpha: float) -> float:
        shape = 1 / alpha
        terms = gammaln(y + shape) - gammaln(shape) - gammaln(y + 1)
        return float(np.sum(terms - (y + shape) * np.log1p(alpha * mean) + y * np.log(alpha * mean)))

    def slope(log_alpha: float) -> float:
        h = 1e-4
        return log_likelihood(float(np.exp(log_alpha + h))) - log_likelihood(float(np.exp(log_alpha - h)))

    if float(np.sum((y - mean) ** 2 - y)) <= 0:  # the score for alpha at 0
        return NegativeBinomial(mean, 0.0, float(np.sum(y * np.log(mean) - mean - gammaln(y + 1))))
    alpha = float(np.exp(brentq(slope, np.log(1e-5), np.log(1e4), xtol=1e-9)))
    return NegativeBinomial(mean, alpha, log_likelihood(alpha))


def rate_range(count: float, exposure: float, dispersion: float = 1.0) -> tuple[float, float, float]:
    """Return the 5, 50 and 95 % points of a rate by `count` over an exposure (> 0), in 1 / its unit.

    Jeffreys' posterior, Gamma(count + 1/2, exposure); with variance / mean D above 1 as if count / D had been
    seen in exposure / D (Jeffreys, Theory of Probability, 1961, from memory). Raises ValueError for what cannot
    be.
    """
    low, middle, high = rate_points(count, exposure, np.array([0.05, 0.5, 0.95]), dispersion).tolist()
    return low, middle, high


def rate_draws(count: float, exposure: float, draws: int, seed: int, item: str, dispersion: float = 1.0) -> Values:
    """Return rates drawn from the posterior of rate_range, shape (draws,); item keeps classes apart."""
    return rate_points(count, exposure, uniforms(seed, "rate", item, draws), dispersion)


def rate_points(count: float, exposure: float, shares: Values, dispersion: float = 1.0) -> Values:
    """Return the rates below which these shares of the posterior of rate_range lie, same shape."""
    if count < 0 or not exposure > 0 or not dispersion > 0:
        raise ValueError(
            f"rate: {count:g} in {exposure:g} at {dispersion:g}; allowed: 0 or more, the others above 0"
        )
    d = max(dispersion, 1.0)
    return np.asarray(gammaincinv((count + 0.5) / d, shares) * d / exposure, np.float64)


def thinned(dispersion: float, share: float) -> float:
    """Return variance / mean of the share of counts that is kept at random: 1 + share x (D - 1)."""
    return 1 + share * (dispersion - 1)


def before_thinning(dispersion: float, share: float) -> float:
    """Return variance / mean of all, given that of a share kept at random: the inverse of `thinned`."""
    return 1 + (dispersion - 1) / share


def of_totals(dispersion: float, mean: float, shared_cv: float = 0.0) -> float:
    """Return variance / mean of totals with this mean, where a factor of this sd / mean is shared by all their
    days.

    Days that differ on their own leave D as it is; a factor that they share adds mean x cv^2.
    """
    return dispersion + mean * shared_cv**2


def shared_cv(totals: npt.ArrayLike, dispersion: float) -> float:
    """Return sd / mean of the factor that moves whole years, by their totals, shape (n,), beyond D of the days.

    The inverse of of_totals; 0 where years differ no more than days would make them. Raises ValueError for one
    year.
    """
    y = np.asarray(totals, np.float64)
    if len(y) < 2 or y.mean() <= 0:
        raise ValueError(
            f"years: found {len(y)}; at least 2 with a count are needed, or a range from another source"
        )
    beyond = float(y.var(ddof=1)) / float(y.mean()) - dispersion
    return float(np.sqrt(max(beyond, 0.0) / y.mean()))


def daily_counts(days: npt.ArrayLike, first: int, last: int, missing: npt.ArrayLike = ()) -> tuple[Values, Values]:
    """Return the numbers of the covered days and how many came on each, shape (n,) both.

    days: number of the day of each row, shape (rows,); first, last: those from and to which the book was kept,
    empty days included (rows over the days between first and last row would make 10 in a quarter look like 12);
    missing: days of lost pages, which count as not known. Raises ValueError for a row on no covered day.
    """
    covered = np.setdiff1d(np.arange(first, last + 1), np.asarray(missing, np.int64))
    rows = np.asarray(days, np.int64)
    stray = rows[~np.isin(rows, covered)]
    if stray.size or not covered.size:
        raise ValueError(f"counts: {stray.size} rows lie on none of the {covered.size} days that the book covers")
    seen = np.bincount(np.searchsorted(covered, rows), minlength=len(covered))
    return covered.astype(np.float64), seen.astype(np.float64)


def _weighted(y: Values, x: Values, time: Values, alpha: float) -> Values:
    """Return coefficients by iteratively reweighted least squares, weights mean / (1 + alpha mean)."""
    mean = np.maximum(y, 0.1 * y.mean() + 1e-9)
    beta = np.zeros(x.shape[1])
    for _ in range(_ROUNDS):
        weight = mean / (1 + alpha * mean)
        work = np.log(mean / time) + (y - mean) / mean
        before, beta = beta, np.linalg.lstsq(x * np.sqrt(weight)[:, None], work * np.sqrt(weight), rcond=None)[0]
        mean = np.maximum(time * np.exp(np.clip(x @ beta, -50, 50)), 1e-12)
        if np.max(np.abs(beta - before)) < _SETTLED:
            break
    return np.asarray(beta, np.float64)


def _alpha(y: Values, mean: Values, freedom: int) -> float:
    """Return the alpha at which Pearson's statistic is its degrees of freedom; 0 where it is less without."""

    def too_much(alpha: float) -> float:
        return float(np.sum((y - mean) ** 2 / (mean + alpha * mean**2))) - freedom

    return 0.0 if too_much(0.0) <= 0 else float(brentq(too_much, 0.0, _WIDEST_ALPHA))


def _checked(
    counts: npt.ArrayLike, design: npt.ArrayLike, exposure: npt.ArrayLike, spare: int = 1
) -> tuple[Values, Values, Values]:
    y, x = np.asarray(counts, np.float64).ravel(), np.asarray(design, np.float64)
    time = np.broadcast_to(np.asarray(exposure, np.float64), y.shape)
    if len(y) < x.shape[1] + spare or np.any(y < 0) or not np.any(y > 0) or np.any(time <= 0):
        raise ValueError(
            f"counts: {len(y)} of them, {y.sum():g} in all; allowed: more of them than the {x.shape[1]} numbers"
            " to be found, 0 or more each, not all 0, over exposures above 0"
        )
    return y, x, np.array(time)
