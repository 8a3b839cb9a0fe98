"""Draws from laws of chance: the inverse transform of every law."""

from __future__ import annotations

import math
from functools import cache, lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.compiler.jit import Real, Record, Whole, Word
from o2sim.draws.philox import uniform
from o2sim.scenario.types.hospital import Law

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

KINDS = ("constant", "exponential", "lognormal", "gamma", "weibull", "uniform", "triangular", "empirical")
CONSTANT, EXPONENTIAL, LOGNORMAL, GAMMA, WEIBULL, UNIFORM, TRIANGULAR, EMPIRICAL = range(len(KINDS))
LAW = np.dtype(  # a law as compiled code reads it; kind -1 stands for none
    [("kind", "i8"), ("a", "f8"), ("b", "f8"), ("c", "f8"), ("values", "i8"), ("count", "i8")], align=True
)
_FLOAT = jit.records(np.dtype([("value", "f8")]))
_AT_LAW = jit.records(LAW)


@lru_cache(maxsize=4096)
def law_record(law: Law | None) -> npt.NDArray[Any]:
    """Return a law as an array of one record of LAW; the values of an empirical law live as long as it does."""
    packed = jit.memory(LAW, 1)
    packed[0].kind = -1 if law is None else KINDS.index(law.kind)
    if law is not None and law.kind == "empirical":
        packed[0].values, packed[0].count = jit.address(_values(law)), len(law.parameters)
    elif law is not None:
        for name, value in zip("abc", law.parameters, strict=False):
            packed[0][name] = value
    return packed


@cache  # records hold its address, copies of them too: none may go
def _values(law: Law) -> npt.NDArray[Any]:
    values = jit.memory(np.dtype([("value", "f8")]), len(law.parameters))
    values["value"] = law.parameters
    return values


@jit.compiled
def quantile_at(law: Record, u: Real) -> Real:
    """Return the value below which a law (a record of LAW) falls with chance u, in the open interval 0-1."""
    if law.kind == CONSTANT:
        return law.a
    if law.kind == EXPONENTIAL:
        return -law.a * math.log1p(-u)
    if law.kind == LOGNORMAL:
        return math.exp(law.a + law.b * jit.ndtri(u))
    if law.kind == GAMMA:
        return law.b * jit.gammaincinv(law.a, u)
    if law.kind == WEIBULL:
        return law.b * (-math.log1p(-u)) ** (1 / law.a)
    if law.kind == UNIFORM:
        return law.a + (law.b - law.a) * u
    if law.kind == TRIANGULAR:
        span = law.c - law.a
        if u * span < law.b - law.a:
            return law.a + math.sqrt(u * span * (law.b - law.a))
        return law.c - math.sqrt((1 - u) * span * (law.c - law.b))
    return _FLOAT(law.values, np.int64(math.floor(u * law.count))).value


@jit.compiled
def rounded(value: Real, least: Whole) -> Whole:
    """Return a value rounded to a whole number (half to even), not below `least`; the only rounding of draws."""
    return max(np.int64(np.rint(value)), np.int64(least))


@jit.compiled
def whole_draw(
    law: Record, least: Whole, seed: Word, replication: Word, stream: Word, item: Word, ordinal: Whole
) -> Whole:
    """Return one whole-number draw of a law (a record of LAW); all but law, least and ordinal are 64-bit words."""
    if law.kind == CONSTANT:  # whatever the luck
        return rounded(law.a, least)
    return rounded(quantile_at(law, uniform(seed, replication, stream, item, ordinal)), least)


def quantile(law: Law, u: Floats) -> Floats:
    """Return the values below which the law falls with chance u (in the open interval 0-1); same shape as u.

    Parameters are those of scenario.types.Law, in the unit of the field.
    """
    u = np.ascontiguousarray(u)  # whose ravel is no copy
    values = np.empty_like(u)
    _quantiles(jit.address(law_record(law)), u.ravel(), values.ravel())
    return values


def whole(values: Floats, least: int) -> Ints:
    """Return values rounded as `rounded` does."""
    return np.maximum(np.rint(values), least).astype(np.int64)


@jit.cached
def _quantiles(law: Whole, u: Floats, values: Floats) -> None:
    for place in range(len(u)):
        values[place] = quantile_at(_AT_LAW(law, 0), u[place])
