"""Find what each uncertain number does by itself: every strategy at its low and at its high end.

All points share their luck, so the difference between the two ends is the number's doing; its interval is of
pairs. Bars are ordered by swing, the distance between the highest and the lowest of the three estimates (low,
likely, high): the same as the distance of the ends, but where the likely value lies outside of these.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.drivers.points import MEASURES, Evaluate, Table
from o2sim.questions.drivers.result import Bar, End, Tornado
from o2sim.questions.drivers.values import Values, likely_values
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.estimator import Estimator
from o2sim.statistics.intervals import Interval, newcombe_paired, paired_t


def one_at_a_time(items: Sequence[Uncertain], evaluate: Evaluate, estimator: Estimator) -> dict[str, Tornado]:
    """Return by strategy the best guess and the bars of each measure, in order of swing.

    Where Ctrl-C left not all points, numbers without both ends are left out.
    """
    return {
        name: Tornado(
            {measure: estimate(estimator, measure, table[0]) for measure, table in tables.items()},
            {m: _bars(items, tables[m], m, estimator) for m in MEASURES if m in tables},
        )
        for name, tables in evaluate(_points(items)).by_strategy.items()
    }


def estimate(estimator: Estimator, measure: str, column: Table) -> Probability | Mean:
    """Return a measure's estimate with its interval from one value a replication, shape (n,)."""
    if measure == CHANCE:
        return estimator.probability(column > 0)
    return estimator.mean(column, least=-np.inf if measure == COST else 0.0)


def _points(items: Sequence[Uncertain]) -> Values:
    """Return the best guess, then low and high of each number, shape (1 + 2 k, k)."""
    rows = np.tile(likely_values(items), (1 + 2 * len(items), 1))
    for place, item in enumerate(items):
        rows[1 + 2 * place : 3 + 2 * place, place] = item.numbers[0], item.numbers[2]
    return rows


def _bars(items: Sequence[Uncertain], table: Table, measure: str, estimator: Estimator) -> tuple[Bar, ...]:
    guess = float(table[0].mean())
    found = []
    for item, low, high in zip(items, table[1::2], table[2::2], strict=False):  # of a number cut short, no bar
        ends = float(low.mean()), float(high.mean())
        difference = estimator.difference(_difference(measure, low, high, estimator.confidence), len(low))
        at_low, at_high = (
            End(item.texts[place], **vars(estimate(estimator, measure, column)))
            for place, column in ((0, low), (2, high))
        )
        found.append(
            Bar(
                item.path,
                at_low,
                at_high,
                swing=max(*ends, guess) - min(*ends, guess),
                difference=difference,
                beyond_luck=_excludes_zero(difference),
                bends=not min(ends) <= guess <= max(ends),
            )
        )
    return tuple(sorted(found, key=lambda bar: -bar.swing))  # ties stay in the order of the file


def _excludes_zero(found: Mean) -> bool:
    return found.low is not None and found.high is not None and not found.low <= 0 <= found.high


def _difference(measure: str, low: Table, high: Table, confidence: float) -> Interval:
    """Return high less low, over the same replications."""
    if measure != CHANCE:
        return paired_t(low, high, confidence)
    a, b = low > 0, high > 0
    counts = (int(np.sum(a & b)), int(np.sum(a & ~b)), int(np.sum(~a & b)), int(np.sum(~a & ~b)))
    return newcombe_paired(*counts, confidence)


def matters_most(strategy: Tornado) -> tuple[str, tuple[Bar, ...]]:
    """Return the measure in which a strategy is described, and its bars: chance, or hours where no chance differs.

    A strategy that fails in every replication at every end, or in none, differs in its hours alone.
    """
    bars = strategy.bars
    measure = CHANCE if any(bar.swing > 0 for bar in bars[CHANCE]) else SUPPLY_HOURS
    return measure, bars[measure]
