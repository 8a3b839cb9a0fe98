"""Curves that take no law, to lay beside a fitted one: how many last, how many events a unit has had, heaped
values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Steps:
    """A step function: its value from each time on until the next, shape (k,) both, times rising."""

    times: Values
    values: Values

    def at(self, time: float, before: float) -> float:
        """Return the value at a time, `before` where no step has been yet."""
        place = int(np.searchsorted(self.times, time, side="right"))
        return float(self.values[place - 1]) if place else before


def kaplan_meier(
    times: npt.ArrayLike, over: npt.ArrayLike, entry: npt.ArrayLike = 0.0, given: float = 0.0
) -> Steps:
    """Return the share that lasts beyond each time of an end, from durations, shape (n,), over (True) or not yet.

    entry: the duration at which each came into the book: it is at risk after that only. given: the share of
    those that last so long, from there on. Where few are at risk early the curve can fall to 0 too soon: give
    `given`. Source: Kaplan and Meier, Journal of the American Statistical Association 1958;53:457-81. Raises
    ValueError for no rows, and durations that end at or before their entry.
    """
    t, ended, begun = _columns(times, over, entry)
    ends = np.unique(t[ended & (t > given)])
    at_risk: Values = np.array([np.sum((begun < end) & (t >= end)) for end in ends], np.float64)
    ending = np.array([np.sum(ended & (t == end)) for end in ends], np.float64)
    return Steps(ends, np.asarray(np.cumprod(1 - ending / at_risk), np.float64))


def truncated_on_the_right(times: npt.ArrayLike, limits: npt.ArrayLike) -> Steps:
    """Return F(x) / F(longest limit) where a row is there only because its duration was within its limit.

    As a register of those discharged by its last day. times, limits: shape (n,) each, times <= limits. What is
    longer than the longest limit was never seen. Source: Kalbfleisch and Lawless, Journal of the American
    Statistical Association 1989;84:360-72. Raises ValueError for no rows, and a time beyond its limit.
    """
    t, most = np.asarray(times, np.float64), np.asarray(limits, np.float64)
    if not t.size or np.any(t > most):
        raise ValueError("durations: at least one, none beyond its limit, is needed")
    values = np.unique(t)
    at_risk = np.array([np.sum((t <= value) & (most >= value)) for value in values], np.float64)
    ending = np.array([np.sum(t == value) for value in values], np.float64)
    kept = 1 - ending / at_risk  # F(value -) / F(value), counted back from the longest
    return Steps(values, np.append(np.cumprod(kept[:0:-1])[::-1], 1.0))


def mean_cumulative(units: npt.ArrayLike, ages: npt.ArrayLike, is_event: npt.ArrayLike) -> Steps:
    """Return the mean number of events of a unit by its age: one row for each event, one for the end of each unit.

    units: names or numbers, ages, is_event: shape (n,) each. Source: Nelson, Technometrics 1995;37:147-57 (from
    memory); Nelson and Doganaksoy 1989 (valve seats). Raises ValueError for a unit without an end, or after it.
    """
    who, t, event = np.asarray(units), np.asarray(ages, np.float64), np.asarray(is_event, bool)
    last = dict(zip(who[~event].tolist(), t[~event].tolist(), strict=True))
    if any(age > last.get(unit, -1.0) for unit, age in zip(who[event].tolist(), t[event].tolist(), strict=True)):
        raise ValueError("units: each needs a row with the age to which it was seen, and no event after it")
    ends = np.array(sorted(last.values()))
    at = np.unique(t[event])
    rises = [np.sum(event & (t == age)) / np.sum(ends >= age) for age in at]
    return Steps(at, np.cumsum(np.array(rises)))


def heaped(values: npt.ArrayLike, unit: float = 1.0) -> tuple[float, dict[float, int]]:
    """Return the share of values, shape (n,), that are whole multiples of a unit, and how often each is there.

    Where it is far above what fine values would give, the values were rounded: fit them as `rounded`.
    """
    given = np.asarray(values, np.float64)
    multiples = given[np.abs(given / unit - np.rint(given / unit)) < 1e-9]
    kinds, counts = np.unique(multiples, return_counts=True)
    return len(multiples) / max(len(given), 1), dict(zip(kinds.tolist(), counts.tolist(), strict=True))


def _columns(
    times: npt.ArrayLike, over: npt.ArrayLike, entry: npt.ArrayLike
) -> tuple[Values, npt.NDArray[np.bool_], Values]:
    t = np.asarray(times, np.float64)
    ended, begun = (
        np.broadcast_to(np.asarray(over, bool), t.shape),
        np.broadcast_to(np.asarray(entry, float), t.shape),
    )
    if not t.size or np.any(begun > t):
        raise ValueError("durations: at least one, none shorter than at its entry, is needed")
    return t, ended, begun
