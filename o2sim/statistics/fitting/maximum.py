"""The law that makes the rows of a book most likely, for each kind of law, and how far the data prefer one.

A law is found in two free numbers, where it lies and how wide it is on the scale of logarithms: lognormal (mu,
log sigma), gamma (log mean, -log shape / 2: the log of sd / mean), weibull (log scale, -log shape), exponential
(log mean). Weights by Akaike's criterion: Burnham and Anderson, Model Selection and Multimodel Inference, 2002
(from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import KINDS, side_by_side
from o2sim.statistics.fitting.spells import Spells, grouped, log_chances

Values = npt.NDArray[np.float64]
Box = tuple[Values, Values]
_WIDEST = {  # the free number of the width, narrowest and widest: inside what a scenario takes
    "lognormal": (math.log(0.01), math.log(math.log(10.0))),  # geometric standard deviation to 10
    "gamma": (math.log(0.01), math.log(10.0)),  # sd a hundredth of the mean to ten times the mean
    "weibull": (math.log(0.01), math.log(5.0)),  # shape 100 to 0.2
}
_EDGE = 1e-6
_ENDED_FOR_TWO = 5  # durations that have ended, below which only a mean is fitted
_STEP = 1e-5  # of the free numbers in a gradient
_BEND_STEP = 1e-3  # where the bend is wanted too
_NEWTON = 12  # steps at most
_FINE, _ROUGH = (1e-13, 1e-7), (1e-9, 1e-5)  # of a search: of the log-likelihood of a row, and of its slope
_NEAR = 1e-4  # a last step of the free numbers: a ten-thousandth of place and width


@dataclass(frozen=True)
class Fit:
    """A law fitted: its logarithm of the likelihood, Akaike's criterion, and whether its width is at an edge."""

    law: Law
    log_likelihood: float
    aic: float
    at_edge: bool  # as narrow or as wide as is allowed: the rows cannot say how wide the law is


def fit_law(spells: Spells, kind: str, weights: npt.ArrayLike | None = None, near: Values | None = None) -> Fit:
    """Return the law of a kind with the largest likelihood, in the unit of the rows.

    weights: how often each row counts, shape (n,). near: free numbers to begin from, where it is one of many fits:
    a few steps of Newton's then do.
    Raises ValueError for an unknown kind, no rows, or rows of which none has ended: these give a least mean only.
    """
    rows, counts = (spells, np.asarray(weights, np.float64)) if weights is not None else grouped(spells)
    if kind not in KINDS:
        raise ValueError(f"law: found {kind!r}; allowed: {', '.join(KINDS)}")
    if not len(rows) or not np.any(rows.is_over & (counts > 0)):
        raise ValueError(
            "durations: none of them has ended; at least one is needed, or a range from another source"
        )
    centre = float(np.log(np.average(_middles(rows), weights=counts)))
    box = _box(kind, centre)
    if near is None:
        free = _searched(_start(kind, rows, counts), kind, rows, counts, box)
    else:
        climbed = _climbed(near, kind, rows, counts, box)
        free = _searched(near, kind, rows, counts, box, _ROUGH) if climbed is None else climbed
    value = _log_likelihood(free, kind, rows, counts)
    edge = len(free) > 1 and bool(free[1] < box[0][1] + _EDGE or free[1] > box[1][1] - _EDGE)
    return Fit(law_of(kind, free), value, 2 * len(free) - 2 * value, edge)


def fit_laws(spells: Spells, kinds: Sequence[str] = KINDS) -> tuple[Fit, ...]:
    """Return the fit of each kind, the one that Akaike's criterion prefers first.

    With fewer than 5 rows that ended, or all of those alike, only the exponential law: the width of another is
    not in the rows. Raises ValueError as fit_law does.
    """
    ended = _middles(spells)[spells.is_over]
    narrow = len(ended) < _ENDED_FOR_TWO or np.ptp(ended) == 0
    taken = ("exponential",) if narrow else tuple(kinds)
    fits = [fit_law(spells, kind) for kind in taken]
    return tuple(sorted(fits, key=lambda fit: fit.aic))


def aic_weights(fits: Sequence[Fit]) -> Values:
    """Return the weight of each fit, shape (n,), sum 1: exp(-dAIC / 2) over their sum."""
    lost = np.array([fit.aic for fit in fits])
    shares = np.exp(-(lost - lost.min()) / 2)
    return np.asarray(shares / shares.sum(), dtype=np.float64)


def law_of(kind: str, free: Values) -> Law:
    """Return the law of a kind with the free numbers: where it lies and, but for exponential, its width."""
    place = float(free[0])
    if kind == "exponential":
        return Law(kind, (math.exp(place),))
    width = math.exp(float(free[1]))
    if kind == "lognormal":
        return Law(kind, (place, width))
    if kind == "gamma":
        return Law(kind, (width**-2, math.exp(place) * width**2))
    return Law(kind, (1 / width, math.exp(place)))


def free_of(law: Law) -> Values:
    """Return the free numbers of a law, shape (2,), or (1,) for exponential: the inverse of law_of."""
    if law.kind == "exponential":
        return np.array([math.log(law.parameters[0])])
    a, b = law.parameters
    if law.kind == "lognormal":
        return np.array([a, math.log(b)])
    if law.kind == "gamma":
        return np.array([math.log(a * b), -math.log(a) / 2])
    return np.array([math.log(b), -math.log(a)])


