"""Draw a study: stock, chances, unserved hours and their causes.

Colours are Okabe and Ito's, distinct to most colour-blind readers; markers and hatches say the same again.
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
from o2sim.outcome import Cause
from o2sim.runs.days import midnights
from o2sim.runs.study import Study, worst_replication
from o2sim.scenario.types.hospital import Hospital

dates: Any = matplotlib.dates  # it has no types
BELOW: dict[str, Any] = {"loc": "outside lower center", "frameon": False, "fontsize": 8}  # of a legend
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
    Cause.NO_FUNDS: ("#8DA0CB", "..."),
}


@mpl.rc_context(PLAIN)
def stock_chart(study: Study, strategy: str) -> Figure:
    """Return full cylinders on hand by day: median, fans of replications, the worst one, road closures as strips.

    Raises ValueError for a strategy without cylinders, or with nothing completed.
    """
    hospital, scenario = study.scenario.hospitals[strategy], study.scenario
    stock = midnights(study, strategy)
    if hospital.cylinders is None or stock.days == 0:
        raise ValueError(f"{strategy} has no stock of cylinders to draw")
    figure, axes = _figure(4.8)
    days = np.array([dates.date2num(hospital.start + dt.timedelta(days=day)) for day in range(stock.days)])
    low, tenth, median, ninetieth, high = stock.quantiles([2.5, 10, 50, 90, 97.5])
    axes.fill_between(days, low, high, color=SKY, alpha=0.35, linewidth=0, label="95 % of replications")
    axes.fill_between(days, tenth, ninetieth, color=BLUE, alpha=0.35, linewidth=0, label="80 % of replications")
    axes.plot(days, median, color=BLUE, linewidth=2, label="median")
    worst, every = worst_replication(study, strategy), max(1, stock.days // 24)
    looks: dict[str, Any] = {"color": RED, "linewidth": 1.1, "marker": "v", "markersize": 3.5, "markevery": every}
    axes.plot(days, stock.worst_full, label=f"worst replication (number {worst})", **looks)
    if hospital.resupply is not None:
        point, sizes = hospital.resupply.reorder_point, hospital.cylinders.sizes
        said = "reorder points of all sizes" if sizes else "reorder point"
        axes.axhline(point, color=BLACK, linewidth=1, linestyle=":", label=f"{said} ({point})")
    _closure_strips(axes, hospital, days)
    axes.set_ylim(0, max(1, hospital.cylinders.fleet) * 1.03)
    axes.set_xlim(days[0], days[-1] if days.size > 1 else days[0] + 1)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10]))
    locator = dates.AutoDateLocator(minticks=3, maxticks=12)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(dates.ConciseDateFormatter(locator))
    of_all = " of all sizes" if hospital.cylinders.sizes else ""
    axes.set_ylabel(f"full cylinders{of_all} on hand, midnight")
    axes.set_xlabel("date")
    figure.legend(ncols=3, **BELOW)
    _title(axes, f"Full cylinders: {strategy}", scenario.name, study.replications, study.seed)
    return figure


@mpl.rc_context(PLAIN)
def probability_chart(summary: Summary) -> Figure:
    """Return the chance of a supply shortfall and of any interruption by strategy, with intervals."""
    strategies, runs = summary["strategies"], (summary["replications"], summary["horizon_days"])
    figure, axes = _figure(1.8 + 0.75 * len(strategies))
    rows = (
        ("stock_out_probability", "supply shortfall (no source could serve)", BLUE, "o", -0.16),
        ("interruption_probability", "any interruption (supply or handling)", RED, "s", 0.16),
    )
    for measure, label, colour, marker, offset in rows:
        chances = [item[measure] for item in strategies.values()]
        places = np.arange(len(chances)) + offset
        middle = np.array([100 * chance["estimate"] for chance in chances])
        ends = [[100 * (c["estimate"] - c["low"]), 100 * (c["high"] - c["estimate"])] for c in chances]
        looks: dict[str, Any] = {"fmt": marker, "color": colour, "capsize": 4, "markersize": 7, "clip_on": False}
        axes.errorbar(middle, places, xerr=np.maximum(0.0, ends).T, label=label, **looks)
        for place, chance in zip(places.tolist(), chances, strict=True):
            axes.text(
                103, place, short_frequency(chance, *runs), va="center", fontsize=8
            )  # the mark has the colour
    axes.set_xlim(0, 100)
    axes.set_xlabel(f"chance within {span(summary['horizon_days'])}, %\nintervals: {doubt.held(summary)}")
    return _finished(figure, axes, summary, "Chance that someone goes without", ncols=2)


@mpl.rc_context(PLAIN)
def unserved_chart(summary: Summary) -> Figure:
    """Return mean unserved patient-hours by strategy, with intervals."""
    hours = [item["unserved_patient_hours"] for item in summary["strategies"].values()]
    figure, axes = _figure(1.6 + 0.6 * len(hours))
    means, places = np.array([item["mean"] for item in hours]), np.arange(len(hours))
    ends = np.array([[_bound(item, "low"), _bound(item, "high")] for item in hours]).reshape(-1, 2).T
    axes.barh(places, means, height=0.5, color=SKY, edgecolor=BLUE, hatch="//")
    axes.errorbar(means, places, xerr=abs(ends - means), fmt="none", color=BLACK, capsize=5)
    top = max([*ends[1], 1e-9])
    for place, item in zip(places.tolist(), hours, strict=True):
        axes.text(_bound(item, "high") + 0.02 * top, place, _label(item), va="center", fontsize=8)
    axes.set_xlim(0, 1.4 * top)
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    level = f"{100 * summary.get('confidence', 0.95):g} %"
    axes.set_xlabel(f"unserved patient-hours a year (mean and {level} interval)\nintervals: {doubt.held(summary)}")
    return _finished(figure, axes, summary, "How much goes unserved")


@mpl.rc_context(PLAIN)
def causes_chart(summary: Summary) -> Figure:
    """Return mean unserved patient-hours by strategy, stacked by cause; supply causes before handling ones."""
    by_cause = [item["unserved_hours_by_cause"] for item in summary["strategies"].values()]
    hours = {cause: np.array([mean_of(each.get(cause.label)) for each in by_cause]) for cause in CAUSE_LOOKS}
    shown = [cause for cause, means in hours.items() if any(means > 0)]
    figure, axes = _figure(2.1 + 0.6 * len(by_cause) + 0.2 * len(shown) / 3)
    places, left = np.arange(len(by_cause)), np.zeros(len(by_cause))
    for cause in shown:
        looks: dict[str, Any] = {
            "color": CAUSE_LOOKS[cause][0],
            "hatch": CAUSE_LOOKS[cause][1],
            "edgecolor": BLACK,
        }
        axes.barh(places, hours[cause], left=left, height=0.55, linewidth=0.6, **looks)
        left += hours[cause]
    top = max([*left, 1e-9])
    for place, total in zip(places.tolist(), left.tolist(), strict=True):
        axes.text(total + 0.02 * top, place, number(total), va="center", fontsize=8)
    axes.set_xlim(0, 1.15 * top)
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    axes.set_xlabel("unserved patient-hours a year")
    title = "Why someone goes without" if shown else "Why someone goes without: nobody did"
    keys = {"handles": _cause_keys(shown), "ncols": 3, "handlelength": 3, "handleheight": 1.2} if shown else {}
    return _finished(figure, axes, summary, title, **keys)


def _figure(height_in: float) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _closure_strips(axes: Axes, hospital: Hospital, days: npt.NDArray[np.float64]) -> None:
    """Shade dated closures: plain where the road is closed, hatched lightly where it may close."""
    labels: set[str] = set()
    for closure in hospital.resupply.road_closures if hospital.resupply else ():
        start = dates.date2num(closure.start) if closure.start else days[0]
        stop = dates.date2num(closure.end + dt.timedelta(days=1)) if closure.end else days[-1]
        if stop < days[0] or start > days[-1]:
            continue
        look: dict[str, Any] = {"facecolor": "#EEEEEE", "hatch": "..", "label": "road closures possible"}
        if closure.chance_per_day is None:
            look = {"facecolor": "#BBBBBB", "label": "road closed"}
        shown = look | {"label": "_" if look["label"] in labels else look["label"]}
        axes.axvspan(max(start, days[0]), min(stop, days[-1]), edgecolor="#BBBBBB", linewidth=0, zorder=0, **shown)
        labels.add(look["label"])


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


def _finished(figure: Figure, axes: Axes, summary: Summary, title: str, **legend: Any) -> Figure:
    """Return a chart with strategies down its side, the first on top, a legend if any, and its title."""
    names = [wrap(name, 22) for name in summary["strategies"]]
    axes.set_yticks(np.arange(len(names)), ["\n".join(lines) for lines in names])
    axes.set_ylim(len(names) - 0.5, -0.5)
    axes.grid(axis="x", color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    if legend:
        figure.legend(**BELOW, **legend)
    _title(axes, title, summary["scenario"], summary["replications"], summary["seed"])
    return figure


def _title(axes: Axes, title: str, name: str, replications: int, seed: int) -> None:
    """Write the title, and under it in grey where the numbers come from."""
    axes.set_title(clipped(title, 70), loc="left", pad=20)
    done = f"{replications:,} replication{'' if replications == 1 else 's'}"
    source = f"{clipped(name, 80)}; {done}, seed {seed}"
    axes.annotate(source, (0, 1), (0, 5), "axes fraction", "offset points", fontsize=8, color=GREY)


def _bound(item: Mapping[str, Any], key: str) -> float:
    value = item[key]
    return float(item["mean"] if value is None or np.isnan(value) else value)


def _label(item: Mapping[str, Any]) -> str:
    if item["mean"] == 0:
        return "none seen"
    ends = " to ".join(number(_bound(item, key)) for key in ("low", "high"))
    return f"{number(item['mean'])} ({NO_INTERVAL if None in (item['low'], item['high']) else ends})"
