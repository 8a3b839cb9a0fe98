"""A study or its summary in, matplotlib figures out: stock, chances, unserved hours and their causes.

Colours are Okabe and Ito's, told apart by most colour-blind readers; markers and hatches say the same again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from textwrap import wrap
from typing import Any

import matplotlib as mpl
import matplotlib.dates
import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from o2sim.looks import doubt
from o2sim.looks.blocks import mean_of
from o2sim.looks.drawing import (
    BLACK,
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    PLAIN,
    PURPLE,
    RED,
    SKY,
    WIDTH_IN,
    YELLOW,
    clipped,
)
from o2sim.looks.words import NO_INTERVAL, Summary, number, short_frequency, span
from o2sim.outcome import DAILY_COLUMNS, Cause
from o2sim.runs.study import Study, worst_replication
from o2sim.scenario.types.hospital import Hospital

dates: Any = matplotlib.dates  # it has no types
HOLDS = f"intervals: {doubt.CHANCE_ONLY}"
CAUSE_LOOKS: dict[Cause, tuple[str, str]] = {  # colour and hatch; supply plain or dense, handling light
    Cause.NO_CYLINDER: (RED, ""),
    Cause.NO_POWER: (BLUE, "//"),
    Cause.CONCENTRATOR_DOWN: (GREEN, "\\\\"),
    Cause.CONCENTRATORS_FULL: (ORANGE, "xx"),
    Cause.FLOW_TOO_HIGH: (YELLOW, "--"),
    Cause.CHANGEOVER: ("#FFFFFF", ".."),
    Cause.RAN_EMPTY_UNSEEN: (SKY, "oo"),
    Cause.NO_REGULATOR: (PURPLE, "++"),
    Cause.WAITING_FOR_STAFF: ("#BBBBBB", "**"),
    Cause.NO_DELIVERY_SET: ("#999999", "OO"),
    Cause.OUTLETS_FULL: ("#E5C494", "||"),
}


@mpl.rc_context(PLAIN)
def stock_chart(study: Study, strategy: str) -> Figure:
    """Return full cylinders on hand by day: median, fans of replications, the worst one, road closures as strips.

    Raises ValueError for a strategy without cylinders, or with nothing completed.
    """
    hospital = study.scenario.hospitals[strategy]
    stock = daily_full(study, strategy)
    if hospital.cylinders is None or stock.size == 0:
        raise ValueError(f"{strategy} has no stock of cylinders to draw")
    figure, axes = _figure(4.8)
    days = np.array([dates.date2num(hospital.start + dt.timedelta(days=day)) for day in range(stock.shape[1])])
    low, tenth, median, ninetieth, high = np.percentile(stock, [2.5, 10, 50, 90, 97.5], axis=0)
    axes.fill_between(days, low, high, color=SKY, alpha=0.35, linewidth=0, label="95 % of replications")
    axes.fill_between(days, tenth, ninetieth, color=BLUE, alpha=0.35, linewidth=0, label="80 % of replications")
    axes.plot(days, median, color=BLUE, linewidth=2, label="median")
    worst = worst_replication(study, strategy)
    marks = max(1, stock.shape[1] // 24)
    axes.plot(
        days,
        stock[worst],
        color=RED,
        linewidth=1.1,
        marker="v",
        markersize=3.5,
        markevery=marks,
        label=f"worst replication (number {worst})",
    )
    if hospital.resupply is not None:
        point = hospital.resupply.reorder_point
        axes.axhline(point, color=BLACK, linewidth=1, linestyle=":", label=f"reorder point ({point})")
    _closure_strips(axes, hospital, days)
    axes.set_ylim(0, max(1, hospital.cylinders.fleet) * 1.03)
    axes.set_xlim(days[0], days[-1] if days.size > 1 else days[0] + 1)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10]))
    locator = dates.AutoDateLocator(minticks=3, maxticks=12)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(dates.ConciseDateFormatter(locator))
    axes.set_ylabel("full cylinders on hand, midnight")
    axes.set_xlabel("date")
    figure.legend(loc="outside lower center", ncols=3, frameon=False, fontsize=8)
    _title(axes, f"Full cylinders: {strategy}", study.scenario.name, study.replications, study.seed)
    return figure


@mpl.rc_context(PLAIN)
def probability_chart(summary: Summary) -> Figure:
    """Return the chance of a stock-out and of any interruption by strategy, with intervals."""
    strategies = summary["strategies"]
    figure, axes = _figure(1.8 + 0.75 * len(strategies))
    rows = (
        ("stock_out_probability", "stock-out (want of supply)", BLUE, "o", -0.16),
        ("interruption_probability", "any interruption (supply or handling)", RED, "s", 0.16),
    )
    for measure, label, colour, marker, offset in rows:
        chances = [item[measure] for item in strategies.values()]
        places = np.arange(len(chances)) + offset
        middle = np.array([100 * chance["estimate"] for chance in chances])
        reach = np.array(
            [
                [max(0.0, 100 * (chance["estimate"] - chance["low"])) for chance in chances],
                [max(0.0, 100 * (chance["high"] - chance["estimate"])) for chance in chances],
            ]
        )
        axes.errorbar(
            middle,
            places,
            xerr=reach,
            fmt=marker,
            color=colour,
            capsize=4,
            markersize=7,
            label=label,
            clip_on=False,
        )
        for place, chance in zip(places.tolist(), chances, strict=True):
            said = short_frequency(chance, summary["replications"], summary["horizon_days"])
            axes.text(103, place, said, va="center", fontsize=8)  # the mark has the colour
    axes.set_xlim(0, 100)
    axes.set_xlabel(f"chance within {span(summary['horizon_days'])}, %\n{HOLDS}")
    _strategy_axis(axes, list(strategies))
    figure.legend(loc="outside lower center", ncols=2, frameon=False, fontsize=8)
    _title(axes, "Chance that someone goes without", summary["scenario"], summary["replications"], summary["seed"])
    return figure


@mpl.rc_context(PLAIN)
def unserved_chart(summary: Summary) -> Figure:
    """Return mean unserved patient-hours by strategy, with intervals."""
    strategies = summary["strategies"]
    figure, axes = _figure(1.6 + 0.6 * len(strategies))
    hours = [item["unserved_patient_hours"] for item in strategies.values()]
    means = np.array([item["mean"] for item in hours])
    places = np.arange(len(hours))
    reach = np.array([[_reach(item, "low"), _reach(item, "high")] for item in hours]).reshape(-1, 2).T
    axes.barh(places, means, height=0.5, color=SKY, edgecolor=BLUE, hatch="//")
    axes.errorbar(means, places, xerr=reach, fmt="none", color=BLACK, capsize=5)
    top = max([_bound(item, "high") for item in hours] + [1e-9])
    for place, item in zip(places.tolist(), hours, strict=True):
        axes.text(_bound(item, "high") + 0.02 * top, place, _label(item), va="center", fontsize=8)
    axes.set_xlim(0, 1.4 * top)
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    axes.set_xlabel(f"unserved patient-hours a year (mean and {_level(summary)} interval)\n{HOLDS}")
    _strategy_axis(axes, list(strategies))
    _title(axes, "How much goes unserved", summary["scenario"], summary["replications"], summary["seed"])
    return figure


@mpl.rc_context(PLAIN)
def causes_chart(summary: Summary) -> Figure:
    """Return mean unserved patient-hours by strategy, stacked by cause; supply causes before handling ones."""
    strategies = summary["strategies"]
    shown = [
        cause
        for cause in CAUSE_LOOKS
        if any(mean_of(item["unserved_hours_by_cause"].get(cause.label)) > 0 for item in strategies.values())
    ]
    figure, axes = _figure(2.1 + 0.6 * len(strategies) + 0.2 * len(shown) / 3)
    places = np.arange(len(strategies))
    left = np.zeros(len(strategies))
    for cause in shown:
        width = np.array([mean_of(s["unserved_hours_by_cause"].get(cause.label)) for s in strategies.values()])
        colour, hatch = CAUSE_LOOKS[cause]
        axes.barh(places, width, left=left, height=0.55, color=colour, hatch=hatch, edgecolor=BLACK, linewidth=0.6)
        left += width
    top = max([*left, 1e-9])
    for place, total in zip(places.tolist(), left.tolist(), strict=True):
        axes.text(total + 0.02 * top, place, number(total), va="center", fontsize=8)
    axes.set_xlim(0, 1.15 * top)
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    axes.set_xlabel("unserved patient-hours a year")
    _strategy_axis(axes, list(strategies))
    if shown:
        figure.legend(
            handles=_cause_keys(shown),
            loc="outside lower center",
            ncols=3,
            frameon=False,
            fontsize=8,
            handlelength=3,
            handleheight=1.2,
        )
    _title(
        axes,
        "Why someone goes without" if shown else "Why someone goes without: nobody did",
        summary["scenario"],
        summary["replications"],
        summary["seed"],
    )
    return figure


def daily_full(study: Study, strategy: str) -> npt.NDArray[np.int32]:
    """Return full cylinders at each midnight, shape (replications, days); row k is replication k."""
    column = DAILY_COLUMNS.index("full")
    series = [outcome.daily[:, column] for outcome in study.outcomes[strategy]]
    return np.array(series, dtype=np.int32).reshape(len(series), -1)


def _figure(height_in: float) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    axes = figure.add_subplot()
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure, axes


def _closure_strips(axes: Axes, hospital: Hospital, days: npt.NDArray[np.float64]) -> None:
    """Shade dated closures: plain where the road is closed, hatched lightly where it may close."""
    labels: set[str] = set()
    for closure in hospital.resupply.road_closures if hospital.resupply else ():
        start = dates.date2num(closure.start) if closure.start else days[0]
        stop = dates.date2num(closure.end + dt.timedelta(days=1)) if closure.end else days[-1]
        sure = closure.chance_per_day is None
        label = "road closed" if sure else "road closures possible"
        if stop < days[0] or start > days[-1]:
            continue
        look: dict[str, Any] = {"facecolor": "#BBBBBB"} if sure else {"facecolor": "#EEEEEE", "hatch": ".."}
        axes.axvspan(
            max(start, days[0]),
            min(stop, days[-1]),
            edgecolor="#BBBBBB",
            linewidth=0,
            zorder=0,
            label="_" if label in labels else label,
            **look,
        )
        labels.add(label)


def _strategy_axis(axes: Axes, names: Sequence[str]) -> None:
    axes.set_yticks(np.arange(len(names)), [_folded(name) for name in names])
    axes.set_ylim(len(names) - 0.5, -0.5)  # the first strategy on top
    axes.grid(axis="x", color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)


def _folded(name: str, width: int = 22) -> str:
    """Return a long name on two or more lines."""

    return "\n".join(wrap(name, width))


def _cause_keys(shown: Sequence[Cause]) -> list[Patch]:
    return [
        Patch(
            facecolor=CAUSE_LOOKS[cause][0],
            hatch=2 * CAUSE_LOOKS[cause][1],  # denser, to show in a small box
            edgecolor=BLACK,
            label=f"{cause.label} ({'supply' if cause.is_supply else 'handling'})",
        )
        for cause in shown
    ]


def _title(axes: Axes, title: str, name: str, replications: int, seed: int) -> None:
    """Write the title, and under it in grey where the numbers come from."""
    axes.set_title(clipped(title, 70), loc="left", pad=20)
    done = f"{replications:,} replication{'' if replications == 1 else 's'}"
    source = f"{clipped(name, 80)}; {done}, seed {seed}"
    axes.annotate(source, (0, 1), (0, 5), "axes fraction", "offset points", fontsize=8, color=GREY)


def _level(summary: Summary) -> str:
    return f"{100 * summary.get('confidence', 0.95):g} %"


def _bound(item: Mapping[str, Any], key: str) -> float:
    value = item[key]
    return float(item["mean"] if value is None or np.isnan(value) else value)


def _reach(item: Mapping[str, Any], key: str) -> float:
    return abs(_bound(item, key) - float(item["mean"]))


def _label(item: Mapping[str, Any]) -> str:
    if item["mean"] == 0:
        return "none seen"
    if item["low"] is None or item["high"] is None:
        return f"{number(item['mean'])} ({NO_INTERVAL})"
    return f"{number(item['mean'])} ({number(_bound(item, 'low'))} to {number(_bound(item, 'high'))})"
