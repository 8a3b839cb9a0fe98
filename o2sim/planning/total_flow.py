"""The law and the 99 % point of the total flow of a number of patients.

A number of patients is Poisson, or negative binomial where its mean is itself uncertain (a gamma law): the total
flow is then compound Poisson or compound negative binomial, by Panjer's recursion (1981, from memory). Above a
mean of NORMAL_FROM patients the 99 % point is that of the normal law, corrected for skewness.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, ndtri, pdtr

from o2sim.draws.laws import quantile
from o2sim.scenario.types.hospital import Law
from o2sim.scenario.types.laws import law_mean

Array = npt.NDArray[np.float64]

POINTS = 2_000  # equally likely points that stand for a law
GRID_POINTS = 5_000  # most points of the flow grid
PANJER_MEAN = 500.0  # exp(-mean) is far from underflow below this
NORMAL_FROM = 2_000.0  # patients; beyond, the grid's step is no longer small beside the flow of one patient
SHARE = 0.99
REMEMBERED = 64  # answers: the strategies of a scenario mostly meet the same demand


def midpoints() -> Array:
    """Return the chances, shape (POINTS,), at which a law is read to stand for all of it."""
    return (np.arange(POINTS) + 0.5) / POINTS


def total_flow(
    patients: Sequence[float], flows: Sequence[Law], spreads: Sequence[float] | None = None
) -> tuple[Array, float]:
    """Return the probability of each total flow, shape (points,), and the grid step in mL/min.

    patients: mean numbers, one per class; flows: the law of one patient's flow in mL/min, one per class; spreads:
    what the variance of each number is above its mean (0, and None for all, is Poisson).
    """
    count = sum(patients)
    if count <= 0:
        return np.ones(1), 1.0
    spreads = [0.0] * len(patients) if spreads is None else spreads
    points = [quantile(law, midpoints()) for law in flows]
    largest = max(float(value.max()) for value in points)
    second = sum(n * float(np.mean(value**2)) for n, value in zip(patients, points, strict=True))
    second += sum(more * float(np.mean(value)) ** 2 for more, value in zip(spreads, points, strict=True))
    first = sum(n * float(np.mean(value)) for n, value in zip(patients, points, strict=True))
    reach = first + 10 * math.sqrt(second) + 2 * largest
    step = next(step for step in _steps() if reach / step <= GRID_POINTS)
    size = int(reach // step) + 1
    plain = sum(mean for mean, more in zip(patients, spreads, strict=True) if more <= 0)
    severity = np.zeros(int(largest // step) + 2)
    total = np.ones(1)
    for mean, more, value in zip(patients, spreads, points, strict=True):
        if more <= 0 and plain > 0:
            _spread(severity, value / step, mean / plain / value.size)
        elif more > 0 and mean > 0:
            alone = np.zeros_like(severity)
            _spread(alone, value / step, 1 / value.size)
            total = np.convolve(total, compound_negative_binomial(mean, more, alone, size))[:size]
    return np.convolve(total, compound_poisson(plain, severity, size))[:size], float(step)


def compound_poisson(mean: float, severity: Array, size: int) -> Array:
    """Return P(sum = j steps), j = 0 .. size-1, of Poisson(mean) many terms with the given law on 0, 1, 2...

    Panjer's recursion; a large mean is halved until exp(-mean) does not underflow, then convolved back.
    """
    doublings = max(0, math.ceil(math.log2(mean / PANJER_MEAN))) if mean > 0 else 0
    rate = mean / 2**doublings
    total = _panjer(0.0, rate, math.exp(-rate * (1 - severity[0])), severity, size)
    return _doubled(total, doublings, size)


def compound_negative_binomial(mean: float, spread: float, severity: Array, size: int) -> Array:
    """Return P(sum = j steps), j = 0 .. size-1, of negative binomially many terms of variance mean + spread.

    Panjer's recursion with a = beta / (1 + beta), b = (r - 1) a, r = mean^2 / spread, beta = spread / mean; r is
    halved until the chance of none does not underflow, then convolved back.
    """
    shape, beta = mean * mean / spread, spread / mean
    doublings = max(0, math.ceil(math.log2(shape * math.log1p(beta) / PANJER_MEAN)))
    shape /= 2**doublings
    a = beta / (1 + beta)
    none = (1 + beta * (1 - severity[0])) ** -shape
    return _doubled(_panjer(a, (shape - 1) * a, none, severity, size), doublings, size)


def _panjer(a: float, b: float, none: float, severity: Array, size: int) -> Array:
    """Return the law of a sum whose number of terms has p(n) = (a + b / n) p(n - 1); none is P(sum = 0)."""
    places = np.arange(severity.size)
    total = np.zeros(size)
    total[0] = none
    for j in range(1, size):
        terms = min(j, severity.size - 1)
        weights = (a + b * places[1 : terms + 1] / j) * severity[1 : terms + 1]
        total[j] = float(weights @ total[j - terms : j][::-1]) / (1 - a * severity[0])
    return total


def _doubled(total: Array, doublings: int, size: int) -> Array:
    for _ in range(doublings):
        total = np.convolve(total, total)[:size]
    return total


def flow_exceeded(
    patients: Sequence[float], flows: Sequence[Law], share: float = SHARE, spreads: Sequence[float] | None = None
) -> float:
    """Return the total flow in mL/min that is not exceeded with probability `share`; arguments as total_flow's.

    Up to NORMAL_FROM patients exact on the grid; above, the normal approximation of the compound law with the
    first Cornish-Fisher term for its skewness (from memory), which at NORMAL_FROM is within 0.5 % of the grid's.
    """
    return _exceeded(tuple(patients), tuple(flows), share, None if spreads is None else tuple(spreads))


@lru_cache(REMEMBERED)
def _exceeded(
    patients: tuple[float, ...], flows: tuple[Law, ...], share: float, spreads: tuple[float, ...] | None
) -> float:
    if sum(patients) <= NORMAL_FROM:
        chances, step = total_flow(patients, flows, spreads)
        return step * int(np.searchsorted(np.cumsum(chances), share))
    return normal_flow(patients, flows, share, spreads)


def normal_flow(
    patients: Sequence[float], flows: Sequence[Law], share: float = SHARE, spreads: Sequence[float] | None = None
) -> float:
    """Return the approximate quantile of the total flow in mL/min from its moments; see flow_exceeded."""
    spreads = [0.0] * len(patients) if spreads is None else spreads
    first = second = third = 0.0
    for n, more, law in zip(patients, spreads, flows, strict=True):
        points = quantile(law, midpoints())
        m1, m2, m3 = law_mean(law), float(np.mean(points**2)), float(np.mean(points**3))
        skew = 2 * more * more / n if n > 0 else 0.0  # third cumulant of a gamma law of mean n and variance more
        first += n * m1
        second += n * m2 + more * m1**2
        third += n * m3 + 3 * more * m1 * m2 + skew * m1**3
    if second <= 0:
        return 0.0
    z = float(ndtri(share))
    return first + z * math.sqrt(second) + (z * z - 1) / 6 * third / second


def patients_exceeded(mean: float, spread: float = 0.0, share: float = SHARE) -> int:
    """Return the least n with P(number <= n) >= share, Poisson or, with a spread, negative binomial."""
    low, high = -1, max(1, math.ceil(mean))  # low is too few
    while _at_most(high, mean, spread) < share:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _at_most(middle, mean, spread) >= share else (middle, high)
    return high


def _at_most(n: int, mean: float, spread: float) -> float:
    if spread <= 0 or mean <= 0:
        return float(pdtr(n, mean))
    return float(betainc(mean * mean / spread, n + 1, mean / (mean + spread)))


def _steps() -> list[int]:
    """Return grid steps in mL/min, finest first: 1, 2, 5, 10 ..."""
    return [lead * 10**power for power in range(12) for lead in (1, 2, 5)]


def _spread(severity: Array, position: Array, weight: float) -> None:
    """Add `weight` at each position, shared between its two grid points so that the mean is kept."""
    below = np.floor(position).astype(np.int64)
    part = position - below
    np.add.at(severity, below, weight * (1 - part))
    np.add.at(severity, below + 1, weight * part)
