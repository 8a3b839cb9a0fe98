"""Draws of what is already under way: a stay, an open order, a repair, a unit's life, a power cut.

What has lasted `age` so far lasts at least that long, so what is still to come follows the law given that. Where
nobody knows when it began, it is one met at a random moment, more likely a long one than a short one. Formulas:
Cox, Renewal Theory, 1962 (from memory). `scenario.types.laws.law_mean` gives the mean of a law.

Ages, values and rests are in the unit of the law. Arrays have any shape; age and u are broadcast.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc, gammaincc, gammainccinv, gammaincinv, ndtr, ndtri

from o2sim.draws.laws import Floats, quantile
from o2sim.scenario.types.laws import Law, law_mean

Parameters = tuple[float, ...]
_LEAST = 1e-300  # a chance below it is none: floats hold few digits of it; stands for an age of 0 in a logarithm
_MOST = 1e300  # of a power
_SURE = 1e-17  # what makes no difference to 1
_POINTS, _STEPS = 513, 2  # of the table of ages met, and of Newton from there: errors of 1e-4, 1e-8, 1e-16
_FAR = 9.0  # standard deviations of a normal, beyond which no uniform number of 53 bits leads
_RARE = 1e-19  # the chance of that
_LOW_LOGIT = 38.0  # that of 2^-54, the least uniform number, is -37.4


def survival(law: Law, x: npt.ArrayLike) -> Floats:
    """Return the chances of lasting longer than x, exact far out in the tail; 1 at and below 0; the shape of x."""
    values = _floats(x)
    return np.where(values > 0, _SURVIVALS[law.kind](law.parameters, np.maximum(values, _LEAST)), 1.0)


def outlasted(law: Law, age: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Return True where nothing lasts as long as age by its law: at its end, or by a chance below 1e-300.

    Then either the age or the law is wrong, which a caller should say.
    """
    return survival(law, age) < _LEAST


def rest(law: Law, age: npt.ArrayLike, u: npt.ArrayLike) -> Floats:
    """Return how much longer what has lasted age goes on, at luck u (in the open interval 0-1).

    It is the value below which the rest falls with chance u, and rises with u; at age 0 (and below) it is
    `laws.quantile` of the same u, bit for bit. Never negative. Of what its law says is over (`outlasted`) it is 0,
    but for an exponential and a Weibull law, whose rest is known at any age. Good to 1e-9 where it is more than a
    millionth of the age; below that, to 1e-15 of the age.
    """
    ages, luck = np.broadcast_arrays(_floats(age), _floats(u))
    new = ages <= 0
    if law.kind == "exponential" or new.all():  # no memory, or nothing to remember
        return _quantile(law, luck)
    found = np.maximum(_RESTS[law.kind](law.parameters, np.maximum(ages, _LEAST), luck), 0.0)
    return np.where(new, _quantile(law, luck), found) if new.any() else found


def age_met(law: Law, u: npt.ArrayLike) -> Floats:
    """Return how long what is met at a random moment has lasted, at luck u (in the open interval 0-1); shape of u.

    Its density is survival / mean: things began evenly over time, and those still on are met. Good to 1e-9.
    """
    luck = _floats(u)
    if law.kind in ("lognormal", "gamma"):
        return _age_by_table(law, luck)
    if law.kind == "exponential":  # the same law
        return _quantile(law, luck)
    return _AGES[law.kind](law, luck)


# The chance of lasting longer than x > 0.


def _lognormal_above(p: Parameters, x: Floats) -> Floats:
    return _floats(ndtr((p[0] - np.log(x)) / p[1]))


def _gamma_above(p: Parameters, x: Floats) -> Floats:
    return _floats(gammaincc(p[0], x / p[1]))


def _weibull_above(p: Parameters, x: Floats) -> Floats:
    return _floats(np.exp(-_power(p, x)))


def _uniform_above(p: Parameters, x: Floats) -> Floats:
    return _floats((p[1] - np.clip(x, p[0], p[1])) / (p[1] - p[0]))


def _triangular_above(p: Parameters, x: Floats) -> Floats:
    low, mode, high = p
    falling = (high - np.clip(x, mode, high)) ** 2 / _area(high - low, high - mode)
    return np.where(x < mode, 1 - _triangular_below(p, x), falling)


def _triangular_below(p: Parameters, x: Floats) -> Floats:
    """Return the chance of less than x, up to the mode."""
    low, mode, high = p
    return _floats((np.clip(x, low, mode) - low) ** 2 / _area(high - low, mode - low))


