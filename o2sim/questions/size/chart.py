"""The result of a sizing in, the curve of chance against stock out, with its band, target and answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from o2sim.errors import O2simError
from o2sim.looks import doubt
from o2sim.looks.drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PLAIN, RED, SKY, clipped
from o2sim.looks.words import axis_words, is_year, joined, percent, span
from o2sim.scenario.changing.levers import lever

LEAST_SHARE = 1e-3
FEW = 3  # values: so few have bars, since a band between them shows little or nothing
A_LINE = 100  # letters across the drawing


@mpl.rc_context(PLAIN)
def sizing_chart(result: Mapping[str, Any]) -> Figure:
    """Return the chance by value of the field that is sized. Raises O2simError for several fields at once."""
    if len(result["vary"]) != 1:
        raise O2simError("a chart shows one field; for several write the table with --csv")
    (asked,) = result["vary"]
    path = asked["field"]
    curve = result["curve"]
    numbers = lever(path, ", ".join(point["values"][path] for point in curve)).numbers
    assert numbers is not None
    figure = Figure(figsize=(8.0, 4.9), layout="constrained")
    axes = figure.add_subplot()
    share = np.array([[point["estimate"], point["low"], point["high"]] for point in curve]) * 100
    axes.fill_between(numbers, share[:, 1], share[:, 2], color=SKY, alpha=0.35, linewidth=0,
                      label=f"{percent(result['confidence'])} band, each value by itself")  # fmt: skip
    if len(numbers) <= FEW:
        axes.vlines(numbers, share[:, 1], share[:, 2], color=SKY, linewidth=5, alpha=0.6)
    axes.plot(numbers, share[:, 0], color=BLUE, linewidth=1.8, marker="o", markersize=3.5, label="estimate")
    target = 100 * result["target"]
    axes.axhline(target, color=RED, linewidth=1.2, linestyle="--", label=f"target {percent(result['target'])}")
    if result["answer"] is not None:
        value = dict(zip([point["values"][path] for point in curve], numbers, strict=True))
        at = value[result["answer"]["values"][path]]
        axes.axvline(at, color=GREEN, linewidth=1.5, label=f"enough: {result['answer']['values'][path]}")
    for rule, style in zip(result["thumb"], ((0, (1, 1.5)), (0, (5, 2, 1, 2))), strict=False):
        axes.axvline(rule["value"], color=ORANGE if style[1][0] == 1 else GREY, linewidth=1.4, linestyle=style,
                     label=f"rule of thumb, {rule['rule']}: {rule['value']}")  # fmt: skip
    _scales(axes, target, whole=not asked["unit"] and all(number == round(number) for number in numbers))
    axes.set_xlabel(axis_words(path, asked["unit"]))
    days = result["horizon_days"]
    axes.set_ylabel(f"chance within {'a year' if is_year(days) else span(days)}")
    axes.set_title("\n".join(_title(result)), fontsize=10, loc="left")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    figure.legend(loc="outside lower center", ncols=2, frameon=False, fontsize=8)
    return figure


def _scales(axes: Axes, target: float, *, whole: bool) -> None:
    """Stretch the scale where it matters, near the target, and put ticks at round numbers."""
    axes.set_yscale("symlog", linthresh=max(1.0, target / 5))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda y, _: f"{y:g} %"))
    ticks = [0, 1, 2, 5, 10, 20, 50, 100]
    axes.set_yticks([tick for tick in ticks if tick == 0 or tick >= LEAST_SHARE])
    axes.minorticks_off()
    axes.set_ylim(0, 105)
    axes.grid(axis="y", color=BLACK, alpha=0.12, linewidth=0.6)
    if whole:
        axes.xaxis.set_major_locator(MaxNLocator(integer=True, min_n_ticks=1, steps=[1, 2, 5, 10]))


def _title(result: Mapping[str, Any]) -> Sequence[str]:
    """Return what is asked, of whose interruptions the chance is, and where the figures come from."""
    causes = wrap(f"Chance that somebody goes without, cause: {joined(result['causes'])}", A_LINE)
    made = (
        f"{clipped(result['scenario'], 50)}: {result['method']['name']}, {result['replications']:,} replications, "
        f"seed {result['seed']}"
    )
    return [
        clipped(f"How much is enough? {result['strategy']}", A_LINE),
        *causes,
        made,
        f"The band holds {doubt.held(result)}.",
    ]
