"""Draw the cost of options against their reliability: the frontier numbered, dominated ones grey."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from o2sim.errors import O2simError
from o2sim.looks import doubt, unbought
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, GREY, ORANGE, PLAIN, RED, SMALL, above, narrow_figure
from o2sim.looks.words import joined, money, number
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.choose.result import Decision, Ends
from o2sim.questions.choose.text import chance_words, counts_money, described
from o2sim.shown import Chart, chart


@chart.register
def _comparison(result: Comparison) -> Chart:
    if result.study.joint is not None:  # over draws nothing is chosen: the strategies side by side
        return chart(result.study, of="chances", strategy="")
    if not result.frontier:
        raise O2simError("chart: the scenario states no prices, so there is no cost to draw reliability against")
    return frontier(result.decided)


@mpl.rc_context(PLAIN)
def frontier(decision: Decision) -> Picture:
    """Return the options by cost a year and reliability; those of the frontier are numbered, and named below."""
    options, names, by_chance = decision.options, list(decision.frontier), decision.by_chance
    scale = 100 if by_chance else 1
    points = {name: (each.annual_cost or 0.0, scale * decision.value(name)) for name, each in options.items()}
    key = _key([f"{described(decision, name)}{unbought.shortly(options[name].unbought)}" for name in names])
    figure, axes = narrow_figure(3.9 + 0.17 * key.count("\n"))
    _bars(axes, decision, points, scale)
    dominated = [name for name in options if name not in names]
    _marks(axes, decision, points, dominated, {"s": 26, "edgecolors": GREY, "zorder": 3}, "#BBBBBB", "dominated")
    axes.plot(*zip(*(points[name] for name in names), strict=True), color=BLUE, drawstyle="steps-post", zorder=2)
    _marks(axes, decision, points, names, {"s": 46, "edgecolors": BLUE, "zorder": 4}, BLUE, "frontier, by number")
    if not all(option.sure for option in options.values()):
        axes.scatter([], [], s=36, facecolors="white", edgecolors=BLACK, label="hollow: not sure")
    for place, name in enumerate(names, 1):
        axes.annotate(str(place), points[name], (7, 5), textcoords="offset points", size=9, weight="bold")
    ring: dict[str, Any] = {
        "s": 170,
        "facecolors": "none",
        "edgecolors": RED,
        "linewidths": 2,
        "clip_on": False,
        "zorder": 5,
    }
    axes.scatter(*([part] for part in points[decision.chosen]), label="chosen", **ring)
    if decision.limits.budget is not None:
        axes.axvline(decision.limits.budget, color=BLACK, linestyle=":", label="budget a year")
    if decision.limits.target is not None and by_chance:
        axes.axhline(100 * decision.limits.target, color=ORANGE, linestyle="--", label="target")
    axes.set_ylim(bottom=0)
    axes.margins(x=0.06)
    axes.grid(color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_locator(MaxNLocator(5))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    below = f"cost a year, {decision.currency}\nbars: {doubt.CHANCE_ONLY}\n{key}"
    axes.set_xlabel(below, linespacing=1.5, fontsize=SMALL, loc="left")
    above(axes, "chance of a supply shortfall, %" if by_chance else "unserved patient-hours a year")
    figure.legend(loc="outside lower left", ncols=3, frameon=False, fontsize=SMALL)
    sure = sum(bool(option.sure) for option in options.values())
    alt = (
        f"{len(options)} options by cost, to the right, and "
        f"{'chance of a supply shortfall' if by_chance else 'unserved hours'}, upwards. On the frontier, from "
        f"cheap to dear: {joined([_in_words(decision, name) for name in names])}. "
        f"{sure} of the {len(options)} marks are sure."
    )
    level = f"{100 * decision.confidence:g} %"
    note = (
        "Down and to the left is better. Grey options cost more than one of the frontier and are no more "
        f"reliable. Bars are the {level} interval of each option alone ({doubt.CHANCE_ONLY}); all met the same "
        "luck, so two may differ "
        f"clearly though their bars overlap. A filled mark is sure, all filled ones together with {level} "
        "confidence; a hollow one may change with more replications."
    )
    note += f" {unbought.NOTE}" if counts_money(decision) else ""
    return Picture("frontier", "Cost against reliability", alt, note, figure)


def _bars(axes: Axes, decision: Decision, points: Mapping[str, tuple[float, float]], scale: int) -> None:
    """Draw the interval of each option, in cost and in reliability, where there is one."""
    label = f"{100 * decision.confidence:g} % interval"
    for name, (x, y) in points.items():
        intervals = decision.options[name].intervals
        cost, value = intervals.annual_cost or Ends(None, None), getattr(intervals, decision.measure)
        looks: dict[str, Any] = {
            "color": "#7FB2D9" if name in decision.frontier else "#C8C8C8",
            "lw": 1.3,
            "zorder": 1,
        }
        if value.low is not None:
            axes.plot([x, x], [scale * value.low, scale * value.high], label=label, **looks)
            label = "_"
        if cost.low is not None and cost.high is not None:
            axes.plot([cost.low, cost.high], [y, y], **looks)


def _marks(
    axes: Axes,
    decision: Decision,
    points: Mapping[str, tuple[float, float]],
    names: Sequence[str],
    looks: Mapping[str, Any],
    colour: str,
    label: str,
) -> None:
    """Draw the points of some options, filled where their mark is sure."""
    for name in names:
        filled = colour if decision.options[name].sure else "white"
        axes.scatter(*([part] for part in points[name]), facecolors=filled, clip_on=False, **looks)
    if names:
        axes.scatter([], [], facecolors=colour, label=label, **looks)


def _key(names: list[str]) -> str:
    lines = [f"{place}  {name}" for place, name in enumerate(names, 1)]
    return "\n".join(part for line in lines for part in wrap(line, 56, subsequent_indent="    "))


def _in_words(decision: Decision, name: str) -> str:
    value = decision.value(name)
    said = chance_words(value) if decision.by_chance else f"{number(value)} hours"
    option = decision.options[name]
    lacking = unbought.shortly(option.unbought)
    return f"{name} ({money(option.annual_cost or 0.0, decision.currency)}{lacking}, {said})"