def _empirical_above(p: Parameters, x: Floats) -> Floats:
    return _floats((len(p) - np.searchsorted(_sorted(p), x, side="right")) / len(p))


_SURVIVALS: dict[str, Callable[[Parameters, Floats], Floats]] = {
    "constant": _empirical_above,  # of one value
    "exponential": lambda p, x: _floats(np.exp(-x / p[0])),
    "lognormal": _lognormal_above,
    "gamma": _gamma_above,
    "weibull": _weibull_above,
    "uniform": _uniform_above,
    "triangular": _triangular_above,
    "empirical": _empirical_above,
}


# What is to come after an age > 0. Of the chances of less and of more than the whole, the smaller one leads back
# to it, as only that has all its digits.


def _lognormal_rest(p: Parameters, age: Floats, u: Floats) -> Floats:
    score = (np.log(age) - p[0]) / p[1]
    above = ndtr(-score)
    less, more = ndtr(score) + u * above, (1 - u) * above
    found = ndtri(np.minimum(less, more))
    whole = np.exp(p[0] + p[1] * np.where(less < more, found, -found))
    return np.where(above < _LEAST, 0.0, whole - age)


def _gamma_rest(p: Parameters, age: Floats, u: Floats) -> Floats:
    shape, scale = p
    above = gammaincc(shape, age / scale)
    less, more = gammainc(shape, age / scale) + u * above, (1 - u) * above
    whole = scale * np.where(
        less < more, gammaincinv(shape, np.minimum(less, 0.5)), gammainccinv(shape, np.minimum(more, 0.5))
    )
    return np.where(above < _LEAST, 0.0, whole - age)


def _weibull_rest(p: Parameters, age: Floats, u: Floats) -> Floats:
    shape, scale = p
    spent, to_come = _power(p, age), -np.log1p(-u)  # of an exponential clock with mean 1
    share = np.minimum(to_come / np.maximum(spent, _LEAST), 1.0)
    short = age * np.expm1(np.log1p(share) / shape)  # without the loss of digits of a difference
    return np.where(to_come < spent, short, scale * (spent + to_come) ** (1 / shape) - age)


def _uniform_rest(p: Parameters, age: Floats, u: Floats) -> Floats:
    low, high = p
    return _floats(np.maximum(low - age, 0.0) + (high - np.clip(age, low, high)) * u)


def _triangular_rest(p: Parameters, age: Floats, u: Floats) -> Floats:
    low, mode, high = p
    below = _triangular_below(p, age)
    less, more = below + u * (1 - below), (1 - u) * (1 - below)
    rising = low + np.sqrt(less * _area(high - low, mode - low))
    falling = high - np.sqrt(more * (high - low) * (high - mode))
    early = np.where(less * (high - low) < mode - low, rising, falling) - age
    late = np.maximum(high - age, 0.0) * -np.expm1(np.log1p(-u) / 2)
    return np.where(age < mode, early, late)


def _empirical_rest(p: Parameters, age: Floats, u: Floats) -> Floats:
    values = _sorted(p)
    first = np.searchsorted(values, age, side="right")  # of those longer than age, each as likely
    place = first + np.floor(u * (len(p) - first)).astype(np.int64)
    return _floats(values[np.minimum(place, len(p) - 1)] - age)  # below 0 where there is none


_RESTS: dict[str, Callable[[Parameters, Floats, Floats], Floats]] = {
    "constant": _empirical_rest,
    "lognormal": _lognormal_rest,
    "gamma": _gamma_rest,
    "weibull": _weibull_rest,
    "uniform": _uniform_rest,
    "triangular": _triangular_rest,
    "empirical": _empirical_rest,
}


# The age of what is met: where the integral of the survival from 0, by the mean, reaches u.


def _weibull_age(law: Law, u: Floats) -> Floats:
    shape, scale = law.parameters
    young = u * law_mean(law)  # as long as all last longer
    found = scale * gammaincinv(1 / shape, u) ** (1 / shape)
    return np.where(_power(law.parameters, young) < _SURE, young, found)


def _uniform_age(law: Law, u: Floats) -> Floats:
    low, high = law.parameters
    young = u * law_mean(law)
    return np.where(young < low, young, high - np.sqrt((1 - u) * (high - low) * (high + low)))


