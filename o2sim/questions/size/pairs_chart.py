"""The chance by pair of levels: each with its interval, the target, the answer and those of the file."""

from __future__ import annotations

from collections.abc import Sequence

import matplotlib as mpl
from matplotlib.figure import Figure

from o2sim.looks.drawing import BLACK, BLUE, GREEN, GREY, PLAIN, RED
from o2sim.looks.words import is_year, percent, span
from o2sim.questions.size.chart_scale import chances_along
from o2sim.questions.size.result import Point, SizingResult

A_PAIR = 0.2  # inches
AROUND = 2.6  # inches, for title, axis and legend


@mpl.rc_context(PLAIN)
def pairs_chart(result: SizingResult, title: Sequence[str]) -> Figure:
    """Return the chance of every pair that was tried, the lowest levels at the top."""
    path, points = result.vary[0].field, result.curve
    figure = Figure(figsize=(8.0, AROUND + A_PAIR * len(points)), layout="constrained")
    axes = figure.add_subplot()
    now = "" if result.better_rule is None else result.better_rule.present.levels
    named = set()
    for row, point in enumerate(points):
        color, label = _look(point, path, result, now)
        axes.hlines(row, 100 * point.low, 100 * point.high, color=color, linewidth=1.4, alpha=0.6)
        axes.plot(100 * point.estimate, row, color=color, marker="o", markersize=4, linestyle="",
                  label=label if label not in named else "")  # fmt: skip
        named.add(label)
    target = 100 * result.target
    axes.axvline(target, color=RED, linewidth=1.2, linestyle="--", label=f"target {percent(result.target)}")
    axes.set_yticks(range(len(points)), [f"{point.values[path]}  ({point.replications:,})" for point in points])
    axes.invert_yaxis()
    chances_along("x", axes, target)
    days = result.horizon_days
    axes.set_xlabel(f"chance within {'a year' if is_year(days) else span(days)}")
    axes.set_ylabel("reorder point / order-up-to level (replications)")
    axes.set_title("\n".join(title), fontsize=10, loc="left")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    figure.legend(loc="outside lower center", ncols=2, frameon=False, fontsize=8)
    return figure


def _look(point: Point, path: str, result: SizingResult, now: str) -> tuple[str, str]:
    """Return the colour of a pair and its name in the legend."""
    if point.values == result.chosen:
        return GREEN, f"enough: {point.values[path]}"
    if point.values[path] == now:
        return BLACK, f"as in the file: {now}"
    briefly = point.replications < max(each.replications for each in result.curve)
    sure = percent(result.confidence)
    return (GREY, "looked at less often") if briefly else (BLUE, f"estimate, with its {sure} interval")
