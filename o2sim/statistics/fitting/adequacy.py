"""Whether a law describes the rows of a book: residuals, the Anderson-Darling test by bootstrap, and a band.

Residuals are the law's chances up to each row, evenly spread within the ends of a row that is known only in part
(Dunn and Smyth, Journal of Computational and Graphical Statistics 1996;5:236-44, from memory): under the true
law even from 0 to 1, whatever the books leave out. The points of the test's statistic depend on what was fitted,
so the chance is counted over books drawn from the law and fitted again, never read off a table (Stephens,
Journal of the American Statistical Association 1974;69:730-7, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import quantile
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.resample import Refits
from o2sim.statistics.fitting.spells import Spells, bounds

Values = npt.NDArray[np.float64]
REDRAWN = 199  # books for the test's chance and the band
_INSIDE = 1e-12
_MOST_POINTS = 99  # of a picture of quantiles


@dataclass(frozen=True)
class Adequacy:
    """How well a law fits: the statistic, the chance of one as large if the law were true, and quantiles with a
    band.

    levels: shares, shape (k,); expected: the law's durations there; seen: those of the rows; low, high: between
    which 90 % of drawn books lie at each level. Where rows are known in part, `seen` has their spread in it.
    """

    statistic: float
    chance: float
    levels: Values
    expected: Values
    seen: Values
    low: Values
    high: Values


def residuals(law: Law, spells: Spells, seed: int, book: int = -1) -> Values:
    """Return the residual of each row, shape (n,), within 0-1; even under the true law."""
    low, high = bounds(law, spells)
    luck = uniforms(seed, "within a row", book & 0xFFFFFFFF, len(spells))
    return np.clip(low + (high - low) * luck, _INSIDE, 1 - _INSIDE)


def anderson_darling(shares: Values) -> Values:
    """Return A^2 of values that should be even from 0 to 1, over the last axis; shape (..., n) to (...).

    Source: Anderson and Darling, Journal of the American Statistical Association 1954;49:765-9 (from memory).
    """
    ordered = np.sort(shares, axis=-1)
    n = ordered.shape[-1]
    weights = 2 * np.arange(1, n + 1) - 1
    logs = np.log(ordered) + np.log1p(-ordered[..., ::-1])
    return np.asarray(-n - (weights * logs).sum(axis=-1) / n, np.float64)


def adequacy(law: Law, spells: Spells, again: Refits, seed: int) -> Adequacy:
    """Return the test and the band of a fitted law by books drawn from it and fitted again (REDRAWN of them).

    The chance is (1 + how many drawn books have as large a statistic) / (1 + how many there are): no less than
    0.005 with 199. Raises ValueError for fewer than 19 books, or refits of another law.
    """
    if len(again.laws) < 19 or again.law != law:
        raise ValueError(
            f"adequacy: {len(again.laws)} refits of the law are there; allowed: 19 or more of that law"
        )
    mine = residuals(law, spells, seed)
    drawn = [
        residuals(refit, book, seed, nth)
        for nth, (book, refit) in enumerate(zip(again.books, again.laws, strict=True))
    ]
    statistic = float(anderson_darling(mine))
    larger = sum(float(anderson_darling(shares)) >= statistic for shares in drawn)
    levels = _levels(len(mine))
    bands = np.quantile(np.array([np.quantile(shares, levels) for shares in drawn]), (0.05, 0.95), axis=0)
    seen = np.quantile(mine, levels)
    return Adequacy(
        statistic,
        (1 + larger) / (1 + len(drawn)),
        levels,
        *(quantile(law, shares) for shares in (levels, seen, bands[0], bands[1])),
    )


def _levels(n: int) -> Values:
    """Return the shares of a picture: one of each row, or 99 where there are more rows."""
    points = min(n, _MOST_POINTS)
    return (np.arange(1, points + 1) - 0.5) / points
