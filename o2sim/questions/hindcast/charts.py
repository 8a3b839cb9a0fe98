"""Draw a hindcast: the stock card over its forecasts, and the ranks of the counts within them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import matplotlib as mpl
import matplotlib.dates as mdates
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from o2sim.errors import O2simError
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, GREY, ORANGE, PLAIN, SKY, WIDTH_IN
from o2sim.questions.hindcast.hindcast import Hindcast
from o2sim.questions.hindcast.result import Hindcasted, Interval, Scored
from o2sim.questions.hindcast.verdict import LEADING, whole_percent
from o2sim.shown import chart

MOST_DRAWN = 120  # counts: of more the last ones


@chart.register
def _hindcast(result: Hindcast, of: str = "stock") -> Picture:
    makers = {"stock": stock, "ranks": ranks}
    if of not in makers:
        raise O2simError(f"chart: found of={of!r}; allowed: {', '.join(makers)}")
    return makers[of](result.record)


def pictures(said: Hindcasted, width_in: float = WIDTH_IN) -> list[Picture]:
    """Return the drawings that there is something for, so many inches wide."""
    return [*([stock(said, width_in)] if said.stock else []), ranks(said, width_in)]


@mpl.rc_context(PLAIN)
def stock(said: Hindcasted, width_in: float = WIDTH_IN) -> Picture:
    """Return the stock card over the forecasts from each count to the next. Raises O2simError without a card."""
    if not said.stock:
        raise O2simError('chart: the records have no stock card to draw; allowed: of="ranks"')
    shown = said.stock[-MOST_DRAWN:]
    figure = Figure(figsize=(width_in, 5.6), layout="constrained")
    top, below = figure.subplots(2, 1, sharex=True)
    _bands(top, shown, "full_forecast", [each.full for each in shown], width_in)
    _bands(below, shown, "used_forecast", [each.used for each in shown], width_in)
    top.set_ylabel("full cylinders on the shelf")
    below.set_ylabel("full cylinders used\nsince the count before")
    locator = mdates.AutoDateLocator(maxticks=int(1 + width_in))  # type: ignore[no-untyped-call]
    below.xaxis.set_major_locator(locator)
    below.xaxis.set_major_formatter(mdates.ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    handles, labels = top.get_legend_handles_labels()
    figure.legend(
        handles,
        labels,
        loc="outside lower center",
        ncols=4 if width_in == WIDTH_IN else 2,
        frameon=False,
        fontsize=8.5,
    )
    compared = [each for each in shown if not each.left_out]
    inside = sum(each.used_forecast.low_90 <= each.used <= each.used_forecast.high_90 for each in compared)
    alt = (
        f"Full cylinders counted and forecast from the count before, {shown[0].begin} to {shown[-1].end}: "
        f"{inside} of {len(compared)} counts lie on or within the ends of their 90 % range of use."
    )
    note = "Each forecast starts from the count before. Hollow points are not compared."
    return Picture("hindcast-stock", "The stock card and its forecasts", alt, note, figure)


def _bands(axes: Axes, shown: Sequence[Interval], what: str, seen: Sequence[int], width_in: float) -> None:
    """Draw forecasts as upright bars, thin for 90 % and thick for 50 %, and what was counted as points."""
    days = [_number(each.end) for each in shown]
    found = [getattr(each, what) for each in shown]
    wide = max(1.5, min(6.0, 40 * width_in / max(len(shown), 1)))
    wider = [each.low_90 for each in found], [each.high_90 for each in found]
    middle = [each.low_50 for each in found], [each.high_50 for each in found]
    axes.vlines(days, *wider, color=SKY, linewidth=wide * 0.6, label="90 % of forecasts", zorder=1)
    axes.vlines(days, *middle, color=BLUE, linewidth=wide, label="50 %", zorder=2)
    axes.plot(days, [each.mean for each in found], "_", color=BLUE, markersize=wide + 3, zorder=2)
    kept = [place for place, each in enumerate(shown) if not each.left_out]
    out = [place for place, each in enumerate(shown) if each.left_out]
    axes.plot([days[at] for at in kept], [seen[at] for at in kept], "o", color=BLACK, markersize=3.2,
              label="counted", zorder=3)  # fmt: skip
    if out:
        axes.plot([days[at] for at in out], [seen[at] for at in out], "o", color=GREY, markersize=3.6,
                  fillstyle="none", label="not compared", zorder=3)  # fmt: skip
    axes.set_ylim(bottom=min(0, *seen) - 0.4)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    _plain(axes)


def _number(day: str) -> float:
    return float(mdates.date2num(dt.date.fromisoformat(day)))  # type: ignore[no-untyped-call]


def _plain(axes: Axes) -> None:
    axes.set_axisbelow(True)
    axes.grid(axis="y", color=BLACK, alpha=0.12, linewidth=0.6)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def leading(said: Hindcasted) -> Scored:
    """Return the series that decides."""
    by_name = {each.name: each for each in said.series}
    return next((by_name[name] for name in LEADING if name in by_name), said.series[0])


@mpl.rc_context(PLAIN)
def ranks(said: Hindcasted, width_in: float = WIDTH_IN) -> Picture:
    """Return how many counts fell into each part of their forecasts: even bars where the scenario is right."""
    shown = leading(said)
    bins, total = len(shown.ranks), sum(shown.ranks)
    figure = Figure(figsize=(width_in, 3.4), layout="constrained")
    axes = figure.add_subplot()
    edges = [100 * place / bins for place in range(bins)]
    axes.bar(edges, shown.ranks, width=100 / bins, align="edge", color=SKY, edgecolor=BLUE, linewidth=0.8)
    axes.axhline(total / bins, color=ORANGE, linewidth=1.6, linestyle="--", label="even: the scenario is right")
    axes.set_xlim(0, 100)
    axes.set_xlabel("where the count fell within its forecast, %\n(0: lower than all, 100: higher than all)")
    axes.set_ylabel("counts")
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_ylim(top=max(*shown.ranks, total / bins) * 1.25 + 0.5)
    axes.legend(frameon=False, fontsize=8.5, loc="upper right")
    part = f", {shown.judged} of {shown.counts} counts" if shown.judged < shown.counts else ""
    axes.set_title(f"{shown.name}{part}", fontsize=10, loc="left")
    _plain(axes)
    p = "too few to test" if shown.ranks_even_by_luck is None else f"p {whole_percent(shown.ranks_even_by_luck)}"
    heights = ", ".join(map(str, shown.ranks))
    alt = f"Counts of {shown.name} by where they fell within their forecasts: {heights} ({p})."
    note = "High on the right: forecasts too low. High at both ends: too sure. High in the middle: too wide."
    return Picture("hindcast-ranks", "Where the counts fell within their forecasts", alt, note, figure)
