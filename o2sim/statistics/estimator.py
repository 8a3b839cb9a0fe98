"""Columns of replications in, estimates with their intervals out, each a dict ready for JSON."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.statistics.intervals import Interval, clopper_pearson, one_sided_upper, ratio_interval, t_interval

Column = npt.NDArray[np.float64]
Summary = dict[str, Any]


@dataclass(frozen=True)
class Estimator:
    """Turns columns into estimates for one study; batch names it in words, such as `200 years`."""

    confidence: float
    batch: str

    def probability(self, seen: npt.NDArray[np.bool_]) -> Summary:
        """Return the share of replications, shape (n,), in which it was seen."""
        count, n = int(seen.sum()), len(seen)
        entry = _entry(clopper_pearson(count, n, self.confidence), "estimate")
        entry["confidence"] = self.confidence
        if count == 0:
            entry["note"] = self._none_seen(n, "")
        return entry

    def mean(self, values: Column, least: float = 0.0, most: float = np.inf, events: bool = True) -> Summary:
        """Return the mean of values, shape (n,), within least and most; noughts alone are events not seen."""
        entry = _entry(t_interval(values, self.confidence), "mean", least, most)
        return self._noted(entry, len(values), nothing=events and not values.any())

    def count(self, values: Column, per_year: float) -> Summary:
        """Return the mean of counts a year, shape (n,); where none is seen, the high bound is the Poisson one.

        With no event in n horizons a Poisson mean has the upper confidence bound -ln((1 - confidence) / 2) / n
        (Garwood 1936); events that come in clusters can be more, which the chance of any tells.
        """
        entry = self.mean(values)
        if not values.any():
            entry |= {"low": 0.0, "high": float(-np.log((1 - self.confidence) / 2) / len(values) * per_year)}
        return entry

    def ratio(self, parts: Column, wholes: Column, least: float = 0.0, most: float = np.inf) -> Summary | None:
        """Return sum over sum, shape (n,) each, that lies within least and most; None where wholes are nought."""
        if wholes.sum() <= 0:
            return None
        entry = _entry(ratio_interval(parts, wholes, self.confidence), "mean", least, most)
        return self._noted(entry, len(parts), nothing=False)

    def difference(self, interval: Interval, n: int) -> Summary:
        """Return a difference over n pairs, with a note where every pair differs alike."""
        return self._noted(_entry(interval, "mean"), n, nothing=False)

    def _noted(self, entry: Summary, n: int, nothing: bool) -> Summary:
        """Return the entry with the reason why it has no interval, if it has none."""
        if entry["high"] is None:
            if nothing:
                entry["note"] = self._none_seen(n, "the chance of any is ")
            elif n == 1:
                entry["note"] = "one replication gives no interval"
            else:
                entry["note"] = f"the same in all {self.batch}"
        return entry

    def _none_seen(self, n: int, subject: str) -> str:
        """Return what nothing seen in n replications does tell: the one-sided upper bound."""
        bound = 100 * one_sided_upper(0, n, self.confidence)
        return f"none seen in {self.batch}: {subject}below {bound:.3g} % ({100 * self.confidence:g} %, one-sided)"


def _entry(interval: Interval, name: str, least: float = -np.inf, most: float = np.inf) -> Summary:
    """Return an interval as a dict of plain floats, kept within what is possible; None for no bounds."""
    if not isfinite(interval.low):
        return {name: interval.estimate, "low": None, "high": None}
    return {name: interval.estimate, "low": max(interval.low, least), "high": min(interval.high, most)}
