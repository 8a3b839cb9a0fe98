"""A result in, a drawing of it out, with a title and what it shows in words, for a notebook."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from o2sim.errors import O2simError
from o2sim.looks import (
    doubt,
)
from o2sim.looks.words import percent
from o2sim.measures.measures import summarise
from o2sim.questions.choose import (
    chart as decision_chart,
)
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.compare.convergence_chart import settled
from o2sim.questions.compare.headline import leading_strategy
from o2sim.questions.drivers import (
    charts as drivers_charts,
)
from o2sim.questions.drivers import (
    text as drivers_text,
)
from o2sim.questions.drivers.drivers import Drivers
from o2sim.questions.report import (
    charts as report_charts,
)
from o2sim.questions.report.charts import Picture
from o2sim.questions.size import (
    text as sizing,
)
from o2sim.questions.size.chart import sizing_chart
from o2sim.questions.size.sizing import Sizing
from o2sim.questions.whatif import (
    charts as whatif_charts,
)
from o2sim.questions.whatif import (
    text as whatif,
)
from o2sim.questions.whatif.whatif import WhatIf
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
        "chances": lambda: report_charts.chances(summary),
        "hours": lambda: report_charts.hours(summary),
        "costs": lambda: report_charts.costs(summary, currency),
        "trade": lambda: report_charts.trade(summary, currency),
        "stock": lambda: report_charts.stock(result, name),
        "season": lambda: report_charts.season(result),
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
    if of == "season" and not report_charts.FEWEST_DAYS <= days <= LEAP_YEAR:
        raise O2simError("chart: a season is drawn over two months to a year; the horizon is shorter or longer")
    if of == "stock" and study.scenario.hospitals[name].cylinders is None:
        raise O2simError(f"chart: {name!r} has no cylinders, so there is no stock to draw")


@chart.register
def _comparison(result: Comparison) -> Picture:
    if not result.frontier:
        raise O2simError("chart: the scenario states no prices, so there is no cost to draw reliability against")
    return decision_chart.frontier(result.decision)


@chart.register
def _sizing(result: Sizing) -> Picture:
    said = result.result
    figure = sizing_chart(said)
    alt = f"{sizing.answer_lines(said)[0]} " + " ".join(
        f"{', '.join(point['values'].values())}: {percent(point['estimate'])}." for point in said["curve"][:12]
    )
    return Picture(
        "size", "How much is enough?", alt, f"The band holds for each value by itself: {doubt.held(said)}.", figure
    )


@chart.register
def _whatif(result: WhatIf, of: str = "lines", measure: str = "chance") -> Picture:
    said = result.result
    if of not in ("lines", "heat") or measure not in whatif_charts.MEASURES:
        raise O2simError(
            f"chart: found of={of!r}, measure={measure!r}; allowed: lines or heat, and "
            f"{', '.join(whatif_charts.MEASURES)}"
        )
    count = 1
    for each in said["vary"]:
        count *= len(each["values"])
    if count != len(said["points"]) and (of == "heat" or len(said["vary"]) > 1):
        raise O2simError("chart: the combinations that were run are no grid; draw them from to_frame()")
    figure = whatif_charts.heat_map(said, measure) if of == "heat" else whatif_charts.lines(said, measure)
    what = whatif_charts.MEASURES[measure][1]
    alt = f"{what[0].upper()}{what[1:]} of each strategy. {whatif.asked(said)}"
    note = f"Bands and brackets: {percent(said['confidence'])} interval, each point by itself: {doubt.held(said)}."
    return Picture("whatif", "What if?", alt, note, figure)


@chart.register
def _drivers(result: Drivers, measure: str = "chance") -> Picture:
    said = result.result
    if measure not in drivers_charts.MEASURES:
        raise O2simError(f"chart: found measure={measure!r}; allowed: {', '.join(drivers_charts.MEASURES)}")
    figure = drivers_charts.draw(said, measure)
    alt = f"{drivers_text.asked(said)} {' '.join(drivers_text.sentences(said))}"
    note = drivers_text.held(said)
    return Picture("drivers", "What drives the answer?", alt, note, figure)
