"""Estimate where replications share rows of joint draws: replication r met row r mod the number of rows.

With no more replications than rows each met a row of its own, and they are independent draws of both doubts. With
more, those of a row go together: intervals take rows as clusters.

- Means and ratios: the linearised sum of each row, with Student's t of rows - 1 degrees of freedom (Cochran,
  Sampling Techniques, 1977, chapter 9, from memory).
- Chances: Clopper and Pearson's interval at the effective number of replications, those that would know the chance
  as well were they independent, cut at the number done (Korn and Graubard, Survey Methodology 24 (1998) 193-201,
  from memory). Where all replications are alike that number is unknown, and is taken as the number of rows: the
  safe side. No end lies nearer to 0 or 1 than after as many replications as rows, all alike: inputs that no row
  met may do anything.
- What is due to unknown inputs: the variance between rows free of luck, (MS rows - MS within) / replications a
  row, by one-way analysis of variance; law of total variance: both together are that of one replication.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

Values = npt.NDArray[np.float64]
RESAMPLES, SEED = 400, 20_260_301  # bootstrap samples of rows for the interval of a share
LEAST_EACH = 2  # replications of a row, to set luck apart


@dataclass(frozen=True)
class Split:
    """Variance of one replication: between rows, within one, the share of the first with its interval."""

    inputs: float
    luck: float
    share: float
    low: float
    high: float


def is_clustered(n: int, rows: int | None) -> bool:
    """Return whether some row was met by more than one of n replications."""
    return rows is not None and n > rows


def sums(values: npt.ArrayLike, rows: int) -> Values:
    """Return the sum of the values of each row, shape (rows,)."""
    array = np.asarray(values, dtype=np.float64)
    found: Values = np.bincount(np.arange(len(array)) % rows, weights=array, minlength=rows).astype(np.float64)
    return found


def pulls(residuals: Values, rows: int | None) -> Values:
    """Return what each independent unit pulls at the estimate: replications, or their rows where these are shared.

    residuals: of each replication, with mean 0; the mean of what is returned is theirs.
    """
    n = len(residuals)
    if rows is None or not is_clustered(n, rows):
        return residuals
    return np.asarray(sums(residuals, rows) * (rows / n))


def effective(seen: npt.ArrayLike, rows: int | None, confidence: float) -> float:
    """Return as how many independent replications these are worth; seen: 0 or 1 of each, shape (n,)."""
    values = np.asarray(seen, dtype=np.float64)
    n, mean = len(values), float(values.mean())
    if rows is None or not is_clustered(n, rows):
        return float(n)
    spread = float(np.var(values)) / n
    apart = float(np.var(pulls(values - mean, rows), ddof=1)) / rows
    if spread <= 0 or apart <= 0:
        return float(rows)
    tail = (1 + confidence) / 2
    wider = (float(stdtrit(rows - 1, tail)) / float(stdtrit(n - 1, tail))) ** 2
    return min(max(n * spread / apart / wider, 1.0), float(n))


def split(values: npt.ArrayLike, rows: int, confidence: float) -> Split | None:
    """Return how much of the variance of values, shape (n,), is between rows; None with fewer than two a row."""
    array = np.asarray(values, dtype=np.float64)
    if len(array) < LEAST_EACH * rows:
        return None
    counts, total, squares = sums(np.ones(len(array)), rows), sums(array, rows), sums(array**2, rows)
    inputs, luck = _parts(counts, total, squares)
    drawn = np.random.default_rng(SEED).integers(0, rows, (RESAMPLES, rows))
    shares = [_share(*_parts(counts[each], total[each], squares[each])) for each in drawn]
    low, high = np.quantile(shares, [(1 - confidence) / 2, (1 + confidence) / 2])
    return Split(inputs, luck, _share(inputs, luck), float(low), float(high))


def _parts(counts: Values, total: Values, squares: Values) -> tuple[float, float]:
    """Return the variance between rows and within them, neither below zero."""
    n, rows = float(counts.sum()), len(counts)
    means, mean = total / counts, float(total.sum()) / n
    within = max(float((squares - counts * means**2).sum()), 0.0) / (n - rows)
    between = float((counts * (means - mean) ** 2).sum()) / (rows - 1)
    each = (n - float((counts**2).sum()) / n) / (rows - 1)
    return max((between - within) / each, 0.0), within


def _share(inputs: float, luck: float) -> float:
    whole = inputs + luck
    return inputs / whole if whole > 0 else 0.0