def within_box(kind: str, free: Values) -> Values:
    """Return free numbers with their width brought inside what a scenario takes."""
    if kind == "exponential":
        return free
    return np.array([free[0], np.clip(free[1], *_WIDEST[kind])])


def _log_likelihood(free: Values, kind: str, rows: Spells, counts: Values) -> float:
    return float(counts @ log_chances(law_of(kind, free), rows))


def _log_likelihoods(free: Sequence[Values], kind: str, rows: Spells, counts: Values) -> list[float]:
    """Return the log-likelihood at each of some free numbers, worked out at once: most of the time goes there."""
    laws = side_by_side([law_of(kind, each) for each in free])
    return [float(counts @ each) for each in log_chances(laws, rows)]


def _searched(
    begin: Values, kind: str, rows: Spells, counts: Values, box: Box, within: tuple[float, float] = _FINE
) -> Values:
    """Return the free numbers of the largest likelihood inside a box, by scipy's L-BFGS-B.

    Where rows in steps cannot say how narrow a law is, the likelihood is flat, and a fine search takes long.
    """
    total = float(counts.sum())

    def loss(free: Values) -> tuple[float, Values]:
        moves = _STEP * np.eye(len(free))
        here, *ends = _log_likelihoods([free, *(free + moves), *(free - moves)], kind, rows, counts)
        up, down = np.array(ends).reshape(2, len(free))
        return -here / total, (down - up) / (2 * _STEP * total)

    bounds = list(zip(box[0].tolist(), box[1].tolist(), strict=True))
    found = minimize(
        loss, np.clip(begin, *box), jac=True, method="L-BFGS-B", bounds=bounds,
        options={"ftol": within[0], "gtol": within[1], "maxiter": 200},
    )  # fmt: skip
    return np.asarray(found.x, np.float64)


def _climbed(begin: Values, kind: str, rows: Spells, counts: Values, box: Box) -> Values | None:
    """Return the free numbers of the largest likelihood by Newton's steps; None where they lead nowhere."""
    free = np.clip(begin, *box)
    for _ in range(_NEWTON):
        step = _step(free, kind, rows, counts)
        if step is None:
            return None
        free = free + np.clip(step, -0.5, 0.5)
        if np.any(free <= box[0]) or np.any(free >= box[1]):
            return None
        if np.all(np.abs(step) < _NEAR):
            return np.asarray(free, np.float64)
    return None


def _step(free: Values, kind: str, rows: Spells, counts: Values) -> Values | None:
    """Return Newton's step of one or two free numbers; None where the log-likelihood is not bent downwards.

    Slope and bend are differences of the log-likelihood at points around.
    """
    h = _BEND_STEP
    around = _AROUND[len(free)]
    middle, up, down, *more = _log_likelihoods(list(free + h * around), kind, rows, counts)
    slope, bend = (up - down) / (2 * h), (up - 2 * middle + down) / h**2
    if not bend < 0:
        return None
    if not more:
        return np.array([-slope / bend])
    up, down, high, low = more
    slope_2, bend_2 = (up - down) / (2 * h), (up - 2 * middle + down) / h**2
    across = ((high - 2 * middle + low) / h**2 - bend - bend_2) / 2
    size = bend * bend_2 - across**2
    if not size > 0:
        return None
    return np.array([across * slope_2 - bend_2 * slope, across * slope - bend * slope_2]) / size


_AROUND = {  # of a point with so many numbers: itself, up and down in each, up and down in both
    1: np.array([[0], [1], [-1]]),
    2: np.array([[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1], [1, 1], [-1, -1]]),
}


def _middles(rows: Spells) -> Values:
    """Return a rough duration of each row, above 0, to begin from."""
    middle = np.where(rows.is_over, (rows.low + np.where(rows.is_over, rows.high, 0)) / 2, rows.low)
    least = np.where(rows.step > 0, rows.step / 3, 0)
    return np.maximum(np.maximum(middle, least), 1e-9)


def _start(kind: str, rows: Spells, counts: Values) -> Values:
    """Return free numbers to begin from: mean and spread of the logarithms, all over time counted for the mean."""
    rough = _middles(rows)
    ended = float(counts[rows.is_over].sum())
    mean = float(counts @ (rough - np.minimum(rows.entry, rough * 0.9))) / ended
    if kind == "exponential":
        return np.array([math.log(mean)])
    logs = np.log(rough)
    middle = float(np.average(logs, weights=counts))
    spread = min(max(math.sqrt(float(np.average((logs - middle) ** 2, weights=counts))), 0.1), 2.0)
    return np.array([middle if kind == "lognormal" else math.log(mean), math.log(spread)])


def _box(kind: str, centre: float) -> Box:
    """Return the least and the largest free numbers, shape (k,) each."""
    place = (centre - 15, centre + 15)
    pairs = [place] if kind == "exponential" else [place, _WIDEST[kind]]
    return np.array([low for low, _ in pairs]), np.array([high for _, high in pairs])
