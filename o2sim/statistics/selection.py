"""Choose the best of several options run under the same draws, and say how sure that is.

The best is chosen from the data, so the statement must hold whichever option looks best: every ordered pair is
compared, and the allowed error is shared among all of them (Bonferroni). Two statements then hold together with
the stated confidence, whatever the dependence between options:
- the best is among the chosen one and those without a clear difference from it (subset selection: Gupta,
  Technometrics 1965;7:225-45, from memory);
- the chosen one is at most `within` worse than the best.

Chances are compared by their discordant pairs: the exact test of McNemar (Psychometrika 1947;12:153-7) and exact
binomial bounds, since a stock-out is rare and Student's t would promise too much. Means use Student's t of pairs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, betaincinv, stdtrit

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Selection:
    """The chosen option, those without a clear difference from it, and how much worse than the best it may be."""

    best: str
    not_told_apart: tuple[str, ...]
    within: float
    confidence: float

    @property
    def alone(self) -> bool:
        """Return True where the chosen one is the best with the stated confidence."""
        return not self.not_told_apart


def select_best(
    columns: Mapping[str, npt.ArrayLike],
    confidence: float = 0.95,
    *,
    ties: Mapping[str, tuple[float, ...]] | None = None,
) -> Selection:
    """Return the option with the lowest mean, and how sure that is.

    columns: shape (n,) for each option, replication k of all under the same draws; chances are given as booleans.
    ties: further numbers, less being better, that decide among equal means. Raises ValueError for no option, for
    columns of different lengths or a confidence outside 0-1.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, not at {confidence}")
    arrays = {name: np.asarray(column) for name, column in columns.items()}
    if len({array.shape for array in arrays.values()}) != 1:
        raise ValueError("every option needs the same number of replications, at least one")
    further = ties or {}
    best = min(arrays, key=lambda name: (float(arrays[name].mean()), *further.get(name, ())))
    others = [name for name in arrays if name != best]
    if not others:
        return Selection(best, (), 0.0, confidence)
    error = (1 - confidence) / (len(arrays) * len(others))  # of each ordered pair
    worse = {name: upper_difference(arrays[best], arrays[name], error) for name in others}
    unclear = tuple(name for name in others if worse[name] >= 0)
    return Selection(best, unclear, max([worse[name] for name in unclear], default=0.0), confidence)


def upper_difference(best: npt.NDArray[np.generic], other: npt.NDArray[np.generic], error: float) -> float:
    """Return an upper bound of best less other, below zero where the best is better; both but for the error.

    Columns of shape (n,), replication k of both under the same draws; booleans are chances.
    """
    if best.dtype == np.bool_:
        return _chances(best.astype(bool), other.astype(bool), error)
    difference = best.astype(np.float64) - other.astype(np.float64)
    return _t_upper(difference, error)


def _chances(best: npt.NDArray[np.bool_], other: npt.NDArray[np.bool_], error: float) -> float:
    """Return the bound for chances; half of the error goes to the test, half to the bound."""
    n, only_best, only_other = len(best), int((best & ~other).sum()), int((other & ~best).sum())
    if mcnemar_one_sided(only_other, only_best) <= error / 2:
        return -1.0
    more = 1.0 if only_best == n else float(betaincinv(only_best + 1, n - only_best, 1 - error / 4))
    less = 0.0 if only_other == 0 else float(betaincinv(only_other, n - only_other + 1, error / 4))
    return max(0.0, more - less)


def mcnemar_one_sided(larger: int, smaller: int) -> float:
    """Return the chance of so many discordant pairs of one kind, or more, if both kinds were equally likely.

    The tail of a binomial with p = 1/2, by the incomplete beta function.
    """
    pairs = larger + smaller
    if larger == 0:
        return 1.0
    return float(betainc(larger, pairs - larger + 1, 0.5))


def _t_upper(differences: Values, error: float) -> float:
    """Return the one-sided upper bound of a mean; the mean itself where all differences are alike."""
    n, mean = len(differences), float(differences.mean())
    if n < 2:
        return float("inf")  # one pair shows no spread
    half = float(stdtrit(n - 1, 1 - error)) * float(differences.std(ddof=1)) / n**0.5
    return float(mean + half)
