"""The decision over options in, the drawing of cost against reliability out: frontier, dominated ones greyed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from o2sim.looks import doubt
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, GREY, ORANGE, PLAIN, RED, SMALL, above, narrow_figure
from o2sim.looks.words import joined, money, number
from o2sim.measures.names import CHANCE
from o2sim.questions.choose.text import chance_words, described


@mpl.rc_context(PLAIN)
def frontier(decision: Mapping[str, Any]) -> Picture:
    """Return the options by cost a year and reliability; those of the frontier are numbered, and named below."""
    options, names, measure = decision["options"], decision["frontier"], decision["measure"]
    scale = 100 if measure == CHANCE else 1
    points = {name: (fact["annual_cost"], scale * fact[measure]) for name, fact in options.items()}
    key = _key([described(decision, name) for name in names])
    figure, axes = narrow_figure(3.9 + 0.17 * key.count("\n"))
    _bars(axes, decision, points, scale)
    dominated = [name for name in options if name not in names]
    _marks(axes, decision, points, dominated, {"s": 26, "edgecolors": GREY, "zorder": 3}, "#BBBBBB", "dominated")
    axes.plot(*zip(*(points[name] for name in names), strict=True), color=BLUE, drawstyle="steps-post", zorder=2)
    _marks(axes, decision, points, names, {"s": 46, "edgecolors": BLUE, "zorder": 4}, BLUE, "frontier, by number")
    if not all(fact["sure"] for fact in options.values()):
        axes.scatter([], [], s=36, facecolors="white", edgecolors=BLACK, label="hollow: not sure")
    for place, name in enumerate(names, 1):
        axes.annotate(str(place), points[name], (7, 5), textcoords="offset points", size=9, weight="bold")
    chosen = points[decision["chosen"]]
    axes.scatter(
        [chosen[0]],
        [chosen[1]],
        s=170,
        facecolors="none",
        edgecolors=RED,
        linewidths=2,
        label="chosen",
        clip_on=False,
        zorder=5,
    )
    limits = decision["limits"]
    if limits["budget"] is not None:
        axes.axvline(limits["budget"], color=BLACK, linestyle=":", label="budget a year")
    if limits["target"] is not None and measure == CHANCE:
        axes.axhline(100 * limits["target"], color=ORANGE, linestyle="--", label="target")
    axes.set_ylim(bottom=0)
    axes.margins(x=0.06)
    axes.grid(color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_locator(MaxNLocator(5))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    axes.set_xlabel(
        f"cost a year, {decision['currency']}\nbars: {doubt.CHANCE_ONLY}\n{key}",
        linespacing=1.5,
        fontsize=SMALL,
        loc="left",
    )
    above(axes, "chance of a stock-out, %" if measure == CHANCE else "unserved patient-hours a year")
    figure.legend(loc="outside lower left", ncols=3, frameon=False, fontsize=SMALL)
    alt = (
        f"{len(options)} options by cost, to the right, and "
        f"{'chance of a stock-out' if measure == CHANCE else 'unserved hours'}, upwards. On the frontier, from "
        f"cheap to dear: {joined([_told(decision, name) for name in names])}."
    )
    sure = sum(bool(fact["sure"]) for fact in options.values())
    alt += f" {sure} of the {len(options)} marks are sure."
    level = f"{100 * decision['confidence']:g} %"
    note = (
        "Down and to the left is better. Grey options cost more than one of the frontier and are no more "
        f"reliable. Bars are the {level} interval of each option alone ({doubt.CHANCE_ONLY}); all met the same "
        "luck, so two may be told "
        f"apart though their bars overlap. A filled mark is sure, all filled ones together with {level} "
        "confidence; a hollow one may change with more replications."
    )
    return Picture("frontier", "Cost against reliability", alt, note, figure)


def _bars(axes: Axes, decision: Mapping[str, Any], points: Mapping[str, tuple[float, float]], scale: int) -> None:
    """Draw the interval of each option, in cost and in reliability, where there is one."""
    label = f"{100 * decision['confidence']:g} % interval"
    for name, (x, y) in points.items():
        intervals = decision["options"][name]["intervals"]
        cost, value = intervals["annual_cost"], intervals[decision["measure"]]
        colour = "#7FB2D9" if name in decision["frontier"] else "#C8C8C8"
        if value["low"] is not None:
            axes.plot(
                [x, x], [scale * value["low"], scale * value["high"]], color=colour, lw=1.3, zorder=1, label=label
            )
            label = "_"
        if cost["low"] is not None:
            axes.plot([cost["low"], cost["high"]], [y, y], color=colour, lw=1.3, zorder=1)


def _marks(
    axes: Axes,
    decision: Mapping[str, Any],
    points: Mapping[str, tuple[float, float]],
    names: Sequence[str],
    looks: Mapping[str, Any],
    colour: str,
    label: str,
) -> None:
    """Draw the points of some options, filled where their mark is sure."""
    for name in names:
        x, y = points[name]
        filled = colour if decision["options"][name]["sure"] else "white"
        axes.scatter([x], [y], facecolors=filled, clip_on=False, **looks)
    if names:
        axes.scatter([], [], facecolors=colour, label=label, **looks)


def _key(names: list[str]) -> str:
    lines = [f"{place}  {name}" for place, name in enumerate(names, 1)]
    return "\n".join(part for line in lines for part in wrap(line, 56, subsequent_indent="    "))


def _told(decision: Mapping[str, Any], name: str) -> str:
    fact = decision["options"][name]
    value = fact[decision["measure"]]
    said = chance_words(value) if decision["measure"] == CHANCE else f"{number(value)} hours"
    return f"{name} ({money(fact['annual_cost'], decision['currency'])}, {said})"
