"""Show whether a chance lies below a target from failures as they come in: valid whenever one stops looking.

A test with a fixed number of replications may be looked at once. To stop as soon as the answer is clear, and to
be stopped by Ctrl-C, wants a test that holds at every look. Here it is a bet against the claim "the chance is at
least the target": the wealth is the mean, over chances q below the target, of the likelihood of q over that of
the target. Under the claim it is a non-negative supermartingale that begins at 1, so it ever reaches 1/alpha
with a chance of at most alpha (Ville 1939; Robbins, Annals of Mathematical Statistics 1970;41:1397-1409; both
from memory).
"""

from __future__ import annotations

from functools import cache, lru_cache
from math import exp, log

import numpy as np
from scipy.special import bdtr, betaln

GRID = 24  # chances bet on, evenly spaced in the logarithm and by share of the target
HALF = 0.5  # parameters of the mixture behind the interval: Jeffreys' prior, also Krichevsky and Trofimov's
BISECTIONS = 50


@cache
def _bets(target: float, below: bool) -> tuple[tuple[float, float], ...]:
    """Return, for each chance bet on, the logarithms by which a failure and a success multiply the stake."""
    shares = np.linspace(0.02, 0.98, GRID)
    chances = target * shares if below else target + (1 - target) * shares**2
    return tuple((log(q / target), log((1 - q) / (1 - target))) for q in map(float, chances))


@lru_cache(maxsize=65_536)
def log_wealth(failures: int, n: int, target: float, below: bool = True) -> float:
    """Return the logarithm of the wealth against "at least the target" (or, not below, "at most the target").

    Raises ValueError unless 0 <= failures <= n and 0 < target < 1.
    """
    if not 0 <= failures <= n or not 0 < target < 1:
        raise ValueError(f"{failures} failures out of {n} against a target of {target} is impossible")
    stakes = [failures * fail + (n - failures) * succeed for fail, succeed in _bets(target, below)]
    most = max(stakes)
    return most + log(sum(exp(stake - most) for stake in stakes) / len(stakes))


def shown(failures: int, n: int, target: float, alpha: float) -> bool:
    """Return True where the chance is below the target with confidence 1 - alpha, at whatever look."""
    return log_wealth(failures, n, target) >= -log(alpha)


def refuted(failures: int, n: int, target: float, alpha: float) -> bool:
    """Return True where the chance is above the target with confidence 1 - alpha, at whatever look."""
    return log_wealth(failures, n, target, below=False) >= -log(alpha)


def shown_bound(failures: int, n: int, alpha: float) -> float:
    """Return the least chance that the true one is shown to be below, at whatever look; 1 where none is."""
    low, high = failures / n if n else 0.0, 1.0
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        low, high = (low, middle) if shown(failures, n, middle, alpha) else (middle, high)
    return high


def hopeless(failures: int, most: int, target: float, alpha: float) -> bool:
    """Return True where not even a row of successes up to `most` replications could show the target to be met."""
    return not shown(failures, most, target, alpha)


def any_time_interval(failures: int, n: int, confidence: float) -> tuple[float, float]:
    """Return bounds for a chance that hold at all looks together, from the beta mixture with both parameters 1/2.

    A chance p is outside once B(failures + 1/2, successes + 1/2) / B(1/2, 1/2) > p^failures (1-p)^successes /
    alpha. Raises ValueError unless 0 <= failures <= n and 0 < confidence < 1.
    """
    if not 0 <= failures <= n or not 0 < confidence < 1:
        raise ValueError(f"{failures} failures out of {n} at a confidence of {confidence} is impossible")
    if n == 0:
        return 0.0, 1.0
    mixture = float(betaln(failures + HALF, n - failures + HALF) - betaln(HALF, HALF)) + log(1 - confidence)

    def outside(p: float) -> bool:
        likelihood = (failures * log(p) if failures else 0.0) + (
            (n - failures) * log(1 - p) if failures < n else 0.0
        )
        return mixture > likelihood

    share = min(max(failures / n, 1e-12), 1 - 1e-12)
    return (
        0.0 if failures == 0 else _edge(outside, share, 1e-300),
        1.0 if failures == n else _edge(outside, share, 1 - 1e-16),
    )


def _edge(outside: object, inside: float, far: float) -> float:
    """Return the farthest point from `inside` towards `far` that is not outside; rounding is to the safe side."""
    assert callable(outside)
    near, beyond = inside, far
    if not outside(far):
        return far
    for _ in range(BISECTIONS):
        middle = (near + beyond) / 2
        near, beyond = (near, middle) if outside(middle) else (middle, beyond)
    return beyond


def most_failures(n: int, target: float, confidence: float) -> int:
    """Return the most failures out of a fixed n that show the target to be met; -1 where even none would not.

    The largest c with P(Bin(n, target) <= c) <= 1 - confidence: by order statistic, the least stock that fails in
    at most c replications has a chance of failing of at most the target (Wilks, Annals of Mathematical Statistics
    1941;12:91-96, from memory).
    """
    allowed = 1 - confidence
    found = -1
    while found + 1 < n and float(bdtr(found + 1, n, target)) <= allowed:
        found += 1
    return found


def least_replications(target: float, confidence: float) -> int:
    """Return how many replications without a failure show the target to be met: 59 for 5 % at 95 %."""
    n = max(1, round(log(1 - confidence) / log(1 - target)) - 2)
    while exp(n * log(1 - target)) > 1 - confidence:
        n += 1
    return n
