"""What four laws of durations say of arrays: chances, partial means and the integrals that date-only books need.

A law is that of the scenario (`Law`, the same canonical parameters): exponential (mean,), lognormal (mu, sigma
of the log), gamma (shape, scale), weibull (shape, scale). All in the unit of the durations that are given.
Formulas: Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions, 1994 (from memory); tests compare
with scipy.stats.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc, gammaincc, gammainccinv, gammaln, log_ndtr, ndtr, ndtri

from o2sim.scenario.types.laws import Law

Values = npt.NDArray[np.float64]
KINDS = ("lognormal", "gamma", "weibull", "exponential")
_MOST = 1e60  # of a power in an exponent; its fifth power (shape 0.2) is still a number
_LEAST = 1e-300  # stands for a duration of 0 in a logarithm


@dataclass(frozen=True)
class Laws:
    """Laws of one kind side by side, for what is asked of each about the same durations: arrays of shape (k, 1).

    first, second: the parameters. Durations of shape (..., 1, n) give (..., k, n).
    """

    laws: tuple[Law, ...]
    first: Values
    second: Values

    @property
    def kind(self) -> str:
        """Return the kind of all of them."""
        return self.laws[0].kind

    @cached_property
    def means(self) -> Values:
        """Return the mean of each."""
        return np.array([[moment(law)] for law in self.laws])


def side_by_side(laws: Sequence[Law]) -> Laws:
    """Return laws of one kind, k of them, side by side."""
    pairs = np.array([_pair(law) for law in laws])
    return Laws(tuple(laws), pairs[:, :1], pairs[:, 1:])


def cdf(law: Law, x: npt.ArrayLike) -> Values:
    """Return the chances of at most x, any shape; 0 at and below 0."""
    v = _positive(x)
    a, b = _pair(law)
    if law.kind == "lognormal":
        chances = _values(ndtr(_score(law, v)))
    elif law.kind == "gamma":
        chances = _values(gammainc(a, v / b))
    else:
        chances = _values(-np.expm1(-_power(v, a, b)))
    return np.where(_values(x) > 0, chances, 0.0)


def survival(law: Law | Laws, x: npt.ArrayLike) -> Values:
    """Return the chances of more than x, any shape, exact far out in the tail; 1 at and below 0."""
    v = _positive(x)
    a, b = _parameters(law)
    if law.kind == "lognormal":
        chances = _values(ndtr(-_score(law, v)))
    elif law.kind == "gamma":
        chances = _values(gammaincc(a, v / b))
    else:
        chances = _values(np.exp(-_power(v, a, b)))
    return np.where(_values(x) > 0, chances, 1.0)


def log_survival(law: Law | Laws, x: npt.ArrayLike) -> Values:
    """Return the logarithms of the chances of more than x, any shape."""
    v = _positive(x)
    a, b = _parameters(law)
    if law.kind == "lognormal":
        logs = _values(log_ndtr(-_score(law, v)))
    elif law.kind == "gamma":
        logs = np.log(np.maximum(gammaincc(a, v / b), _LEAST))
    else:
        logs = -_power(v, a, b)
    return np.where(_values(x) > 0, logs, 0.0)


def log_density(law: Law | Laws, x: npt.ArrayLike) -> Values:
    """Return the logarithms of the density at x > 0, any shape, per unit of x."""
    v = _positive(x)
    a, b = _parameters(law)
    if law.kind == "lognormal":
        logs = -np.log(v) - _each(math.log, b * math.sqrt(2 * math.pi)) - _score(law, v) ** 2 / 2
    elif law.kind == "gamma":
        logs = (a - 1) * np.log(v / b) - v / b - gammaln(a) - _each(math.log, b)
    else:
        logs = _each(math.log, a / b) + (a - 1) * np.log(v / b) - _power(v, a, b)
    return _values(logs)


def quantile(law: Law, u: npt.ArrayLike) -> Values:
    """Return the values below which the law falls with chances u (0-1), any shape."""
    shares = _values(u)
    a, b = _pair(law)
    if law.kind == "lognormal":
        return np.asarray(np.exp(a + b * ndtri(shares)), np.float64)
    if law.kind == "gamma":
        return np.asarray(b * gammainccinv(a, 1 - shares), np.float64)
    return np.asarray(b * (-np.log1p(-shares)) ** (1 / a), np.float64)


def moment(law: Law, order: int = 1) -> float:
    """Return the mean of L to the power `order`: 1 for the mean, 2 for the mean square."""
    a, b = _pair(law)
    if law.kind == "lognormal":
        return math.exp(order * a + (order * b) ** 2 / 2)
    if law.kind == "gamma":
        return b**order * math.exp(float(gammaln(a + order) - gammaln(a)))
    return b**order * math.gamma(1 + order / a)


def partial_moment(law: Law, x: npt.ArrayLike, order: int = 1) -> Values:
    """Return the mean of L^order where L is at most x (0 elsewhere), any shape."""
    v = _positive(x)
    a, b = _pair(law)
    if law.kind == "lognormal":
        shares = _values(ndtr(_score(law, v) - order * b))
    elif law.kind == "gamma":
        shares = _values(gammainc(a + order, v / b))
    else:
        shares = _values(gammainc(1 + order / a, _power(v, a, b)))
    return np.where(_values(x) > 0, moment(law, order) * shares, 0.0)


def integral(law: Law, x: npt.ArrayLike) -> Values:
    """Return G(x), the integral of the cdf from 0 to x: x F(x) - E[L; L <= x]; 0 below 0, in the unit of x."""
    v = np.maximum(_values(x), 0.0)
    return v * cdf(law, v) - partial_moment(law, v)


def beyond(law: Law | Laws, x: npt.ArrayLike) -> Values:
    """Return U(x) = E[(L - x)+], the integral of the survival from x on; E[L] - x below 0.

    Its second differences are those of G, without the loss of digits of G far out.
    """
    given = _values(x)
    v = np.maximum(given, _LEAST)
    a, b = _parameters(law)
    if law.kind == "lognormal":
        score = _score(law, v)
        above, tail = _values(ndtr(b - score)), _values(ndtr(-score))
    elif law.kind == "gamma":
        above, tail = _values(gammaincc(a + 1, v / b)), _values(gammaincc(a, v / b))
    else:
        power = _power(v, a, b)
        above, tail = _values(gammaincc(1 + 1 / a, power)), _values(np.exp(-power))
    mean = law.means if isinstance(law, Laws) else moment(law)
    rest = np.maximum(mean * above - v * tail, 0.0)
    return np.asarray(rest - np.minimum(given, 0.0), np.float64)


def still_on_in_a_crowd(law: Law, x: npt.ArrayLike) -> Values:
    """Return the chance that one met at a random moment, begun nobody knows when, lasts x more: U(x) / E[L].

    Also the lag correlation of the number under way, whatever begins them evenly (Cox, Renewal Theory, 1962).
    """
    return beyond(law, x) / moment(law)


def median(law: Law) -> float:
    """Return the median of a law, in the unit of the durations."""
    return float(quantile(law, 0.5))


def _pair(law: Law) -> tuple[float, float]:
    """Return the two parameters; 1 and the mean of an exponential law."""
    if law.kind not in KINDS:
        raise ValueError(f"law: found {law.kind!r}; allowed: {', '.join(KINDS)}")
    return (1.0, law.parameters[0]) if law.kind == "exponential" else (law.parameters[0], law.parameters[1])


def _parameters(law: Law | Laws) -> tuple[Any, Any]:
    """Return the two parameters, numbers or arrays of shape (k, 1)."""
    return (law.first, law.second) if isinstance(law, Laws) else _pair(law)


def _each(function: Callable[[float], float], x: Any) -> Any:
    """Return a function of a number, or of each in a small array: its digits are those of the number alone."""
    return np.array([[function(float(one))] for one in x[:, 0]]) if isinstance(x, np.ndarray) else function(x)


def _power(v: Values, a: Any, b: Any) -> Values:
    """Return (v / b)^a, no more than a search can bear: a narrow law far from its rows would overflow."""
    return np.asarray(np.minimum(v / b, _MOST ** (1 / a)) ** a, np.float64)


def _score(law: Law | Laws, v: Values) -> Values:
    a, b = _parameters(law)
    return np.asarray((np.log(v) - a) / b, np.float64)


def _values(x: npt.ArrayLike) -> Values:
    return np.asarray(x, dtype=np.float64)


def _positive(x: npt.ArrayLike) -> Values:
    return np.maximum(_values(x), _LEAST)
