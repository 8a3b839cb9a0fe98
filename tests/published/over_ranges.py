"""A file's figure at its likely values, with every number at its cheaper or dearer end, and over joint draws."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from o2sim.money.cheque import capital
from o2sim.questions.drivers.nested import shares
from o2sim.questions.drivers.values import at_shares, likely_values, texts_of
from o2sim.questions.whatif.point_runs import PointTable, run_points
from o2sim.scenario.changing.override import Original, original
from o2sim.scenario.changing.ranges import at_texts
from o2sim.scenario.types.hospital import Scenario

DRAWS, REPLICATIONS, SEED, LAW = 200, 4, 1, "triangular"
HELD = 0.9  # of the draws lies within the range


@dataclass(frozen=True)
class Point:
    """The scenario at some values of its uncertain numbers, and what its strategies gave, by name."""

    scenario: Scenario
    tables: Mapping[str, PointTable]


Figure = Callable[[Point], float]


@dataclass(frozen=True)
class Over:
    """One figure over what was assumed: its corners, the range that holds HELD of the draws, and what moves it.

    swings: by uncertain number, how far the figure moves from its low to its high with all others likely.
    """

    likely: float
    cheapest: float
    low: float
    high: float
    dearest: float
    swings: Mapping[str, float]

    @property
    def moved_most_by(self) -> str:
        """Return the uncertain number that alone moves the figure most."""
        return max(self.swings, key=lambda path: self.swings[path])


def per_litre(strategy: str) -> Figure:
    """Return the figure of a strategy: hundredths of the currency over litres needed, means over replications."""

    def cents(point: Point) -> float:
        table = point.tables[strategy]
        assert table.cost is not None
        return float(100 * table.cost.mean() / table.litres_needed.mean())

    return cents


def ratio(one: str, other: str) -> Figure:
    """Return the money of one strategy over that of another, under the same patients."""
    return lambda point: per_litre(one)(point) / per_litre(other)(point)


def bought(strategy: str) -> Figure:
    """Return the money for what a strategy buys to begin with."""
    return lambda point: capital(point.scenario.hospitals[strategy])


def scenarios(kept: Original, rows: Sequence[np.ndarray]) -> list[Scenario]:
    """Return the scenario at each row of values for its uncertain numbers."""
    return [at_texts(kept, texts_of(kept.scenario.uncertain, row), move_levels=True) for row in rows]


def drawn(kept: Original) -> np.ndarray:
    """Return DRAWS joint draws of all uncertain numbers, as `o2sim drivers --method nested` draws them."""
    items = kept.scenario.uncertain
    return at_shares(items, shares(len(items), DRAWS, SEED), LAW)


def over_ranges(file: Path, figures: Mapping[str, Figure]) -> dict[str, Over]:
    """Return each figure over the ranges of a file."""
    kept = original(file)
    items = kept.scenario.uncertain
    likely, ends = likely_values(items), _one_at_a_time(kept)
    guess, *points = _run(kept, [likely, *ends, *drawn(kept)])
    alone, draws = points[: len(ends)], points[len(ends) :]
    corners = _run(kept, [row for each in figures.values() for row in _corners(each, ends, alone)])
    found = {}
    for place, (name, each) in enumerate(figures.items()):
        low, high = np.quantile([each(point) for point in draws], [(1 - HELD) / 2, (1 + HELD) / 2])
        cheapest, dearest = map(each, corners[2 * place : 2 * place + 2])
        moves = [abs(each(more) - each(less)) for less, more in zip(alone[::2], alone[1::2], strict=True)]
        swings = {item.path: move for item, move in zip(items, moves, strict=True)}
        found[name] = Over(each(guess), cheapest, float(low), float(high), dearest, swings)
    return found


def _one_at_a_time(kept: Original) -> list[np.ndarray]:
    """Return the likely values with each number in turn at its low, then at its high."""
    likely, rows = likely_values(kept.scenario.uncertain), []
    for place, item in enumerate(kept.scenario.uncertain):
        for end in (item.numbers[0], item.numbers[2]):
            rows.append(likely.copy())
            rows[-1][place] = end
    return rows


def _corners(figure: Figure, ends: Sequence[np.ndarray], points: Sequence[Point]) -> tuple[np.ndarray, np.ndarray]:
    """Return the values with every number at the end that, alone, makes the figure less; and more."""
    numbers = len(ends) // 2
    cheapest, dearest = np.empty(numbers), np.empty(numbers)
    for place in range(numbers):
        low, high = 2 * place, 2 * place + 1
        less, more = (low, high) if figure(points[low]) <= figure(points[high]) else (high, low)
        cheapest[place], dearest[place] = ends[less][place], ends[more][place]
    return cheapest, dearest


def _run(kept: Original, rows: Sequence[np.ndarray]) -> list[Point]:
    there = scenarios(kept, rows)
    tables = run_points(there, None, REPLICATIONS, SEED, "kernel")
    return [Point(*each) for each in zip(there, tables, strict=True)]
