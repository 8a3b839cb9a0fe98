"""How good forecasts were, once the counts are in: ranks, coverage, scores, and naive forecasts beside them.

A forecast is a sample of what might come, shape (draws,), of counts or of other numbers. Sources: Gneiting &
Raftery 2007 (scores), Czado, Gneiting & Held 2009 (ranks of counts), both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc, ndtri

Values = npt.NDArray[np.float64]
FEWEST_A_BIN = 5  # expected in each bin of a chi-square test: common practice
MOST_BINS = 10


def crps(sample: npt.ArrayLike, seen: float) -> float:
    """Return the continuous ranked probability score of a sample, in the unit of what was seen; 0 is the best.

    That of the sample's own distribution: E|X - seen| - E|X - X'| / 2. Raises ValueError for an empty sample.
    """
    ordered = np.sort(np.asarray(sample, np.float64))
    count = ordered.size
    if not count:
        raise ValueError("found a forecast without a value; at least one is needed")
    weights = 2 * np.arange(1, count + 1) - count - 1
    return float(np.abs(ordered - seen).mean() - (weights @ ordered) / count**2)


def rank(sample: npt.ArrayLike, seen: float, place: float, within: float) -> float:
    """Return the randomised rank of what was seen among a sample, inside 0-1: even where the forecast is right.

    place, within: even luck inside 0-1. Of equal values each place is as likely, so that counts, and forecasts cut
    off at a bare shelf, are as even as other numbers.
    """
    values = np.asarray(sample, np.float64)
    below, equal = int((values < seen).sum()), int((values == seen).sum())
    return (below + int(place * (equal + 1)) + within) / (values.size + 1)


@dataclass(frozen=True)
class Even:
    """Whether ranks are even: counts in bins of one width, chi-square, and its p.

    effective: how many ranks they are worth, neighbours being alike; p is None with too few.
    """

    counts: tuple[int, ...]
    chi_square: float
    effective: float
    p: float | None


def evenness(ranks: npt.ArrayLike) -> Even:
    """Return a chi-square test of ranks in order of time.

    Neighbours that are alike count for less: the statistic is scaled by (1 - r) / (1 + r), r the correlation of
    neighbours' normal scores where it is above 0. An approximation.
    """
    values = np.asarray(ranks, np.float64)
    bins = int(min(MOST_BINS, values.size // FEWEST_A_BIN))
    if bins < 2:
        return Even((int(values.size),), 0.0, float(values.size), None)
    counts = np.bincount(np.minimum((values * bins).astype(int), bins - 1), minlength=bins)
    expected = values.size / bins
    share = 1.0 / spread_by(values)
    chi = float(((counts - expected) ** 2).sum() / expected)
    return Even(tuple(counts.tolist()), chi, values.size * share, float(chdtrc(bins - 1, chi * share)))


def spread_by(ranks: Values) -> float:
    """Return by how much the variance of a mean grows, at least 1, since neighbours are alike."""
    scores = ndtri(np.clip(ranks, 1e-9, 1 - 1e-9))
    scores = scores - scores.mean()
    total = float(scores @ scores)
    likeness = float(scores[1:] @ scores[:-1]) / total if total > 0 else 0.0
    likeness = min(max(likeness, 0.0), 0.9)
    return (1 + likeness) / (1 - likeness)


def inside(ranks: npt.ArrayLike, share: float) -> int:
    """Return how many ranks lie within the middle share (0-1) of their forecasts."""
    values = np.asarray(ranks, np.float64)
    return int((np.abs(values - 0.5) <= share / 2).sum())


def interval(sample: npt.ArrayLike, share: float, axis: int = 0) -> tuple[Values, Values]:
    """Return the ends of the middle share (0-1) of samples, which lie along an axis."""
    low, high = np.quantile(
        np.asarray(sample, np.float64), ((1 - share) / 2, (1 + share) / 2), axis=axis, method="median_unbiased"
    )
    return low, high


def earlier(used: npt.ArrayLike, days: npt.ArrayLike, at: int, most: int) -> Values | None:
    """Return the use of earlier counts as a forecast of that of count `at`: each a day's, times the days.

    used, days: shape (counts,), nan where not known; of the last `most` counts before. None before the first.
    """
    first = max(0, at - most)
    gone, span = np.asarray(used, np.float64)[first:at], np.asarray(days, np.float64)
    known = ~np.isnan(gone)
    return np.rint(gone[known] / span[first:at][known] * span[at]) if known.any() else None
