"""Find what luck alone may separate in a what-if: strategies at a point, and values of a field.

All points share their luck, so everything is compared replication by replication. The allowed error is shared
among all comparisons of a kind (Bonferroni): with the stated confidence all that is called clearly different is
so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.whatif.point_runs import Column, PointTable
from o2sim.questions.whatif.result import Clear, Joined, Leader, PointLeaders, Values
from o2sim.scenario.changing.levers import Lever
from o2sim.statistics.pairwise import Arms, apart, joined
from o2sim.statistics.selection import select_best

COMPARED = (CHANCE, SUPPLY_HOURS, COST)
Tables = Sequence[Mapping[str, PointTable]]


def along(levers: Sequence[Lever], wanted: Sequence[Values]) -> Iterator[tuple[Lever, Values, list[int]]]:
    """Yield each field with each setting of the others, and the places of its points in rising order."""
    for axis in levers:
        order = dict(zip(axis.values, axis.numbers or range(len(axis.values)), strict=True))
        lines: dict[tuple[tuple[str, str], ...], list[tuple[float, int]]] = {}
        for place, values in enumerate(wanted):
            others = tuple((path, text) for path, text in values.items() if path != axis.path)
            lines.setdefault(others, []).append((order[values[axis.path]], place))
        for others, line in lines.items():
            yield axis, dict(others), [place for _, place in sorted(line)]


def clear(levers: Sequence[Lever], wanted: Sequence[Values], tables: Tables, confidence: float) -> Clear:
    """Return who leads at each point and how clearly, and which values of each field are joined."""
    measures = [name for name in COMPARED if all(name in each.measures for row in tables for each in row.values())]
    strategies = list(tables[0])
    lines = [(axis, at, places) for axis, at, places in along(levers, wanted) if len(places) > 1]
    of_values = len(measures) * len(strategies) * sum(len(p) * (len(p) - 1) // 2 for *_, p in lines)
    of_strategies = len(measures) * len(wanted) * len(strategies) * (len(strategies) - 1)
    error = (1 - confidence) / max(1, of_values)
    groups = [
        Joined(
            axis.path,
            at,
            name,
            measure,
            _groups(axis, wanted, places, _arms(tables, places, name, measure), error),
        )
        for axis, at, places in lines
        for name in strategies
        for measure in measures
    ]
    level = 1 - (1 - confidence) / (len(measures) * len(wanted))
    leaders = [
        PointLeaders(values, {measure: _leader(row, measure, level) for measure in measures})
        for values, row in zip(wanted, tables, strict=True)
    ]
    return Clear(
        confidence, of_strategies, of_values, tuple(leaders if len(strategies) > 1 else ()), tuple(groups)
    )


def _column(table: PointTable, measure: str) -> Column | Arms:
    """Return one measure by replication, shape (n,); the chance as yes or no."""
    return table.stock_out if measure == CHANCE else table.measures[measure]


def _arms(tables: Tables, places: Sequence[int], name: str, measure: str) -> Arms:
    return np.array([_column(tables[place][name], measure) for place in places])


def _groups(
    axis: Lever, wanted: Sequence[Values], places: Sequence[int], arms: Arms, error: float
) -> tuple[tuple[str, ...], ...]:
    """Return the values in their order, those together of which no two are clearly different."""
    texts = [wanted[place][axis.path] for place in places]
    return tuple(tuple(texts[place] for place in group) for group in joined(apart(arms, error)))


def _leader(row: Mapping[str, PointTable], measure: str, confidence: float) -> Leader:
    found = select_best({name: _column(table, measure) for name, table in row.items()}, confidence)
    return Leader(found.best, found.not_told_apart)
