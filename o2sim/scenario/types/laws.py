"""Laws of chance: their canonical form from the parameters as written, their mean, bounds and tail.

Formulas are those of any textbook of probability (for example Johnson, Kotz and Balakrishnan, Continuous
Univariate Distributions, from memory); the tests compare them with scipy.stats.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

LAW_FORMS: dict[str, tuple[tuple[str, ...], ...]] = {  # law: the sets of parameters it may be given by
    "exponential": (("mean",),),
    "lognormal": (("median", "geometric_sd"), ("mean", "geometric_sd"), ("mean", "sd")),
    "gamma": (("mean", "sd"),),
    "weibull": (("mean", "shape"),),
    "uniform": (("low", "high"),),
    "triangular": (("low", "mode", "high"),),
}
PLAIN = ("geometric_sd", "shape")  # parameters without a unit
# Bounds that keep every draw far inside 64 bits; wider laws are no description of anything in a hospital.
WIDEST_GEOMETRIC_SD = 10.0
SHAPES = (0.2, 100.0)
SD_SHARES = (0.001, 20.0)  # of the mean
POINTS = 2_000  # at which the integral of a tail is taken
_STEPS = 200  # halvings of a bracket, enough to meet the last bit of a float


@dataclass(frozen=True)
class Law:
    """A law of chance in the unit of its field: kind and its canonical parameters.

    kind and parameters: constant (value,), exponential (mean,), lognormal (mu, sigma of the log),
    gamma (shape, scale), weibull (shape, scale), uniform (low, high), triangular (low, mode, high),
    empirical (sorted values, each as likely).
    """

    kind: str
    parameters: tuple[float, ...]


def wrong_parameters(given: dict[str, float]) -> tuple[str, str, str, str] | None:
    """Return (parameter, what is wrong, allowed, hint) for parameters that make no law, None where they do.

    given holds one of the forms of LAW_FORMS, in internal units; no mean or median of 0 gets here.
    """
    plain = "for no spread write the quantity itself"
    values = [given[name] for name in ("low", "mode", "high") if name in given]
    if any(after < before for before, after in pairwise(values)):
        return "", "out of order", "low to high" if len(values) == 2 else "low <= mode <= high", ""
    if values and values[0] == values[-1]:
        return "high", "the same as low", "more than low", plain
    if "sd" in given:
        low, high = (share * given["mean"] for share in SD_SHARES)
        if not low <= given["sd"] <= high:
            wrong = "too small" if given["sd"] < low else "too large"
            return "sd", wrong, "from a thousandth of the mean to 20 times the mean", plain
    if "geometric_sd" in given and not 1 < given["geometric_sd"] <= WIDEST_GEOMETRIC_SD:
        return "geometric_sd", "out of range", "more than 1, at most 10", plain
    if "shape" in given and not SHAPES[0] <= given["shape"] <= SHAPES[1]:
        return "shape", "out of range", "from 0.2 to 100", plain
    return None


def make_law(kind: str, given: dict[str, float]) -> Law:
    """Return the law in its canonical parameters (see types.Law) from one of the forms of LAW_FORMS."""
    return Law(kind, _MAKERS[kind](given))


def _lognormal(given: dict[str, float]) -> tuple[float, ...]:
    """Return mu and sigma of the log."""
    if "sd" in given:
        sigma = math.sqrt(math.log1p((given["sd"] / given["mean"]) ** 2))
    else:
        sigma = math.log(given["geometric_sd"])
    if "median" in given:
        return math.log(given["median"]), sigma
    return math.log(given["mean"]) - sigma**2 / 2, sigma


def _gamma(given: dict[str, float]) -> tuple[float, ...]:
    return (given["mean"] / given["sd"]) ** 2, given["sd"] ** 2 / given["mean"]


def _weibull(given: dict[str, float]) -> tuple[float, ...]:
    return given["shape"], given["mean"] / math.gamma(1 + 1 / given["shape"])


_MAKERS: dict[str, Callable[[dict[str, float]], tuple[float, ...]]] = {
    "exponential": lambda given: (given["mean"],),
    "lognormal": _lognormal,
    "gamma": _gamma,
    "weibull": _weibull,
    "uniform": lambda given: (given["low"], given["high"]),
    "triangular": lambda given: (given["low"], given["mode"], given["high"]),
}


def law_mean(law: Law) -> float:
    """Return the mean of a law, in the unit of its field."""
    p = law.parameters
    if law.kind in ("constant", "exponential"):
        return p[0]
    if law.kind == "lognormal":
        return math.exp(p[0] + p[1] ** 2 / 2)
    if law.kind == "gamma":
        return p[0] * p[1]
    if law.kind == "weibull":
        return p[1] * math.gamma(1 + 1 / p[0])
    return math.fsum(p) / len(p)  # uniform, triangular and empirical alike


def scaled(law: Law, share: float) -> Law:
    """Return the law of a share of what a law gives."""
    p = law.parameters
    if law.kind == "lognormal":
        return Law(law.kind, (p[0] + math.log(share), p[1]))
    if law.kind in ("gamma", "weibull"):
        return Law(law.kind, (p[0], p[1] * share))
    return Law(law.kind, tuple(value * share for value in p))


@lru_cache(maxsize=1_024)  # strategies have mostly the same classes, and each asks several times
def mean_up_to(law: Law, limit: float) -> float:
    """Return the mean of what a law gives, each value cut at a limit: the integral of its tail from 0 to there."""
    if law.kind in ("constant", "empirical"):
        return math.fsum(min(value, limit) for value in law.parameters) / len(law.parameters)
    width = limit / POINTS
    return width * math.fsum(share_above(law, (place + 0.5) * width) for place in range(POINTS))


def law_minimum(law: Law) -> float:
    """Return the least value a law can give (0 for those that come as near to 0 as one likes)."""
    bounded = law.kind in ("constant", "uniform", "triangular", "empirical")
    return law.parameters[0] if bounded else 0.0


def law_maximum(law: Law) -> float:
    """Return the greatest value a law can give, inf where there is none."""
    bounded = law.kind in ("constant", "uniform", "triangular", "empirical")
    return law.parameters[-1] if bounded else math.inf


def share_above(law: Law, value: float) -> float:
    """Return the chance that a law gives more than value."""
    p = law.parameters
    if value < law_minimum(law):
        return 1.0
    if value >= law_maximum(law):
        return 0.0
    if law.kind == "empirical":
        return sum(v > value for v in p) / len(p)
    if law.kind == "uniform":
        return (p[1] - value) / (p[1] - p[0])
    if law.kind == "triangular":
        return _triangular_above(p[0], p[1], p[2], value)
    return _TAILS[law.kind](p, value)


def _triangular_above(low: float, mode: float, high: float, value: float) -> float:
    if value < mode:
        return 1 - (value - low) ** 2 / ((high - low) * (mode - low))
    return (high - value) ** 2 / ((high - low) * (high - mode))


def _gamma_above(p: tuple[float, ...], value: float) -> float:
    from scipy import special  # 30 MB and a quarter of a second, for this law alone

    return float(special.gammaincc(p[0], value / p[1]))


_TAILS: dict[str, Callable[[tuple[float, ...], float], float]] = {
    "exponential": lambda p, v: math.exp(-v / p[0]),
    "lognormal": lambda p, v: math.erfc((math.log(v) - p[0]) / (p[1] * math.sqrt(2))) / 2 if v > 0 else 1.0,
    "gamma": _gamma_above,
    "weibull": lambda p, v: math.exp(-((v / p[1]) ** p[0])),
}


def law_high(law: Law, share: float = 0.01) -> float:
    """Return a high value: the law's maximum, or where it has none the value exceeded by `share` of draws."""
    if math.isfinite(law_maximum(law)):
        return law_maximum(law)
    low, high = 0.0, law_mean(law)
    while share_above(law, high) > share:
        low, high = high, high * 2
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if share_above(law, middle) > share else (low, middle)
    return high
