"""A drawing of the answer, with a title and what it shows in words."""

from __future__ import annotations

from o2sim.errors import O2simError
from o2sim.looks.blocks import Picture
from o2sim.questions.choose import (
    chart as decision_chart,
)
from o2sim.questions.choose.comparison import Comparison
from o2sim.shown import chart


@chart.register
def _comparison(result: Comparison) -> Picture:
    if not result.frontier:
        raise O2simError("chart: the scenario states no prices, so there is no cost to draw reliability against")
    return decision_chart.frontier(result.decision)
