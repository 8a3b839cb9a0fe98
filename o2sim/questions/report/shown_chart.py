"""A drawing of the answer, with a title and what it shows in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from o2sim.errors import O2simError
from o2sim.looks.blocks import Picture
from o2sim.looks.convergence_chart import settled
from o2sim.measures.measures import summarise
from o2sim.questions.compare.headline import leading_strategy
from o2sim.questions.report import charts, charts_over_time
from o2sim.runs.study import Study
from o2sim.scenario.types.hospital import DAY_S
from o2sim.shown import chart

LEAP_YEAR = 366  # days


@chart.register
def _study(result: Study, of: str = "chances", strategy: str = "") -> Picture:
    summary = summarise(result)
    name = strategy or leading_strategy(summary)
    if name not in result.outcomes:
        raise O2simError(f"chart: no strategy is named {name!r}; known: {', '.join(result.outcomes)}")
    currency = str(summary["currency"] or "")
    _require(result, of, currency, name)
    makers: Mapping[str, Callable[[], Picture]] = {
        "chances": lambda: charts.chances(summary),
        "hours": lambda: charts.hours(summary),
        "costs": lambda: charts.costs(summary, currency),
        "trade": lambda: charts.trade(summary, currency),
        "stock": lambda: charts_over_time.stock(result, name),
        "season": lambda: charts_over_time.season(result),
        "convergence": lambda: settled(result),
    }
    if of not in makers:
        raise O2simError(f"chart: found of={of!r}; allowed: {', '.join(makers)}")
    return makers[of]()


def _require(study: Study, of: str, currency: str, name: str) -> None:
    """Raise O2simError where there is nothing to draw."""
    if of in ("costs", "trade") and not currency:
        raise O2simError(f"chart: the scenario states no prices, so there are no {of} to draw")
    days = study.scenario.hospitals[name].horizon_s / DAY_S
    if of == "season" and not charts_over_time.FEWEST_DAYS <= days <= LEAP_YEAR:
        raise O2simError("chart: a season is drawn over two months to a year; the horizon is shorter or longer")
    if of == "stock" and study.scenario.hospitals[name].cylinders is None:
        raise O2simError(f"chart: {name!r} has no cylinders, so there is no stock to draw")
