"""Find where the best strategy changes along one field, from what each did in every replication.

Best has four meanings: the lowest chance of a stock-out, the fewest hours unserved for lack of supply (each
among those within the budget), the lowest cost, and the lowest cost among those that meet the target. The place
is where the two lines cross, straight between the values that were run. How sure it is comes from the bootstrap:
replications are drawn again with replacement, the same ones at every point and for every strategy, since they
share their luck (Efron and Tibshirani, An Introduction to the Bootstrap, 1993, percentile interval, from
memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.whatif.point_runs import Measures
from o2sim.questions.whatif.result import Change, Values

RESAMPLES = 400
SEED = 20_270_101  # of the resamples: the same study gives the same interval
CRITERIA = BY_CHANCE, BY_HOURS, BY_COST, BY_COST_IN_TARGET = (
    "chance of a stock-out",
    "hours unserved for want of supply",
    "cost",
    "cost among those within the target",
)
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
NOBODY = -1


@dataclass(frozen=True)
class Series:
    """The values of a field in rising order, and what each strategy did there, in the same replications."""

    numbers: tuple[float, ...]
    points: tuple[dict[str, Measures], ...]
    path: str = ""
    unit: str = ""
    at: Values = field(default_factory=dict)  # values of the other fields


def break_evens(series: Series, target: float, budget: float | None, confidence: float) -> list[Change]:
    """Return each change of the best strategy, by criterion and in the order of the field."""
    names = (*series.points[0], None)  # the last is nobody
    means = _means(series)  # the first resample is the sample itself
    found = []
    for criterion in CRITERIA:
        score = _scores(criterion, means, target, budget)
        if score is None:
            continue
        best = _best(score)
        for place, (before, after) in enumerate(pairwise(best[0])):
            if before != after:
                ends = names[before], names[after]
                at = series.path, series.unit, series.at
                where = _where(series.numbers, score, best, place, confidence)
                found.append(Change(*at, criterion, *ends, **where))
    return found


def _means(series: Series) -> Measures:
    """Return means by measure, each of shape (1 + RESAMPLES, values, strategies); the first row is the sample."""
    tables = [list(point.values()) for point in series.points]
    n = len(tables[0][0][CHANCE])
    rng = np.random.default_rng(SEED)
    weights = np.vstack([np.ones(n), rng.multinomial(n, np.full(n, 1 / n), size=RESAMPLES)]) / n
    return {
        measure: np.einsum("bn,psn->bps", weights, np.array([[each[measure] for each in row] for row in tables]))
        for measure in (CHANCE, SUPPLY_HOURS, COST)
        if all(measure in each for row in tables for each in row)
    }


def _scores(criterion: str, means: Measures, target: float, budget: float | None) -> Floats | None:
    """Return what is to be least, infinite for those left out; None where there are no prices to go by."""
    cost = means.get(COST)
    if criterion in (BY_COST, BY_COST_IN_TARGET):
        if cost is None or criterion == BY_COST:
            return cost
        return np.where(means[CHANCE] <= target, cost, np.inf)
    score = means[SUPPLY_HOURS if criterion == BY_HOURS else CHANCE]
    return score if budget is None or cost is None else np.where(cost <= budget, score, np.inf)


def _best(score: Floats) -> Ints:
    """Return the place of the best strategy, shape (resamples, values); at a tie the one that led before stays."""
    best = np.full(score.shape[:2], NOBODY, dtype=np.int64)
    for at in range(score.shape[1]):
        least = score[:, at].min(axis=1)
        first = score[:, at].argmin(axis=1)
        if at:
            stays = best[:, at - 1]
            tied = (stays != NOBODY) & (
                np.take_along_axis(score[:, at], np.maximum(stays, 0)[:, None], 1)[:, 0] == least
            )
            first = np.where(tied, stays, first)
        best[:, at] = np.where(np.isfinite(least), first, NOBODY)
    return best


def _where(numbers: Sequence[float], score: Floats, best: Ints, place: int, confidence: float) -> dict[str, Any]:
    """Return value, between, low, high and seen_in of a change between two values, as Change has them."""
    before, after = int(best[0, place]), int(best[0, place + 1])
    middle = _crossing(numbers, score[0], best[0], before, after, None)
    assert middle is not None
    resamples = zip(score[1:], best[1:], strict=True)
    crossings = (_crossing(numbers, *each, before, after, middle) for each in resamples)
    seen = [at for at in crossings if at is not None]
    tail = 50 * (1 - confidence)
    low, high = map(float, np.percentile(seen, [tail, 100 - tail])) if seen else (None, None)
    between = numbers[place], numbers[place + 1]
    return {"value": middle, "between": between, "low": low, "high": high, "seen_in": len(seen) / RESAMPLES}


def _crossing(
    numbers: Sequence[float], score: Floats, best: Ints, before: int, after: int, near: float | None
) -> float | None:
    """Return where `after` takes over from `before` (the place nearest to `near`), None where it never does."""
    found = []
    for place, (one, other) in enumerate(pairwise(best)):
        if (one, other) == (before, after):
            low, high = numbers[place], numbers[place + 1]
            share = 0.5
            if NOBODY not in (before, after):
                gaps = score[place : place + 2, after] - score[place : place + 2, before]
                if np.isfinite(gaps).all() and gaps[0] != gaps[1]:
                    share = float(np.clip(gaps[0] / (gaps[0] - gaps[1]), 0, 1))
            found.append(low + share * (high - low))
    if not found:
        return None
    return found[0] if near is None else min(found, key=lambda at: abs(at - near))
