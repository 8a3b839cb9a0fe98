"""A study and its summary in, the drawings of the report out, each with its title, its alt text and a note.

They are narrow, with names above the bars, so that they can be read on a phone. Colours are Okabe and Ito's;
markers and hatches say the same again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import Any

import matplotlib as mpl
import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from o2sim.analysis import cost
from o2sim.analysis.study import Study
from o2sim.outcome import DAILY_COLUMNS
from o2sim.report.charts import (
    BLACK,
    BLUE,
    CAUSE_LOOKS,
    GREEN,
    ORANGE,
    PLAIN,
    PURPLE,
    RED,
    SKY,
    YELLOW,
    daily_full,
    save,
    stock_chart,
)
from o2sim.report.tables import mean_of
from o2sim.report.words import Summary, joined, money, number, percent, short_frequency, span, spread
from o2sim.shown import Shown

WIDTH_IN = 5.2
SMALL = 8
FEWEST_DAYS = 59  # two months: fewer make no season
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LOOKS = (  # colour and marker of a strategy; more than these repeat
    (BLUE, "o"),
    (RED, "s"),
    (GREEN, "^"),
    (ORANGE, "D"),
    (PURPLE, "v"),
    (BLACK, "P"),
    (SKY, "X"),
)
COST_GROUPS: dict[str, tuple[str, str, tuple[str, ...]]] = {  # name: colour, hatch, items of the cost
    "cylinders and their fittings": (
        SKY,
        "//",
        (cost.CYLINDERS, cost.CYLINDER_RENT, cost.REGULATORS, cost.SPLITTERS, cost.MANIFOLD, cost.LOST),
    ),
    "refills": (BLUE, "", (cost.REFILL, cost.STOCK_CHANGE)),
    "transport, emergency orders": (ORANGE, "\\\\", (cost.TRANSPORT, cost.EMERGENCY)),
    "concentrators": (
        GREEN,
        "xx",
        (cost.CONCENTRATORS, cost.SERVICE, cost.REPAIR, cost.MONITORS, cost.ANALYSER),
    ),
    "power": (
        YELLOW,
        "--",
        (cost.ELECTRICITY, cost.FUEL, cost.GENERATOR, cost.BATTERY, cost.SOLAR, cost.STABILISER),
    ),
    "bedside, consumables, transfers": ("#FFFFFF", "..", (cost.HUMIDIFIERS, cost.CONSUMABLES, cost.TRANSFERS)),
}


@dataclass(frozen=True)
class Picture(Shown):
    """A drawing: a name for its ids, its title, what it shows in words, and a note under it."""

    name: str
    title: str
    alt: str
    note: str
    figure: Figure

    def save(self, path: str | Path) -> Path:
        """Write the drawing to a file, PNG or SVG by the end of its name; return its path."""
        save(self.figure, Path(path))
        return Path(path)


def pictures(study: Study, summary: Summary, strategy: str, currency: str) -> list[Picture]:
    """Return the drawings in the order of the page; strategy is the one whose stock is drawn."""
    found = [chances(summary), hours(summary)]
    if any(item["annual_cost"] for item in summary["strategies"].values()):
        found.append(costs(summary, currency))
    if len([item for item in summary["strategies"].values() if item["annual_cost"]]) > 1:
        found.append(trade(summary, currency))
    if study.scenario.hospitals[strategy].cylinders is not None and daily_full(study, strategy).shape[1] > 1:
        found.append(stock(study, strategy))
    if len(_months(study)) > 1:
        found.append(season(study))
    return found


@mpl.rc_context(PLAIN)
def chances(summary: Summary) -> Picture:
    """Return the chance of a stock-out and of any interruption by strategy, with intervals."""
    strategies, runs = summary["strategies"], (summary["replications"], summary["horizon_days"])
    figure, axes = _rows(list(strategies), 0.95, above=0.36)
    kinds = (
        ("stock_out_probability", "a stock-out (want of supply)", BLUE, "o", 0.0),
        ("interruption_probability", "any interruption (supply or handling)", RED, "s", 0.27),
    )
    for measure, label, colour, marker, below in kinds:
        for place, item in enumerate(strategies.values()):
            chance, middle = item[measure], 100 * item[measure]["estimate"]
            bounds = [[max(0.0, middle - 100 * chance["low"])], [max(0.0, 100 * chance["high"] - middle)]]
            axes.errorbar(
                middle,
                place + below,
                xerr=bounds,
                fmt=marker,
                color=colour,
                capsize=4,
                markersize=6,
                clip_on=False,
                label=label if place == 0 else "_",
            )
            axes.text(104, place + below, short_frequency(chance, *runs), va="center", size=SMALL)
    axes.set_xlim(0, 100)
    axes.set_xlabel(f"chance within {span(summary['horizon_days'])}, %")
    figure.legend(loc="outside lower left", ncols=1, frameon=False, fontsize=SMALL)
    told = "; ".join(
        f"{name}: stock-out {percent(item['stock_out_probability']['estimate'])}, any interruption "
        f"{percent(item['interruption_probability']['estimate'])}"
        for name, item in strategies.items()
    )
    note = f"Points are estimates, bars {_level(summary)} confidence intervals."
    alt = f"Points with intervals, two for each strategy, on a scale from 0 to 100 per cent. {told}."
    return Picture("chances", "How often someone goes without", alt, note, figure)


@mpl.rc_context(PLAIN)
def hours(summary: Summary) -> Picture:
    """Return mean unserved patient-hours by strategy, stacked by cause, with the interval of the sum."""
    strategies = summary["strategies"]
    by_cause = {
        cause: [mean_of(item["unserved_hours_by_cause"].get(cause.label)) for item in strategies.values()]
        for cause in CAUSE_LOOKS
    }
    shown = {cause: widths for cause, widths in by_cause.items() if any(widths)}
    figure, axes = _rows(list(strategies), 0.72, above=0.3)
    totals = [item["unserved_patient_hours"] for item in strategies.values()]
    stacks = [(*CAUSE_LOOKS[cause], widths) for cause, widths in shown.items()]
    _stack(axes, stacks, totals, number)
    axes.set_xlabel("unserved patient-hours a year")
    keys = {
        f"{cause.label} ({'supply' if cause.is_supply else 'handling'})": CAUSE_LOOKS[cause] for cause in shown
    }
    _keys(figure, keys)
    told = "; ".join(
        f"{name}: {number(total['mean'])}" + _largest(list(keys), [each[place] for each in shown.values()])
        for place, (name, total) in enumerate(zip(strategies, totals, strict=True))
    )
    title = "How much goes unserved, and why" if shown else "How much goes unserved: nothing did"
    note = f"Mean of {summary['replications']:,} replications; the line is the {_level(summary)} interval."
    return Picture("hours", title, f"Bars of patient-hours a year, in parts by cause. {told}.", note, figure)


@mpl.rc_context(PLAIN)
def costs(summary: Summary, currency: str) -> Picture:
    """Return the yearly cost by strategy in groups of items, with the interval of the sum."""
    strategies = {name: item for name, item in summary["strategies"].items() if item["annual_cost"]}
    groups = {
        group: [sum(mean_of(item["cost_by_item"].get(each)) for each in items) for item in strategies.values()]
        for group, (_, _, items) in COST_GROUPS.items()
    }
    shown = {group: widths for group, widths in groups.items() if any(round(width, 2) for width in widths)}
    figure, axes = _rows(list(strategies), 0.72, above=0.3)
    totals = [item["annual_cost"] for item in strategies.values()]
    _stack(axes, [(*COST_GROUPS[group][:2], widths) for group, widths in shown.items()], totals, number)
    axes.set_xlabel(f"cost a year, {currency}".rstrip(", "))
    _keys(figure, {group: COST_GROUPS[group][:2] for group in shown})
    told = "; ".join(
        f"{name}: {money(total['mean'], currency)}"
        + _largest(list(shown), [each[place] for each in shown.values()])
        for place, (name, total) in enumerate(zip(strategies, totals, strict=True))
    )
    note = "Purchases are spread over their lives (equivalent annual cost); all else as it falls in a year."
    return Picture("costs", "What it costs", f"Bars of money a year, in parts by item. {told}.", note, figure)


@mpl.rc_context(PLAIN)
def trade(summary: Summary, currency: str) -> Picture:
    """Return cost a year against unserved patient-hours, a marker for each strategy."""
    strategies = {name: item for name, item in summary["strategies"].items() if item["annual_cost"]}
    figure, axes = narrow_figure(3.6)
    for place, (name, item) in enumerate(strategies.items()):
        colour, marker = LOOKS[place % len(LOOKS)]
        x, y = item["annual_cost"], item["unserved_patient_hours"]
        reach = [[[each["mean"] - _end(each, "low")], [_end(each, "high") - each["mean"]]] for each in (x, y)]
        axes.errorbar(
            x["mean"],
            y["mean"],
            xerr=reach[0],
            yerr=reach[1],
            fmt=marker,
            color=colour,
            markersize=8,
            capsize=3,
            label="\n".join(wrap(name, 60)),
            clip_on=False,
        )
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    axes.grid(color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,g}"))
    axes.yaxis.set_major_formatter(StrMethodFormatter("{x:,g}"))
    axes.xaxis.set_major_locator(MaxNLocator(6))
    axes.set_xlabel(f"cost a year, {currency}".rstrip(", "))
    axes.set_ylabel("unserved patient-hours a year")
    figure.legend(loc="outside lower left", ncols=1 if len(strategies) > 4 else 2, frameon=False, fontsize=SMALL)
    told = "; ".join(
        f"{name}: {money(item['annual_cost']['mean'], currency)}, "
        f"{number(item['unserved_patient_hours']['mean'])} hours"
        for name, item in strategies.items()
    )
    alt = f"Markers by cost, to the right, and unserved patient-hours, upwards. {told}."
    note = "Down and to the left is better: less goes unserved, for less money."
    return Picture("trade", "What more money buys", alt, note, figure)


@mpl.rc_context(PLAIN)
def stock(study: Study, strategy: str) -> Picture:
    """Return the stock of full cylinders over the horizon, as in the folder of results, but narrower."""
    figure = stock_chart(study, strategy)
    axes = figure.axes[0]
    axes.set_title("", loc="left")  # the page has its own
    for told in list(axes.texts):
        told.remove()
    figure.set_size_inches(WIDTH_IN, 4.4)
    for legend in list(figure.legends):
        legend.remove()
    figure.legend(loc="outside lower left", ncols=2, frameon=False, fontsize=SMALL)
    full = daily_full(study, strategy)
    none = percent(float((full == 0).mean()))
    low = int(np.median(full.min(axis=1)))
    alt = (
        "Full cylinders at each midnight: the median of all replications, bands of 80 and 95 per cent of them, "
        f"and the worst one. In the middle replication the lowest count is {low}; on {none} of all midnights "
        "there is no full cylinder."
    )
    note = "A band that reaches the bottom shows when the shelf may be empty."
    return Picture("stock", f"Full cylinders over the year: {strategy}", alt, note, figure)


@mpl.rc_context(PLAIN)
def season(study: Study) -> Picture:
    """Return by month the share of midnights at which anyone waits unserved, a line for each strategy."""
    months, column = _months(study), DAILY_COLUMNS.index("unserved")
    figure, axes = narrow_figure(3.4)
    places, peaks = np.arange(len(months)), []
    for place, (name, outcomes) in enumerate(study.outcomes.items()):
        waits = np.array([outcome.daily[:, column] > 0 for outcome in outcomes[: study.replications]])
        shares = [100 * float(waits[:, days].mean()) for days in months.values()]
        colour, marker = LOOKS[place % len(LOOKS)]
        style = ("-", "--", "-.", ":")[place % 4]
        axes.plot(
            places, shares, color=colour, marker=marker, linestyle=style, label="\n".join(wrap(name, 60)),
            clip_on=False, markersize=5,
        )  # fmt: skip
        worst = int(np.argmax(shares))
        peaks.append(f"{name}: most in {list(months)[worst]}, {number(shares[worst])} %" if any(shares) else
                     f"{name}: none seen")  # fmt: skip
    axes.set_xticks(places, [month[:3] for month in months])
    axes.set_ylim(bottom=0)
    axes.grid(axis="y", color="#DDDDDD", linewidth=0.6)
    axes.set_ylabel("midnights with anyone unserved, %")
    axes.set_xlabel("month")
    figure.legend(
        loc="outside lower left", ncols=1 if len(study.outcomes) > 4 else 2, frameon=False, fontsize=SMALL
    )
    alt = f"Lines by month, one for each strategy. {joined(peaks)}."
    note = "The state at midnight; a gap that begins and ends between two midnights is not in it."
    return Picture("season", "When in the year someone goes without", alt, note, figure)


def _months(study: Study) -> dict[str, npt.NDArray[np.intp]]:
    """Return by month which days of the horizon lie in it; nothing where they make no season or more than one."""
    hospital = next(iter(study.scenario.hospitals.values()))
    days = next(iter(study.outcomes.values()))[0].daily.shape[0]
    if not FEWEST_DAYS <= days <= 366:
        return {}
    found: dict[tuple[int, int], list[int]] = {}
    for day in range(days):
        date = hospital.start + dt.timedelta(days=day)
        found.setdefault((date.year, date.month), []).append(day)
    return {f"{MONTHS[month - 1]} {year}": np.array(inside) for (year, month), inside in found.items()}


def narrow_figure(height_in: float) -> tuple[Figure, Axes]:
    """Return an empty drawing as wide as a phone can show."""
    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    axes = figure.add_subplot()
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure, axes


def _rows(names: list[str], each_in: float, above: float) -> tuple[Figure, Axes]:
    """Return axes with a row for each strategy, its name over it; the first on top."""
    figure, axes = narrow_figure(1.2 + each_in * len(names))
    for place, name in enumerate(names):
        folded = "\n".join(wrap(name, 64)) or name
        axes.text(0.005, place - above, folded, va="center", size=9, weight="bold",
                  transform=axes.get_yaxis_transform())  # fmt: skip
    axes.set_ylim(len(names) - 0.45, -0.62)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    return figure, axes


def _stack(axes: Axes, stacks: list[tuple[str, str, list[float]]], totals: list[Any], say: Any) -> None:
    """Draw bars in parts, the interval of each sum, and the sum in words."""
    places, left = np.arange(len(totals)), np.zeros(len(totals))
    for colour, hatch, widths in stacks:
        drawn = np.maximum(widths, 0.0)
        axes.barh(
            places,
            drawn,
            left=left,
            height=0.32,
            color=colour,
            hatch=_light(hatch),
            edgecolor=BLACK,
            linewidth=0.6,
        )
        left += drawn
    top = max([_end(total, "high") for total in totals] + [*left.tolist(), 1e-9])
    for place, total in enumerate(totals):
        low, high, mean = _end(total, "low"), _end(total, "high"), total["mean"]
        axes.errorbar(mean, place, xerr=[[mean - low], [high - mean]], fmt="none", color=BLACK, capsize=4)
        end = max(high, float(left[place]))
        axes.text(end + 0.02 * top, place, spread(total, say) if mean else "none seen", va="center", size=SMALL)
    axes.set_xlim(0, 1.42 * top)
    axes.xaxis.set_major_locator(MaxNLocator(5))
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,g}"))


def _keys(figure: Figure, looks: Mapping[str, tuple[str, str]]) -> None:
    """Put under a drawing what its colours and hatches mean, and make room for it."""
    if not looks:
        return
    handles = [
        Patch(facecolor=colour, hatch=_light(hatch), edgecolor=BLACK, label=label)
        for label, (colour, hatch) in looks.items()
    ]
    columns = 2 if max(map(len, looks)) <= 34 else 1
    width, height = figure.get_size_inches()
    figure.set_size_inches(width, height + 0.2 * -(-len(looks) // columns))
    figure.legend(handles=handles, loc="outside lower left", ncols=columns, frameon=False, fontsize=SMALL,
                  handlelength=2.4, handleheight=1.1)  # fmt: skip


def _light(hatch: str) -> str:
    """Return a hatch that keeps the page small: dots and rings are drawn one by one."""
    return hatch[:1] if hatch[:1] in ".oO*" else hatch


def _largest(labels: list[str], parts: list[float]) -> str:
    """Return ", most of it by ..." for the largest part, an empty text where there is none."""
    return f", most of it by {labels[int(np.argmax(parts))]}" if any(parts) else ""


def _end(item: Mapping[str, Any], key: str) -> float:
    return float(item["mean"] if item[key] is None else item[key])


def _level(summary: Summary) -> str:
    return f"{100 * summary['confidence']:g} %"
