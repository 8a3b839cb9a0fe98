"""Make estimates with their intervals from columns of replications."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.statistics.clusters import effective
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.intervals import (
    Interval,
    clopper_pearson,
    newcombe_paired,
    one_sided_upper,
    paired_ratio,
    paired_t,
    ratio_interval,
    t_interval,
)

Column = npt.NDArray[np.float64]
Summary = dict[str, Any]


@dataclass(frozen=True)
class Estimator:
    """Turns columns into estimates for one study; batch names it in words, such as `200 years`.

    rows: of joint draws that the replications met in turn; None without. Where a row was met more than once the
    intervals take rows as clusters (clusters.py).
    """

    confidence: float
    batch: str
    rows: int | None = None

    def probability(self, seen: npt.NDArray[np.bool_]) -> Probability:
        """Return the share of replications, shape (n,), in which it was seen."""
        count, n = int(seen.sum()), len(seen)
        worth = effective(seen, self.rows, self.confidence)
        found = clopper_pearson(count * (worth / n), worth, self.confidence)
        note = self._none_seen(n, "") if count == 0 else None
        unmet = self._unmet(n, (1 + self.confidence) / 2)
        return Probability(count / n, min(found.low, 1 - unmet), max(found.high, unmet), self.confidence, note)

    def at_most(self, seen: npt.NDArray[np.bool_]) -> float:
        """Return the one-sided upper bound of the chance that was seen, shape (n,)."""
        worth, n = effective(seen, self.rows, self.confidence), len(seen)
        found = one_sided_upper(int(seen.sum()) * (worth / n), worth, self.confidence)
        return max(found, self._unmet(n, self.confidence))

    def _unmet(self, n: int, confidence: float) -> float:
        """Return how likely inputs may be that no row met, whatever they would do; 0 where rows were not shared.

        However often few rows are met, that is no less than what as many replications without any would leave.
        """
        if self.rows is None or self.rows >= n:
            return 0.0
        return one_sided_upper(0, self.rows, confidence)

    def mean(self, values: Column, least: float = 0.0, most: float = np.inf, events: bool = True) -> Mean:
        """Return the mean of values, shape (n,), within least and most; zeros alone are events not seen."""
        found = t_interval(values, self.confidence, self.rows)
        return self._mean(found, len(values), events and not values.any(), least, most)

    def count(self, values: Column, per_year: float) -> Mean:
        """Return the mean of counts a year, shape (n,); where none is seen, the high bound is the Poisson one.

        With no event in n horizons a Poisson mean has the upper confidence bound -ln((1 - confidence) / 2) / n
        (Garwood 1936); events that come in clusters can be more, which the chance of any shows.
        """
        found = self.mean(values)
        if values.any():
            return found
        high = float(-np.log((1 - self.confidence) / 2) / self._apart(len(values)) * per_year)
        return replace(found, low=0.0, high=high)

    def ratio(self, parts: Column, wholes: Column, least: float = 0.0, most: float = np.inf) -> Mean | None:
        """Return sum over sum, shape (n,) each, that lies within least and most; None where wholes are zero."""
        if wholes.sum() <= 0:
            return None
        found = ratio_interval(parts, wholes, self.confidence, self.rows)
        return self._mean(found, len(parts), False, least, most)

    def more_often(self, first: npt.NDArray[np.bool_], second: npt.NDArray[np.bool_]) -> Mean:
        """Return how much more often it was seen the second time, over pairs of shape (n,) each."""
        n = len(first)
        cells = (first & second, first & ~second, ~first & second)
        n11, n10, n01 = (int(cell.sum()) for cell in cells)
        counts = (n11, n10, n01, n - n11 - n10 - n01)
        worth = min(effective(each, self.rows, self.confidence) for each in (first, second, first ^ second))
        a, b, c, d = (count * (worth / n) for count in counts)
        return self.difference(newcombe_paired(a, b, c, d, self.confidence), n)

    def more(self, first: Column, second: Column) -> Mean:
        """Return the mean of second less first, over pairs of shape (n,) each."""
        return self.difference(paired_t(first, second, self.confidence, self.rows), len(first))

    def more_of_ratio(self, first: tuple[Column, Column], second: tuple[Column, Column]) -> Mean:
        """Return the second ratio (parts over wholes) less the first, over pairs of shape (n,) each."""
        found = paired_ratio(*first, *second, confidence=self.confidence, rows=self.rows)
        return self.difference(found, len(first[0]))

    def _apart(self, n: int) -> int:
        """Return how many of n replications are surely independent: those with rows of their own."""
        return n if self.rows is None else min(n, self.rows)

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
        bound = 100 * one_sided_upper(0, self._apart(n), self.confidence)
        return f"none seen in {self.batch}: {subject}below {bound:.3g} % ({100 * self.confidence:g} %, one-sided)"
