"""Draw the full cylinders at each midnight as a fan, and below it when the next delivery comes."""

from __future__ import annotations

import datetime as dt

import matplotlib as mpl
import matplotlib.dates as mdates
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator, MultipleLocator

from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, ORANGE, PLAIN, RED, SKY, SMALL, WIDTH_IN
from o2sim.looks.words import percent
from o2sim.questions.today.result import TodayResult
from o2sim.questions.today.text import delivery_words
from o2sim.questions.today.today import Today
from o2sim.shown import chart


@chart.register
def _today(result: Today) -> Picture:
    return fan(result.record)


@mpl.rc_context(PLAIN)
def fan(said: TodayResult, width_in: float = WIDTH_IN) -> Picture:
    """Return the fan of full cylinders over the chances that the lorry came and the shelf was bare, by day."""
    is_wide = width_in == WIDTH_IN
    figure = Figure(figsize=(width_in, 5.4 if is_wide else 6.4), layout="constrained")
    top, below = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    days = [_ends(each.day) for each in said.by_day]
    _cylinders(top, said, days)
    _chances(below, said, days)
    below.xaxis.set_major_locator(MultipleLocator(max(1, -(-len(days) // int(1 + width_in)))))
    below.xaxis.set_major_formatter(FuncFormatter(_date))
    handles = [*top.get_legend_handles_labels()[0], *below.get_legend_handles_labels()[0]]
    labels = [*top.get_legend_handles_labels()[1], *below.get_legend_handles_labels()[1]]
    figure.legend(
        handles, labels, loc="outside lower center", ncols=3 if is_wide else 1, frameon=False, fontsize=SMALL
    )
    last = said.by_day[-1]
    alt = (
        f"Full cylinders from {said.counts.full} at the count to {last.full.p50:g} ({last.full.p5:g} to "
        f"{last.full.p95:g}) by the end of {last.day}. By then the shelf was bare at some time with chance "
        f"{percent(last.bare.estimate)}. {delivery_words(said.next_delivery)}"
    )
    note = "As the reorder rule goes on ordering. Chances are those that it had happened by that midnight."
    return Picture("today-fan", "What may be left, and when the lorry may come", alt, note, figure)


def _ends(day: str) -> float:
    """Return the midnight that ends a day, as Matplotlib counts."""
    return float(mdates.date2num(dt.date.fromisoformat(day) + dt.timedelta(days=1)))  # type: ignore[no-untyped-call]


def _date(value: float, _place: int) -> str:
    day = mdates.num2date(value)  # type: ignore[no-untyped-call]
    return f"{day.day} {day:%b}"


def _cylinders(axes: Axes, said: TodayResult, days: list[float]) -> None:
    found = [each.full for each in said.by_day]
    axes.fill_between(days, [e.p5 for e in found], [e.p95 for e in found], color=SKY, alpha=0.35, linewidth=0,
                      label="full: 90 % of mornings")  # fmt: skip
    axes.fill_between(days, [e.p25 for e in found], [e.p75 for e in found], color=BLUE, alpha=0.45, linewidth=0,
                      label="full: 50 %")  # fmt: skip
    axes.plot(days, [e.p50 for e in found], color=BLACK, linewidth=1.6, label="full: the middle")
    if said.on == said.counted[:10]:
        when = float(mdates.date2num(dt.datetime.fromisoformat(said.counted)))  # type: ignore[no-untyped-call]
        axes.plot([when], [said.counts.full], "o", color=BLACK, markersize=4.5, label="full: counted")
    axes.set_ylabel("full cylinders")
    axes.set_ylim(bottom=0, top=max(said.counts.full, *(e.p95 for e in found)) * 1.08 + 1)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    _plain(axes)


def _chances(axes: Axes, said: TodayResult, days: list[float]) -> None:
    rows = said.by_day
    axes.plot(days, [100 * e.delivered for e in rows], color=BLUE, linewidth=1.8, linestyle="--",
              label="next delivery came")  # fmt: skip
    axes.plot(days, [100 * e.bare.estimate for e in rows], color=ORANGE, linewidth=1.8, marker="s", markersize=3.5,
              label="shelf was bare")  # fmt: skip
    supply = [e.without_supply for e in rows]
    axes.fill_between(days, [100 * e.low for e in supply], [100 * e.high for e in supply], color=RED, alpha=0.2,
                      linewidth=0)  # fmt: skip
    axes.plot(days, [100 * e.estimate for e in supply], color=RED, linewidth=1.8, marker="o", markersize=3.5,
              label="somebody without, for want of supply")  # fmt: skip
    axes.axhline(
        100 * said.target, color=BLACK, linewidth=0.9, linestyle=":", label=f"limit, {100 * said.target:g} %"
    )
    axes.set_ylim(0, 102)
    axes.set_ylabel("% of mornings")
    axes.set_xlabel("midnight at which the day begins")
    _plain(axes)


def _plain(axes: Axes) -> None:
    axes.set_axisbelow(True)
    axes.grid(axis="y", color=BLACK, alpha=0.12, linewidth=0.6)
    axes.tick_params(labelsize=SMALL)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
