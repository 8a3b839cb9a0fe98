"""Make estimates with their intervals from columns of replications."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.intervals import Interval, clopper_pearson, one_sided_upper, ratio_interval, t_interval

Column = npt.NDArray[np.float64]
Summary = dict[str, Any]


@dataclass(frozen=True)
class Estimator:
    """Turns columns into estimates for one study; batch names it in words, such as `200 years`."""

    confidence: float
    batch: str

    def probability(self, seen: npt.NDArray[np.bool_]) -> Probability:
        """Return the share of replications, shape (n,), in which it was seen."""
        count, n = int(seen.sum()), len(seen)
        found = clopper_pearson(count, n, self.confidence)
        note = self._none_seen(n, "") if count == 0 else None
        return Probability(found.estimate, found.low, found.high, self.confidence, note)

    def mean(self, values: Column, least: float = 0.0, most: float = np.inf, events: bool = True) -> Mean:
        """Return the mean of values, shape (n,), within least and most; zeros alone are events not seen."""
        found = t_interval(values, self.confidence)
        return self._mean(found, len(values), events and not values.any(), least, most)

    def count(self, values: Column, per_year: float) -> Mean:
        """Return the mean of counts a year, shape (n,); where none is seen, the high bound is the Poisson one.

        With no event in n horizons a Poisson mean has the upper confidence bound -ln((1 - confidence) / 2) / n
        (Garwood 1936); events that come in clusters can be more, which the chance of any shows.
        """
        found = self.mean(values)
        if values.any():
            return found
        high = float(-np.log((1 - self.confidence) / 2) / len(values) * per_year)
        return replace(found, low=0.0, high=high)

    def ratio(self, parts: Column, wholes: Column, least: float = 0.0, most: float = np.inf) -> Mean | None:
        """Return sum over sum, shape (n,) each, that lies within least and most; None where wholes are zero."""
        if wholes.sum() <= 0:
            return None
        found = ratio_interval(parts, wholes, self.confidence)
        return self._mean(found, len(parts), False, least, most)

    def difference(self, interval: Interval, n: int) -> Mean:
        """Return a difference over n pairs, with a note where every pair differs alike."""
        return self._mean(interval, n, False)

    def _mean(self, found: Interval, n: int, nothing: bool, least: float = -np.inf, most: float = np.inf) -> Mean:
        """Return an interval kept within what is possible, with the reason why there is none, if so."""
        if isfinite(found.low):
            return Mean(found.estimate, max(found.low, least), min(found.high, most))
        if nothing:
            note = self._none_seen(n, "the chance of any is ")
        elif n == 1:
            note = "one replication gives no interval"
        else:
            note = f"the same in all {self.batch}"
        return Mean(found.estimate, None, None, note)

    def _none_seen(self, n: int, subject: str) -> str:
        """Return what follows where nothing was seen in n replications: the one-sided upper bound."""
        bound = 100 * one_sided_upper(0, n, self.confidence)
        return f"none seen in {self.batch}: {subject}below {bound:.3g} % ({100 * self.confidence:g} %, one-sided)"