def _triangular_age(law: Law, u: Floats) -> Floats:
    low, mode, high = law.parameters
    mean, span = law_mean(law), high - low
    young, side = u * mean, np.sqrt(_area(span, mode - low))
    # t - t³ / (3 side²) = young - low, solved by 3 sin v - 4 sin³ v = sin 3v
    rising = low + 2 * side * np.sin(np.arcsin(np.clip(1.5 * (young - low) / side, 0.0, 1.0)) / 3)
    left = (1 - u) * mean  # of the integral
    falling = high - np.cbrt(3 * left * span * (high - mode))
    after_mode = (high - mode) ** 2 / (3 * span)
    return np.where(young < low, young, np.where(left > after_mode, rising, falling))


def _empirical_age(law: Law, u: Floats) -> Floats:
    values, integrals = _empirical_integrals(law.parameters)
    return _floats(np.interp(u * integrals[-1], integrals, values))


_AGES: dict[str, Callable[[Law, Floats], Floats]] = {
    "constant": lambda law, u: u * law.parameters[0],
    "weibull": _weibull_age,
    "uniform": _uniform_age,
    "triangular": _triangular_age,
    "empirical": _empirical_age,
}


@lru_cache(maxsize=256)
def _empirical_integrals(p: Parameters) -> tuple[Floats, Floats]:
    """Return 0 and the values, and the integrals of the survival up to each; straight lines between."""
    values = np.concatenate([[0.0], _sorted(p)])
    shares = np.arange(len(p), 0, -1) / len(p)
    return values, np.concatenate([[0.0], np.cumsum(np.diff(values) * shares)])


def _age_by_table(law: Law, u: Floats) -> Floats:
    """Return the ages met by Newton's steps in the logarithm of the age and the logit of its chance.

    Both tails are near to straight lines there. No age is less than u x mean, that of what all outlast.
    """
    logs, logits = _met_table(law)
    wanted = np.log(u) - np.log1p(-u)
    least = np.log(u * law_mean(law))
    log_age = np.where(least < logs[0], least, np.interp(wanted, logits, logs))
    for _ in range(_STEPS):
        logit, slope = _met_logit(law, log_age)
        log_age = np.clip(log_age - (logit - wanted) / slope, least, logs[-1])
    return _floats(np.exp(log_age))


@lru_cache(maxsize=256)
def _met_table(law: Law) -> tuple[Floats, Floats]:
    """Return logarithms of ages and logits of the chances that one met is younger; before the first, all last."""
    a, b = law.parameters
    if law.kind == "lognormal":
        low, high = a - _FAR * b, a + b * b + _FAR * b
    else:
        low = np.log(b * max(float(gammaincinv(a, _RARE)), _LEAST))
        high = np.log(b * float(gammainccinv(a + 1, _RARE)))
    logs = np.linspace(max(low, np.log(law_mean(law)) - _LOW_LOGIT), high, _POINTS)
    return logs, _met_logit(law, logs)[0]


def _met_logit(law: Law, log_age: Floats) -> tuple[Floats, Floats]:
    """Return the logit of the chance that one met is younger, and its slope; by partial moments of the law."""
    a, b = law.parameters
    if law.kind == "lognormal":
        score = (log_age - a) / b
        below, above, still_on = ndtr(score - b), ndtr(b - score), ndtr(-score)
    else:
        age = np.exp(log_age) / b
        below, above, still_on = map(_floats, (gammainc(a + 1, age), gammaincc(a + 1, age), gammaincc(a, age)))
    part = np.exp(log_age) / law_mean(law) * still_on
    younger, older = _floats(below + part), _floats(np.maximum(above - part, _LEAST))
    return np.log(younger / older), part / (younger * older)


def _power(p: Parameters, x: Floats) -> Floats:
    """Return (x / scale)^shape of a Weibull law, no more than a float holds."""
    return _floats(np.minimum(x / p[1], _MOST ** min(1 / p[0], 1.0)) ** p[0])


def _area(span: float, part: float) -> float:
    """Return span x part of a triangular law; 1 where it has no such part, and nothing is divided by it."""
    return span * part or 1.0


@lru_cache(maxsize=256)
def _sorted(p: Parameters) -> Floats:
    return _floats(p)


def _quantile(law: Law, u: Floats) -> Floats:
    return quantile(law, np.ascontiguousarray(u)).reshape(u.shape)  # whatever the order in memory


def _floats(x: npt.ArrayLike) -> Floats:
    return np.asarray(x, dtype=np.float64)
