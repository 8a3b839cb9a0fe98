"""What strategies did along one field, replication by replication, in; where the best of them changes out.

Best is asked four ways: the lowest chance of a stock-out, the fewest hours unserved for want of supply (each
among those within the budget), the lowest cost, and the lowest cost among those that meet the target. The place
is where the two lines cross, straight between the values that were run. How sure it is comes from the bootstrap:
replications are drawn again with replacement, the same ones at every point and for every strategy, since they
share their luck (Efron and Tibshirani, An Introduction to the Bootstrap, 1993, percentile interval, from
memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

RESAMPLES = 400
SEED = 20_270_101  # of the resamples: the same study gives the same interval
BY_CHANCE, BY_HOURS, BY_COST, BY_COST_IN_TARGET = (
    "chance of a stock-out",
    "hours unserved for want of supply",
    "cost",
    "cost among those within the target",
)
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
NOBODY = -1


@dataclass(frozen=True)
class Measured:
    """One strategy at one point: failed (0 or 1), hours unserved, cost a year or None; each of shape (n,)."""

    failed: Floats
    hours: Floats
    cost: Floats | None


@dataclass(frozen=True)
class Series:
    """The values of a field in rising order, and what each strategy did there, in the same replications."""

    numbers: tuple[float, ...]
    points: tuple[dict[str, Measured], ...]


def break_evens(series: Series, target: float, budget: float | None, confidence: float) -> list[dict[str, Any]]:
    """Return each change of the best strategy, by criterion and in the order of the field; JSON-ready."""
    names = list(series.points[0])
    means = _means(series, names)  # the first resample is the sample itself
    found = []
    for criterion in (BY_CHANCE, BY_HOURS, BY_COST, BY_COST_IN_TARGET):
        score = _scores(criterion, means, target, budget)
        if score is None:
            continue
        best = _best(score)
        for place, (before, after) in enumerate(pairwise(best[0])):
            if before != after:
                change = _change(series, score, best, place, confidence)
                found.append({"by": criterion, "from": _name(names, before), "to": _name(names, after), **change})
    return found


def _name(names: Sequence[str], place: int) -> str | None:
    return None if place == NOBODY else names[place]


def _means(series: Series, names: Sequence[str]) -> dict[str, Floats | None]:
    """Return means by measure, each of shape (1 + RESAMPLES, values, strategies); the first row is the sample."""
    n = len(series.points[0][names[0]].failed)
    rng = np.random.default_rng(SEED)
    weights = np.vstack([np.ones(n), rng.multinomial(n, np.full(n, 1 / n), size=RESAMPLES)]) / n
    priced = all(point[name].cost is not None for point in series.points for name in names)

    def averaged(measure: str) -> Floats:
        columns = [[getattr(point[name], measure) for name in names] for point in series.points]
        return np.asarray(np.einsum("bn,psn->bps", weights, np.array(columns)), dtype=np.float64)

    return {"failed": averaged("failed"), "hours": averaged("hours"), "cost": averaged("cost") if priced else None}


def _scores(criterion: str, means: dict[str, Floats | None], target: float, budget: float | None) -> Floats | None:
    """Return what is to be least, infinite for those left out; None where there are no prices to go by."""
    failed, hours, cost = means["failed"], means["hours"], means["cost"]
    assert failed is not None
    assert hours is not None
    if criterion in (BY_COST, BY_COST_IN_TARGET):
        if cost is None:
            return None
        return cost if criterion == BY_COST else np.where(failed <= target, cost, np.inf)
    score = hours if criterion == BY_HOURS else failed
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


def _change(series: Series, score: Floats, best: Ints, place: int, confidence: float) -> dict[str, Any]:
    """Return where a change between two values lies, how far that may be out, and how often it is seen at all."""
    before, after = int(best[0, place]), int(best[0, place + 1])
    middle = _crossing(series.numbers, score[0], best[0], before, after, None)
    assert middle is not None
    seen = [
        at
        for row in range(1, len(score))
        if (at := _crossing(series.numbers, score[row], best[row], before, after, middle)) is not None
    ]
    tail = 50 * (1 - confidence)
    low, high = np.percentile(seen, [tail, 100 - tail]) if seen else (None, None)
    return {
        "value": middle,
        "between": [series.numbers[place], series.numbers[place + 1]],
        "low": None if low is None else float(low),
        "high": None if high is None else float(high),
        "seen_in": len(seen) / RESAMPLES,
    }


def _crossing(
    numbers: Sequence[float], score: Floats, best: Ints, before: int, after: int, near: float | None
) -> float | None:
    """Return where `after` takes over from `before` (the place nearest to `near`), None where it nowhere does."""
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
