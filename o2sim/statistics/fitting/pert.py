"""The PERT law of uncertain numbers, and the ends to write so that its 5 and 95 % points are those that were
fitted.

PERT, of a range a..b with the likely value m, is the beta law with shapes 1 + 4 (m - a)/(b - a) and 1 + 4 (b -
m)/(b - a) (Malcolm, Roseboom, Clark and Fazar, Operations Research 1959;7:646-69, from memory). Its ends are
never met, so that 5 and 95 % points written as its ends would give a range that is too narrow.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import betaincinv

Values = npt.NDArray[np.float64]
_INSIDE = 1e-6  # of where the likely value may lie between its ends


@dataclass(frozen=True)
class Ends:
    """Low, likely and high to write, and the 5 and 95 % points that a PERT law on them has."""

    low: float
    likely: float
    high: float
    reached: tuple[float, float]


def pert_quantile(low: float, likely: float, high: float, shares: npt.ArrayLike) -> Values:
    """Return the values below which these shares of a PERT law lie, any shape, in the unit of its ends."""
    width = high - low
    at = np.asarray(shares, np.float64)
    return np.asarray(
        low + width * betaincinv(1 + 4 * (likely - low) / width, 1 + 4 * (high - likely) / width, at),
        np.float64,
    )


def pert_ends(low: float, likely: float, high: float, least: float = -np.inf, most: float = np.inf) -> Ends:
    """Return the ends that give a 5 % point of `low` and a 95 % point of `high` with this likely value.

    least, most: what the number cannot pass (0 and 1 of a share). Where an end would, it stands there and the
    likely value moves until both points are met; where none meets both, the point farther from that end is.
    `reached` says which points the ends have. Raises ValueError unless least <= low < likely < high <= most.
    """
    if not least <= low < likely < high <= most:
        raise ValueError(
            f"range: {low:g}, {likely:g}, {high:g}; allowed: {least:g} <= low < likely < high <= {most:g}"
        )
    place = _place((likely - low) / (high - likely))
    below, above = _points(place)
    width = (high - low) / (above - below)
    ends = likely - place * width, likely, likely + (1 - place) * width
    if ends[0] < least:
        ends = _from_end(low - least, high - least, least)
    elif ends[2] > most:
        a, m, b = _from_end(most - high, most - low, most)
        ends = 2 * most - b, 2 * most - m, 2 * most - a
    return Ends(*ends, (float(pert_quantile(*ends, 0.05)), float(pert_quantile(*ends, 0.95))))


def _points(place: float) -> tuple[float, float]:
    """Return the 5 and 95 % points of a PERT law from 0 to 1 with its likely value at `place`."""
    low, high = betaincinv(1 + 4 * place, 5 - 4 * place, np.array([0.05, 0.95])).tolist()
    return low, high


def _place(ratio: float) -> float:
    """Return where the likely value lies between its ends, by its distances to the 5 and the 95 % point."""

    def off(place: float) -> float:
        low, high = _points(place)
        return (place - low) - ratio * (high - place)

    return _root(off, _INSIDE)


def _from_end(near: float, far: float, end: float) -> tuple[float, float, float]:
    """Return low, likely, high with low at an end, from the distances of the 5 and 95 % points to it."""

    def off(place: float) -> float:
        low, high = _points(place)
        return low / high - near / far

    place = 0.0  # where even that leaves the 5 % point farther from the end
    if off(0.0) < 0:
        place = _root(off, 0.0) if off(1 - _INSIDE) > 0 else 1 - _INSIDE
    width = far / _points(place)[1]
    return end, end + place * width, end + width


def _root(off: Callable[[float], float], low: float) -> float:
    """Return where between `low` and the upper end a function is 0."""
    from scipy.optimize import brentq  # large, and drawing from the law needs none of it

    return float(brentq(off, low, 1 - _INSIDE))
