"""Which values more replications would show to be enough, and between which bounds that holds when it is tried.

What is said is what those that were run make likely, not what the curve would give if it were exact: of the
further replications the number of failures is drawn from its law (o2sim/statistics/prediction.py), with the first
ones kept, as the same seed keeps them. So the bounds hold in 19 of 20 cases, and the least and the most are given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import accumulate

from o2sim.questions.size.candidates import Question
from o2sim.questions.size.result import MISSING_LITRES, TOO_OFTEN, MoreReplications, Point
from o2sim.statistics.prediction import chance_below, chance_of_at_most
from o2sim.statistics.sequential import most_failures, shown

MORE_TIMES = (4, 16)  # as many replications
TAIL = 0.025  # outside the bounds, on either side
Pass = Callable[[Point], float]  # the chance that a point is shown to be enough


def more_of_batch(question: Question, curve: Sequence[Point], n: int) -> tuple[MoreReplications, ...]:
    """Return what larger batches would show, of the stocks of a whole curve."""

    def passes(most: int) -> Pass:
        allowed = most_failures(most, question.target, question.confidence)

        def passing(point: Point) -> float:
            if point.status == MISSING_LITRES:
                return 0.0
            return chance_of_at_most(allowed - point.failures, most - n, point.failures, n)

        return passing

    return tuple(_found(n * times, curve, passes(n * times), passes(n * times)) for times in MORE_TIMES)


def more_of_search(question: Question, curve: Sequence[Point], n: int) -> tuple[MoreReplications, ...]:
    """Return what a search with a higher limit would show, of the candidates in the order in which it tries them.

    Those that fail too often do so again, since the first replications are the same. The others have to pass the
    scan and then afresh; that they may do so at an early look is left out on the safe side, so the most is higher.
    """
    alpha = 1 - question.confidence

    def surely(most: int) -> Pass:
        scanned, afresh = (_most_shown(most, question.target, each) for each in (alpha, alpha / 2))

        def passing(point: Point) -> float:
            if point.status in (TOO_OFTEN, MISSING_LITRES) or not point.replications:
                return 0.0
            failures, ran = point.failures, point.replications
            left = max(0, most - ran)
            return chance_of_at_most(scanned - failures, left, failures, ran) * chance_of_at_most(
                afresh, most, failures, ran
            )

        return passing

    def possibly(point: Point) -> float:
        if point.status in (TOO_OFTEN, MISSING_LITRES):
            return 0.0
        return chance_below(question.target, point.failures, point.replications) + alpha**2 / 2

    return tuple(_found(n * times, curve, possibly, surely(n * times)) for times in MORE_TIMES)


def _found(most: int, curve: Sequence[Point], possibly: Pass, surely: Pass) -> MoreReplications:
    """Return the likeliest answer and its bounds: the first points that pass with these chances, or more."""
    passing = [surely(point) for point in curve]
    reached = list(accumulate(passing, max))  # a point is the answer, or one before it
    possible = list(accumulate(map(possibly, curve), max))
    return MoreReplications(
        most,
        values=_first(curve, (each >= 0.5 for each in reached)),
        least=_first(curve, (each >= TAIL for each in possible)),
        most=_first(curve, (each >= 1 - TAIL for each in reached)),
    )


def _first(curve: Sequence[Point], holds: Iterable[bool]) -> dict[str, str] | None:
    return next((dict(point.values) for point, there in zip(curve, holds, strict=True) if there), None)


def _most_shown(n: int, target: float, alpha: float) -> int:
    """Return the most failures out of n that show the target to be met at a look of many; -1 where none would."""
    low, high = -1, n + 1  # shown at low, not at high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if shown(middle, n, target, alpha) else (low, middle)
    return low
