"""Estimate with a confidence interval from counts or values of independent replications.

Probabilities get Clopper-Pearson. It is the only common choice whose coverage is never below the stated level,
whatever the true probability; Wilson's is shorter and right on average, but dips below its level for rare events,
and a stock-out is meant to be rare. The price is an interval somewhat too long (98 % instead of 95 % is usual
for p near 5 % and 50 to 100 replications), on the safe side. Wilson's is kept because the interval for a
difference is built on it.

An interval that the data cannot give has nan for its bounds: one replication, or values that are all alike, show
no spread, and a width of zero would claim certainty.

rows: of joint draws that replications met in turn (clusters.py); None where each is independent of all others.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan, sqrt

import numpy as np
import numpy.typing as npt
from scipy.special import betaincinv, ndtri, stdtrit

from o2sim.statistics.clusters import is_clustered, pulls

Values = npt.NDArray[np.float64]
ROUNDING = 1e-12  # a spread below this share of the values is rounding, not chance


@dataclass(frozen=True)
class Interval:
    """An estimate, the two ends of its interval (nan where the data cannot give one) and the confidence (0-1)."""

    estimate: float
    low: float
    high: float
    confidence: float


def clopper_pearson(successes: float, n: float, confidence: float = 0.95) -> Interval:
    """Return the exact two-sided interval for a probability from successes out of n.

    Source: Clopper and Pearson, Biometrika 1934;26:404-13. Raises ValueError unless 0 <= successes <= n, n >= 1
    and 0 < confidence < 1.
    """
    _check_count(successes, n, confidence)
    tail = (1 - confidence) / 2
    low = 0.0 if successes == 0 else float(betaincinv(successes, n - successes + 1, tail))
    high = 1.0 if successes == n else float(betaincinv(successes + 1, n - successes, 1 - tail))
    return Interval(successes / n, low, high, confidence)


def one_sided_upper(successes: float, n: float, confidence: float = 0.95) -> float:
    """Return the exact one-sided upper bound for a probability; with none seen, 1 - (1 - confidence)^(1/n).

    Source: Clopper and Pearson 1934. Raises ValueError as clopper_pearson does.
    """
    _check_count(successes, n, confidence)
    return 1.0 if successes == n else float(betaincinv(successes + 1, n - successes, confidence))


def wilson(successes: float, n: float, confidence: float = 0.95) -> Interval:
    """Return the score interval for a probability from successes out of n.

    Source: Wilson, Journal of the American Statistical Association 1927;22:209-12. Raises ValueError as
    clopper_pearson does.
    """
    _check_count(successes, n, confidence)
    share = successes / n
    z2 = float(ndtri((1 + confidence) / 2)) ** 2
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = sqrt(z2 * (share * (1 - share) / n + z2 / (4 * n * n))) / (1 + z2 / n)
    low = 0.0 if successes == 0 else middle - half  # exact at the edges, where rounding would leave 1e-18
    high = 1.0 if successes == n else middle + half
    return Interval(share, low, high, confidence)


def t_interval(values: npt.ArrayLike, confidence: float = 0.95, rows: int | None = None) -> Interval:
    """Return the mean of independent values, shape (n,), with Student's interval.

    The bounds are nan for one value, and for values that are all alike. Source: Student, Biometrika 1908;6:1-25.
    Raises ValueError for no values or a confidence outside 0-1.
    """
    array = _as_values(values, confidence)
    return _around(float(array.mean()), array, float(np.abs(array).max()), confidence, rows)


def paired_t(
    values_a: npt.ArrayLike, values_b: npt.ArrayLike, confidence: float = 0.95, rows: int | None = None
) -> Interval:
    """Return the mean of b - a over pairs met under the same draws, shape (n,) each, with Student's interval.

    Raises ValueError for arrays of different lengths, and as t_interval does.
    """
    a, b = _as_values(values_a, confidence), _as_values(values_b, confidence)
    _check_pairs(a, b)
    return _around(float((b - a).mean()), b - a, _largest(a, b), confidence, rows)


def ratio_interval(
    parts: npt.ArrayLike, wholes: npt.ArrayLike, confidence: float = 0.95, rows: int | None = None
) -> Interval:
    """Return sum(parts) / sum(wholes) over replications, shape (n,) each, with its linearised t interval.

    The ratio estimator (Cochran, Sampling Techniques, 1977, section 6.4, from memory): the residuals
    part - ratio x whole have mean 0, and their standard error over the mean whole is that of the ratio. The bounds
    are nan where the residuals show no spread. Raises ValueError where the wholes sum to zero or less, for
    arrays of different lengths, and as t_interval does.
    """
    a, b = _as_values(parts, confidence), _as_values(wholes, confidence)
    ratio, residuals = _linearised(a, b)
    return _around(ratio, residuals, abs(ratio), confidence, rows)


def paired_ratio(
    parts_a: npt.ArrayLike,
    wholes_a: npt.ArrayLike,
    parts_b: npt.ArrayLike,
    wholes_b: npt.ArrayLike,
    confidence: float = 0.95,
    rows: int | None = None,
) -> Interval:
    """Return ratio b - ratio a over pairs met under the same draws; see ratio_interval for each."""
    a = _as_values(parts_a, confidence), _as_values(wholes_a, confidence)
    b = _as_values(parts_b, confidence), _as_values(wholes_b, confidence)
    _check_pairs(a[0], b[0])
    (ratio_a, residuals_a), (ratio_b, residuals_b) = _linearised(*a), _linearised(*b)
    largest = max(abs(ratio_a), abs(ratio_b))
    return _around(ratio_b - ratio_a, residuals_b - residuals_a, largest, confidence, rows)


def newcombe_paired(n11: float, n10: float, n01: float, n00: float, confidence: float = 0.95) -> Interval:
    """Return the share of the second less that of the first, from counts of pairs, with Newcombe's interval.

    n11 pairs had it both times, n10 the first time only, n01 the second time only, n00 neither. Two Wilson
    intervals squared and added, with the correlation of the pairs (its numerator corrected for continuity)
    between them. It has a width even where no pair differs. Source: method 10 of Newcombe, Statistics in
    Medicine 1998;17:2635-50. Raises ValueError for a negative count or no pairs.
    """
    if min(n11, n10, n01, n00) < 0:
        raise ValueError("a count of pairs cannot be negative")
    n = n11 + n10 + n01 + n00
    first, second = wilson(n11 + n10, n, confidence), wilson(n11 + n01, n, confidence)
    phi = _phi(n11, n10, n01, n00)
    difference = second.estimate - first.estimate
    below = _square_and_add(second.estimate - second.low, first.high - first.estimate, phi)
    above = _square_and_add(second.high - second.estimate, first.estimate - first.low, phi)
    return Interval(difference, difference - below, difference + above, confidence)


def _phi(n11: float, n10: float, n01: float, n00: float) -> float:
    """Return the correlation of the pairs, drawn towards 0 by half a pair where positive; 0 where undefined."""
    margins = (n11 + n10) * (n01 + n00) * (n11 + n01) * (n10 + n00)
    if margins == 0:
        return 0.0
    excess: float = n11 * n00 - n10 * n01
    if excess > 0:
        excess = max(excess - (n11 + n10 + n01 + n00) / 2, 0.0)
    return excess / sqrt(margins)


def _square_and_add(one: float, other: float, phi: float) -> float:
    """Return the length of two distances put together at correlation phi."""
    return sqrt(max(one * one - 2 * phi * one * other + other * other, 0.0))


def _linearised(parts: Values, wholes: Values) -> tuple[float, Values]:
    """Return the ratio of the sums and each replication's pull on it, shape (n,)."""
    _check_pairs(parts, wholes)
    if wholes.sum() <= 0:
        raise ValueError("a ratio needs wholes that sum to more than zero")
    ratio = float(parts.sum() / wholes.sum())
    return ratio, (parts - ratio * wholes) / wholes.mean()


