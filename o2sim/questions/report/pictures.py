"""Which drawings a report has, and which of them stands on its first page."""

from __future__ import annotations

from dataclasses import replace

from o2sim.looks.blocks import Picture
from o2sim.questions.report.charts import of_strategies
from o2sim.questions.report.charts_over_time import months_of, season, stock
from o2sim.questions.report.chosen import About
from o2sim.runs.days import midnights

FRONTIER_NOTE = "Down and to the left is better; the ring marks what was chosen. More on it under “Which to buy”."


def pictures(shown: About) -> list[Picture]:
    """Return the drawings in the order of the page, first the one that shows the decision."""
    first = frontier_of(shown)
    found = of_strategies(shown.summary, shown.currency)
    if first is None:  # what more money buys, where there is a choice; else the chances
        first = found.pop() if found[-1].name == "trade" else found.pop(0)
    chosen, hospital = shown.chosen, shown.study.scenario.hospitals[shown.chosen]
    if hospital.cylinders is not None and midnights(shown.study, chosen).days > 1:
        found.append(stock(shown.study, chosen, chosen))
    if len(months_of(shown.study)) > 1:
        found.append(season(shown.study, chosen))
    return [first, *found]


def frontier_of(shown: About) -> Picture | None:
    """Return the options by cost and reliability with the chosen one ringed; None where none has a price."""
    decision = shown.decision
    if decision is None or not decision.frontier or len(decision.options) < 2:
        return None
    from o2sim.questions.choose.charts import frontier

    return replace(frontier(decision), note=FRONTIER_NOTE)
