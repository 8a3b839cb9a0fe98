"""A drawing of how the chance of a supply shortfall settled as replications were added."""

from __future__ import annotations

from textwrap import shorten
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator, NullFormatter, StrMethodFormatter

from o2sim.looks import doubt
from o2sim.looks.blocks import Picture
from o2sim.looks.doubt import closeness
from o2sim.looks.drawing import BLUE, GREY, ORANGE, PLAIN, SKY, WIDTH_IN
from o2sim.looks.words import percent, span
from o2sim.runs.convergence import convergence
from o2sim.runs.precision import arm
from o2sim.runs.study import Study, stock_outs_seen

NOTE = (
    "Each interval holds for its own number: stopping where one looks narrow would mislead.\n"
    f"It holds {doubt.CHANCE_ONLY}."
)
MOST = 6  # strategies drawn, those known least closely first
ROWS = 240


@mpl.rc_context(PLAIN)
def convergence_chart(study: Study) -> Figure:
    """Return the estimate and its interval by number of replications, a panel for each strategy.

    Where a precision was wanted, dashed lines show it about the last estimate. Of many strategies the six known
    least closely are drawn.
    """
    found = convergence(study, ROWS)
    seen, n = stock_outs_seen(study), study.replications
    names = _drawn(study)
    figure = Figure(figsize=(WIDTH_IN, 1.5 + 1.75 * len(names)), layout="constrained")
    panels = figure.subplots(len(names), 1, sharex=True, squeeze=False)[:, 0]
    for axes, name in zip(panels, names, strict=True):
        _panel(axes, found["strategies"][name], study, f"{name}: {seen[name]:,} of {n:,} had a supply shortfall")
    horizon_days = next(iter(study.scenario.hospitals.values())).horizon_s / 86_400
    figure.supylabel(f"chance of a supply shortfall within {span(horizon_days)}, %", fontsize=10)
    panels[-1].set_xlabel(f"replications\n{NOTE}", fontsize=9)
    left = len(study.outcomes) - len(names)
    others = f"; {left} known more closely are not drawn" if left else ""
    pilot = f", pilot of {study.plan.pilot:,} left out" if study.plan is not None else ""
    where = shorten(study.scenario.name, 60, placeholder=" ...")
    figure.suptitle(
        f"How the chance settled\n{where}; seed {study.seed}{pilot}{others}",
        x=0.02, ha="left", fontsize=10,
    )  # fmt: skip
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=3, frameon=False, fontsize=8)
    return figure


def _drawn(study: Study) -> list[str]:
    """Return the strategies known least closely, in the order of the file."""
    seen, n = stock_outs_seen(study), study.replications
    least = sorted(seen, key=lambda name: -arm(seen[name], n))[:MOST]
    return [name for name in study.outcomes if name in least]


def settled(study: Study) -> Picture:
    """Return the drawing with what it shows in words, for a notebook."""
    n, found, seen = study.replications, convergence(study)["strategies"], stock_outs_seen(study)
    ends = {name: (found[name][0], found[name][-1]) for name in _drawn(study)}
    said = [
        f"{name}: {percent(last['estimate'])} after {n:,}, from {percent(first['estimate'])} after "
        f"{first['replications']}, known to {closeness(arm(seen[name], n))}."
        for name, (first, last) in ends.items()
    ]
    alt = f"The chance of a supply shortfall by number of replications. {' '.join(said)}"
    return Picture("convergence", "How the chance settled", alt, NOTE.replace("\n", " "), convergence_chart(study))


def _panel(axes: Axes, rows: list[dict[str, Any]], study: Study, title: str) -> None:
    sizes = [row["replications"] for row in rows]
    low, middle, high = ([100 * row[key] for row in rows] for key in ("low", "estimate", "high"))
    axes.fill_between(sizes, low, high, color=SKY, alpha=0.4, linewidth=0, label="95 % interval")
    axes.plot(sizes, middle, color=BLUE, linewidth=1.6, label="estimate")
    last, plan = middle[-1], study.plan
    if plan is not None:
        for place in (last - 100 * plan.wanted, last + 100 * plan.wanted):
            label = f"{closeness(plan.wanted)} about the last" if place > last else "_"
            axes.axhline(place, color=ORANGE, linestyle="--", linewidth=1.1, label=label)
    axes.axhline(last, color=GREY, linestyle=":", linewidth=0.9)
    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())
    if len(sizes) > 1:
        axes.set_xlim(sizes[0], sizes[-1])
    axes.set_ylim(max(0.0, min(low) - 1), min(100.0, max(high) + 1))
    axes.set_title(shorten(title, 100, placeholder=" ..."), loc="left", fontsize=9)
    axes.grid(color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
