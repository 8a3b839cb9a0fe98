"""A file's figure at its likely values, with every number at its cheaper or dearer end, and over joint draws."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from o2sim.questions.drivers.nested import shares
from o2sim.questions.drivers.values import at_shares, likely_values, texts_of
from o2sim.questions.whatif.point_runs import PointTable, run_points
from o2sim.scenario.changing.override import Original, original
from o2sim.scenario.changing.ranges import at_texts
from o2sim.scenario.types.hospital import Scenario

DRAWS, REPLICATIONS, SEED, LAW = 200, 4, 1, "triangular"
HELD = 0.9  # of the draws lies within the range
Point = Mapping[str, PointTable]
Figure = Callable[[Point], float]


@dataclass(frozen=True)
class Over:
    """One figure over what was assumed: its corners, the range that holds HELD of the draws, and the draws."""

    likely: float
    cheapest: float
    low: float
    middle: float
    high: float
    dearest: float
    draws: tuple[float, ...]

    def times(self, factor: float) -> Over:
        """Return the same in another unit."""
        ends = (
            getattr(self, name) * factor for name in ("likely", "cheapest", "low", "middle", "high", "dearest")
        )
        return Over(*ends, tuple(each * factor for each in self.draws))


def per_litre(strategy: str) -> Figure:
    """Return the figure of a strategy: money a year over litres needed a year, means over the replications."""

    def money(point: Point) -> float:
        table = point[strategy]
        assert table.cost is not None
        return float(table.cost.mean() / table.litres_needed.mean())

    return money


def ratio(one: str, other: str) -> Figure:
    """Return the money of one strategy over that of another, under the same patients."""

    def money(point: Point) -> float:
        return per_litre(one)(point) / per_litre(other)(point)

    return money


def served(point: Point, strategy: str) -> float:
    """Return the share of the litres needed that a strategy delivers."""
    table = point[strategy]
    return float(table.litres_delivered.mean() / table.litres_needed.mean())


def scenarios(kept: Original, rows: Sequence[np.ndarray]) -> list[Scenario]:
    """Return the scenario at each row of values for its uncertain numbers."""
    return [at_texts(kept, texts_of(kept.scenario.uncertain, row), move_levels=True) for row in rows]


def drawn(kept: Original) -> np.ndarray:
    """Return DRAWS joint draws of all uncertain numbers, as `o2sim drivers --method nested` draws them."""
    items = kept.scenario.uncertain
    return at_shares(items, shares(len(items), DRAWS, SEED), LAW)


def over_ranges(file: Path, figures: Mapping[str, Figure]) -> tuple[dict[str, Over], Point]:
    """Return each figure over the ranges of a file, and the tables at its likely values."""
    kept = original(file)
    likely, ends = likely_values(kept.scenario.uncertain), _one_at_a_time(kept)
    points = _run(kept, [likely, *ends, *drawn(kept)])
    alone, draws = points[1 : 1 + len(ends)], points[1 + len(ends) :]
    corners = _run(kept, [row for each in figures.values() for row in _corners(each, ends, alone)])
    found = {}
    for place, (name, each) in enumerate(figures.items()):
        values = np.array([each(point) for point in draws])
        low, middle, high = np.quantile(values, [(1 - HELD) / 2, 0.5, (1 + HELD) / 2])
        cheapest, dearest = (each(point) for point in corners[2 * place : 2 * place + 2])
        found[name] = Over(each(points[0]), cheapest, low, middle, high, dearest, tuple(values))
    return found, points[0]


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
    return list(run_points(scenarios(kept, rows), None, REPLICATIONS, SEED, "kernel"))
