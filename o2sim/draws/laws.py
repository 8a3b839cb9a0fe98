"""A law and uniform numbers in, draws from the law out: the inverse transform of every law."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from scipy import special

from o2sim.scenario.types import Law

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def whole(values: Floats, least: int) -> Ints:
    """Return values rounded to whole numbers (half to even), none below `least`; the only rounding of draws."""
    return np.maximum(np.rint(values), least).astype(np.int64)


def quantile(law: Law, u: Floats) -> Floats:
    """Return the values below which the law falls with chance u (in the open interval 0-1); same shape as u.

    Parameters are those of scenario.types.Law, in the unit of the field.
    """
    return _QUANTILES[law.kind](u, law.parameters)


def _constant(u: Floats, parameters: tuple[float, ...]) -> Floats:
    return np.full_like(u, parameters[0])


def _exponential(u: Floats, parameters: tuple[float, ...]) -> Floats:
    return -parameters[0] * np.log1p(-u)


def _lognormal(u: Floats, parameters: tuple[float, ...]) -> Floats:
    mu, sigma = parameters
    return np.asarray(np.exp(mu + sigma * special.ndtri(u)), dtype=np.float64)


def _gamma(u: Floats, parameters: tuple[float, ...]) -> Floats:
    shape, scale = parameters
    return np.asarray(scale * special.gammaincinv(shape, u), dtype=np.float64)


def _weibull(u: Floats, parameters: tuple[float, ...]) -> Floats:
    shape, scale = parameters
    return scale * (-np.log1p(-u)) ** (1 / shape)


def _uniform(u: Floats, parameters: tuple[float, ...]) -> Floats:
    low, high = parameters
    return low + (high - low) * u


def _triangular(u: Floats, parameters: tuple[float, ...]) -> Floats:
    low, mode, high = parameters
    span = high - low
    rising = low + np.sqrt(u * span * (mode - low))
    falling = high - np.sqrt((1 - u) * span * (high - mode))
    return np.where(u * span < mode - low, rising, falling)


def _empirical(u: Floats, parameters: tuple[float, ...]) -> Floats:
    values = np.asarray(parameters)
    return values[np.floor(u * len(values)).astype(np.int64)]


_QUANTILES: dict[str, Callable[[Floats, tuple[float, ...]], Floats]] = {
    "constant": _constant,
    "exponential": _exponential,
    "lognormal": _lognormal,
    "gamma": _gamma,
    "weibull": _weibull,
    "uniform": _uniform,
    "triangular": _triangular,
    "empirical": _empirical,
}
