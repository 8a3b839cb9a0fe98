"""How many are enough for 99 % of the time, from the time at each level of simultaneous use."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate, zip_longest

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
ENOUGH_PERCENT = 99


@dataclass(frozen=True)
class Peak:
    """What simultaneous use comes to: enough is the least number that is not exceeded for 99 % of the time.

    highest is the highest level seen in any replication; mean is over time, seconds is the time looked at, 0 where
    there was none to look at (such as no time on battery).
    """

    enough: int
    highest: int
    mean: float
    seconds: int


def pooled(histograms: Iterable[Sequence[int]]) -> list[int]:
    """Return the seconds at each level of all replications together; each may end at its own highest level."""
    return [sum(seconds) for seconds in zip_longest(*histograms, fillvalue=0)]


def peak(by_level: Sequence[int]) -> Peak:
    """Return the peak of a histogram of seconds by level: the smallest n with 99 % of the time at or below it."""
    seconds = sum(by_level)
    levels = [level for level, time_s in enumerate(by_level) if time_s > 0]
    if not levels:
        return Peak(0, 0, 0.0, 0)
    up_to = accumulate(by_level)
    enough = next(level for level, below in enumerate(up_to) if 100 * below >= ENOUGH_PERCENT * seconds)
    mean = sum(level * time_s for level, time_s in enumerate(by_level)) / seconds
    return Peak(enough, levels[-1], mean, seconds)


def while_any(by_level: Sequence[int]) -> list[int]:
    """Return the histogram over the time in which any is in use."""
    return [0, *by_level[1:]]


def seconds_at_level(start_s: Ints, stop_s: Ints, from_s: int, to_s: int) -> list[int]:
    """Return how long how many were present at once between two times, from the start and stop of each stay.

    start_s and stop_s have shape (stays,). A stay covers [start, stop); place n of the result is the seconds with
    n present, and the places add up to to_s - from_s.
    """
    start, stop = (np.clip(np.asarray(end, dtype=np.int64), from_s, to_s) for end in (start_s, stop_s))
    inside = start < stop
    times = np.concatenate([start[inside], stop[inside]])
    steps = np.repeat(np.array([1, -1]), int(inside.sum()))
    order = np.argsort(times, kind="stable")
    times = np.concatenate([[from_s], times[order], [to_s]])
    present = np.concatenate([[0], np.cumsum(steps[order])])
    by_level = np.zeros(int(present.max()) + 1, dtype=np.int64)
    np.add.at(by_level, present, np.diff(times))
    return [int(seconds) for seconds in by_level]
