"""Uncertain numbers in, what each does by itself out: every strategy at the low and the high end of each.

All points share their luck, so the difference between the two ends is the number's doing; its interval is of
pairs. Bars are ordered by swing, the distance between the highest and the lowest of the three estimates (low,
likely, high): the same as the distance of the ends, but where the likely value lies outside of these.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.drivers.points import MEASURES, Evaluate, Responses, Table
from o2sim.questions.drivers.values import Values, likely_values
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.estimator import Estimator, Summary
from o2sim.statistics.intervals import Interval, newcombe_paired, paired_t
from o2sim.typed import as_json

ENDS = ("low", "high")


def one_at_a_time(items: Sequence[Uncertain], evaluate: Evaluate, estimator: Estimator) -> Summary:
    """Return {strategy: {best_guess, bars}} with the bars by measure in order of swing; JSON-ready.

    The bars of a measure are {field, low, high, swing, difference, beyond_luck, bends}: the estimates at the two
    ends, and high less low with its paired interval. Where Ctrl-C left not all points, numbers without both ends
    are left out.
    """
    answers = evaluate(_points(items))
    return {
        name: {
            "best_guess": {measure: estimate(estimator, measure, table[0]) for measure, table in tables.items()},
            "bars": {
                measure: _bars(items, answers, estimator, (name, measure))
                for measure in MEASURES
                if measure in tables
            },
        }
        for name, tables in answers.by_strategy.items()
    }


def estimate(estimator: Estimator, measure: str, column: Table) -> Summary:
    """Return a measure's estimate with its interval from one value a replication, shape (n,)."""
    if measure == CHANCE:
        return _plain(estimator.probability(column > 0))
    return _plain(estimator.mean(column, least=-np.inf if measure == COST else 0.0))


def middle(entry: Mapping[str, Any]) -> float:
    """Return the estimate in an entry, whatever kind it is."""
    return float(entry["estimate"] if "estimate" in entry else entry["mean"])


def _points(items: Sequence[Uncertain]) -> Values:
    """Return the best guess, then low and high of each number, shape (1 + 2 k, k)."""
    base = likely_values(items)
    rows = [base]
    for place, item in enumerate(items):
        for number in (item.numbers[0], item.numbers[2]):
            row = base.copy()
            row[place] = number
            rows.append(row)
    return np.array(rows)


def _bars(
    items: Sequence[Uncertain], answers: Responses, estimator: Estimator, what: tuple[str, str]
) -> list[Summary]:
    name, measure = what
    table = answers.by_strategy[name][measure]
    guess = float(table[0].mean())
    found = []
    for place, item in enumerate(items):
        rows = 1 + 2 * place, 2 + 2 * place
        if rows[1] >= answers.points:
            break
        low, high = table[rows[0]], table[rows[1]]
        middles = (float(low.mean()), guess, float(high.mean()))
        interval = _difference(measure, low, high, estimator.confidence)
        entry = _plain(estimator.difference(interval, len(low)))
        found.append(
            {
                "field": item.path,
                "low": {"value": item.texts[0], **estimate(estimator, measure, low)},
                "high": {"value": item.texts[2], **estimate(estimator, measure, high)},
                "swing": max(middles) - min(middles),
                "difference": entry,
                "beyond_luck": entry["low"] is not None and not entry["low"] <= 0 <= entry["high"],
                "bends": not min(middles[0], middles[2]) <= guess <= max(middles[0], middles[2]),
            }
        )
    return sorted(found, key=lambda bar: -bar["swing"])  # ties stay in the order of the file


def _difference(measure: str, low: Table, high: Table, confidence: float) -> Interval:
    """Return high less low, over the same replications."""
    if measure != CHANCE:
        return paired_t(low, high, confidence)
    a, b = low > 0, high > 0
    counts = (int(np.sum(a & b)), int(np.sum(a & ~b)), int(np.sum(~a & b)), int(np.sum(~a & ~b)))
    return newcombe_paired(*counts, confidence)


def matters_most(result: dict[str, Any], strategy: str) -> tuple[str, list[Summary]]:
    """Return the measure by which a strategy is told, and its bars: by chance, or hours where chance is the same.

    A strategy that fails in every replication at every end, or in none, is told apart by its hours alone.
    """
    bars = result[strategy]["bars"]
    measure = CHANCE if any(bar["swing"] > 0 for bar in bars[CHANCE]) else SUPPLY_HOURS
    return measure, bars[measure]


def _plain(found: Probability | Mean) -> Summary:
    plain: Summary = as_json(found)
    return plain
