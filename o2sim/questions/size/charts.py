"""The curve of chance against stock, with its band, target and answer."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

import matplotlib as mpl
import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from o2sim.errors import O2simError
from o2sim.looks import doubt
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLUE, GREEN, GREY, ORANGE, PLAIN, RED, SKY, clipped
from o2sim.looks.words import axis_words, is_year, joined, percent, span
from o2sim.questions.size.chart_scale import chances_along
from o2sim.questions.size.content import answer_lines
from o2sim.questions.size.pairs_chart import pairs_chart
from o2sim.questions.size.result import Point, SizingResult
from o2sim.questions.size.sizing import Sizing
from o2sim.scenario.changing.levers import design
from o2sim.shown import chart

MOST_MARKED = 60  # values: of more a line says the same
FEW = 3  # values: so few have bars, since a band between them shows little or nothing
A_LINE = 100  # letters across the drawing
RULE_LINES = ((ORANGE, (0, (1, 1.5))), (GREY, (0, (5, 2, 1, 2))))  # colour and dashes of each rule of thumb


@chart.register
def _sizing(result: Sizing) -> Picture:
    said = result.record
    figure = sizing_chart(said)
    alt = f"{' '.join(answer_lines(said)[:2])} " + " ".join(
        f"{', '.join(point.values.values())}: {percent(point.estimate)}." for point in said.curve[:12]
    )
    note = f"The band holds for each value by itself: {doubt.holds(said.interval_holds, said.draws)}."
    return Picture("size", "How much is enough?", alt, note, figure)


@mpl.rc_context(PLAIN)
def sizing_chart(result: SizingResult) -> Figure:
    """Return the chance by value of the field that is sized. Raises O2simError for several fields at once."""
    if len(result.vary) != 1:
        raise O2simError("a chart shows one field; for several write the table with --csv")
    if result.pairs:
        return pairs_chart(result, _title(result))
    path, unit = result.vary[0].field, result.vary[0].unit
    figure = Figure(figsize=(8.0, 4.9), layout="constrained")
    axes = figure.add_subplot()
    common, briefly = by_batch(result)
    numbers = _curve(axes, path, common, percent(result.confidence))
    chosen = dict(zip([point.values[path] for point in common], numbers, strict=True))
    _looked_at_briefly(axes, path, briefly)
    target = 100 * result.target
    axes.axhline(target, color=RED, linewidth=1.2, linestyle="--", label=f"target {percent(result.target)}")
    if result.chosen is not None:
        enough = result.chosen[path]
        axes.axvline(chosen[enough], color=GREEN, linewidth=1.5, label=f"enough: {enough}")
    for rule, (color, style) in zip(result.rules_of_thumb, RULE_LINES, strict=False):
        axes.axvline(rule.value, color=color, linewidth=1.4, linestyle=style,
                     label=f"rule of thumb, {rule.rule}: {rule.value}")  # fmt: skip
    _scales(axes, target, whole=not unit and all(number == round(number) for number in numbers))
    axes.set_xlabel(axis_words(path, unit))
    days = result.horizon_days
    axes.set_ylabel(f"chance within {'a year' if is_year(days) else span(days)}")
    axes.set_title("\n".join(_title(result)), fontsize=10, loc="left")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    figure.legend(loc="outside lower center", ncols=2, frameon=False, fontsize=8)
    return figure


def by_batch(result: SizingResult) -> tuple[list[Point], list[Point]]:
    """Return the points of the common batch, and those that were looked at less often and prove little.

    The replications of a point are the first ones, so as many are the same ones.
    """
    middle = result.chosen or (None if result.measured is None else result.measured.values)
    common = next(
        (point.replications for point in result.curve if point.values == middle),
        max(point.replications for point in result.curve),
    )
    return (
        [point for point in result.curve if point.replications == common],
        [point for point in result.curve if point.replications != common],
    )


def _numbers(path: str, points: Sequence[Point]) -> list[float]:
    """Return the values of points as numbers in the field's unit."""
    (asked,), _ = design([path], [[point.values[path]] for point in points])
    assert asked.numbers is not None
    return list(asked.numbers)


def _shares(points: Sequence[Point]) -> npt.NDArray[np.float64]:
    return np.array([[point.estimate, point.low, point.high] for point in points]) * 100


def _curve(axes: Axes, path: str, points: Sequence[Point], sure: str) -> list[float]:
    """Draw the points of one common batch with their band; return their values."""
    numbers, share = _numbers(path, points), _shares(points)
    axes.fill_between(numbers, share[:, 1], share[:, 2], color=SKY, alpha=0.35, linewidth=0,
                      label=f"{sure} band, each value by itself")  # fmt: skip
    if len(numbers) <= FEW:
        axes.vlines(numbers, share[:, 1], share[:, 2], color=SKY, linewidth=5, alpha=0.6)
    marker = 3.5 if len(numbers) <= MOST_MARKED else 0
    runs = f"estimate, {points[0].replications:,} replications each"
    axes.plot(numbers, share[:, 0], color=BLUE, linewidth=1.8, marker="o", markersize=marker, label=runs)
    return numbers


def _looked_at_briefly(axes: Axes, path: str, points: Sequence[Point]) -> None:
    """Draw points of fewer replications apart from the curve: each with its interval, no line between them."""
    if not points:
        return
    numbers, share = _numbers(path, points), _shares(points)
    axes.vlines(numbers, share[:, 1], share[:, 2], color=GREY, linewidth=0.8, alpha=0.5)
    axes.plot(numbers, share[:, 0], color=GREY, linestyle="", marker="o", markersize=3.5, markerfacecolor="white",
              label="looked at less often, each with its interval")  # fmt: skip


def _scales(axes: Axes, target: float, *, whole: bool) -> None:
    """Stretch the scale where it matters, near the target, and put ticks at round numbers."""
    chances_along("y", axes, target)
    if whole:
        axes.xaxis.set_major_locator(MaxNLocator(integer=True, min_n_ticks=1, steps=[1, 2, 5, 10]))


def _title(result: SizingResult) -> Sequence[str]:
    """Return the question, the causes that count, and where the figures come from."""
    return [
        clipped(f"How much is enough? {result.strategy}", A_LINE),
        *wrap(f"Chance that somebody goes without, on supply alone; cause: {joined(result.causes)}", A_LINE),
        f"{clipped(result.of.scenario, 50)}: {result.method.name}, {result.ran.replications:,} replications, "
        f"seed {result.ran.seed}",
        f"The band holds {doubt.holds(result.interval_holds, result.draws)}.",
    ]