def _around(estimate: float, values: Values, scale: float, confidence: float, rows: int | None = None) -> Interval:
    """Return the estimate with t bounds from the spread of values; nan where the spread is none beside scale."""
    if is_clustered(len(values), rows):
        values = pulls(values - values.mean(), rows)
    n = len(values)
    if n < 2 or np.ptp(values) <= ROUNDING * scale:
        return Interval(estimate, nan, nan, confidence)
    half = float(stdtrit(n - 1, (1 + confidence) / 2) * values.std(ddof=1) / sqrt(n))
    return Interval(estimate, estimate - half, estimate + half, confidence)


def _as_values(values: npt.ArrayLike, confidence: float) -> Values:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or array.size == 0:
        raise ValueError("an interval needs at least one value")
    _check_confidence(confidence)
    return array


def _largest(a: Values, b: Values) -> float:
    return float(max(np.abs(a).max(), np.abs(b).max()))


def _check_pairs(a: Values, b: Values) -> None:
    if len(a) != len(b):
        raise ValueError(f"pairs need as many of each: {len(a)} and {len(b)}")


def _check_count(successes: float, n: float, confidence: float) -> None:
    if not 0 <= successes <= n or n < 1:
        raise ValueError(f"{successes} successes out of {n} is impossible")
    _check_confidence(confidence)


def _check_confidence(confidence: float) -> None:
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, not at {confidence}")
