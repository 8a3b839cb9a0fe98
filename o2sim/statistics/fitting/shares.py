"""Shares of yes and no: exact and Jeffreys' ranges, what blanks could hide, and pooling of classes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.special import betaincinv, betaln

from o2sim.statistics.fitting.luck import uniforms

Values = npt.NDArray[np.float64]
POINTS = (0.05, 0.5, 0.95)
_LOG_STRENGTH = (-3.0, 12.0)  # of a + b in the logarithm: from no pooling to one share for all


def jeffreys(successes: float, n: float) -> tuple[float, float, float]:
    """Return the 5, 50 and 95 % points of a share by Beta(successes + 1/2, n - successes + 1/2).

    Source: Brown, Cai and DasGupta, Statistical Science 2001;16:101-33 (from memory). Raises ValueError unless
    0 <= successes <= n.
    """
    _check(successes, n)
    low, middle, high = (float(betaincinv(successes + 0.5, n - successes + 0.5, share)) for share in POINTS)
    return low, middle, high


def share_draws(successes: float, n: float, draws: int, seed: int, item: str) -> Values:
    """Return shares drawn from Jeffreys' posterior, shape (draws,); item keeps classes apart."""
    _check(successes, n)
    luck = uniforms(seed, "share", item, draws)
    return np.asarray(betaincinv(successes + 0.5, n - successes + 0.5, luck), np.float64)


def bounds_with_blanks(successes: int, written: int, blank: int) -> tuple[float, float]:
    """Return the least and the largest share of all rows, were every blank a no, and were every one a yes.

    Source: Manski, Partial Identification of Probability Distributions, 2003 (from memory). Raises ValueError as
    jeffreys does, and for no rows.
    """
    _check(successes, written)
    if blank < 0 or written + blank < 1:
        raise ValueError(f"share: {written} written and {blank} blank; at least one row is needed")
    return successes / (written + blank), (successes + blank) / (written + blank)


@dataclass(frozen=True)
class PooledShares:
    """A beta law of the shares of classes, Beta(a, b), and each class's share drawn to it, 5, 50, 95 %: (k, 3)."""

    a: float
    b: float
    shares: Values


def pooled_shares(successes: npt.ArrayLike, n: npt.ArrayLike) -> PooledShares:
    """Return shares of k classes that borrow from each other, from successes and n, shape (k,) each.

    Empirical Bayes: the beta-binomial law with the largest likelihood (Skellam 1948, from memory), then
    Beta(a + successes, b + n - successes) for each. Where classes differ no more than chance makes them, all share
    one. Raises ValueError for fewer than 2 classes, as jeffreys does, and where all or none are successes.
    """
    x, m = np.asarray(successes, np.float64), np.asarray(n, np.float64)
    if len(x) < 2 or np.any(x < 0) or np.any(x > m) or not 0 < x.sum() < m.sum():
        raise ValueError(
            f"shares: {x.sum():g} of {m.sum():g} in {len(x)} classes; at least 2, neither all nor none"
        )

    def loss(free: Values) -> float:
        mean, strength = 1 / (1 + np.exp(-free[0])), np.exp(free[1])
        a, b = mean * strength, (1 - mean) * strength
        return -float(np.sum(betaln(a + x, b + m - x) - betaln(a, b)))

    middle = (x.sum() + 0.5) / (m.sum() + 1)
    begins = [np.array([np.log(middle / (1 - middle)), log]) for log in (1.0, 3.0, 6.0)]
    box = [(begins[0][0] - 10, begins[0][0] + 10), _LOG_STRENGTH]
    found = min(
        (minimize(loss, at, method="L-BFGS-B", bounds=box) for at in begins), key=lambda got: float(got.fun)
    )
    mean, strength = 1 / (1 + float(np.exp(-found.x[0]))), float(np.exp(found.x[1]))
    a, b = mean * strength, (1 - mean) * strength
    points = [betaincinv(a + x, b + m - x, share) for share in POINTS]
    return PooledShares(a, b, np.column_stack(points))


def _check(successes: float, n: float) -> None:
    if not 0 <= successes <= n:
        raise ValueError(f"share: {successes:g} of {n:g}; allowed: 0 <= successes <= n")
