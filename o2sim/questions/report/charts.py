"""The drawings of the report, each with its title, its alt text and a note.

They are narrow, with names above the bars, so that they can be read on a phone. Colours are Okabe and Ito's;
markers and hatches say the same again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from textwrap import wrap
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from o2sim.looks import doubt, unbought
from o2sim.looks.blocks import Picture, in_groups, marked, mean_of
from o2sim.looks.drawing import (
    BLACK,
    BLUE,
    GREEN,
    ORANGE,
    PLAIN,
    PURPLE,
    RED,
    SKY,
    SMALL,
    YELLOW,
    above,
    narrow_figure,
)
from o2sim.looks.words import Summary, chosen_of, money, number, percent, short_frequency, span, spread
from o2sim.money import added, cost
from o2sim.questions.compare.charts import CAUSE_LOOKS

MOST_ROWS = 6  # strategies in one drawing of rows: two drawings fit on a page
LOOKS = (  # colour and marker of a strategy; more than these repeat
    (BLUE, "o"), (RED, "s"), (GREEN, "^"), (ORANGE, "D"), (PURPLE, "v"), (BLACK, "P"), (SKY, "X"),
)  # fmt: skip
FILLS = ("full", "none", "left", "right")  # of the markers, where colours and markers repeat
FOR_LIGHT = {"..": "|", "oo": "-", "**": "/|", "OO": "\\-"}  # dots and rings are drawn one by one: lines instead
NAME_IN, SAID_IN, BAR_IN, GAP_IN = 0.19, 0.17, 0.2, 0.14  # heights of the lines of a row, in inches
LETTERS = 50  # of a name on one line
Parts = Mapping[str, tuple[str, str, Sequence[str]]]  # name: colour, hatch, what it is the sum of
COST_GROUPS: Parts = {
    "cylinders and their fittings": (SKY, "//", (
        cost.CYLINDERS, cost.CYLINDER_RENT, cost.REGULATORS, cost.SPLITTERS, cost.MANIFOLD, cost.LOST,
    )),
    "refills": (BLUE, "", (cost.REFILL, cost.STOCK_CHANGE)),
    "transport, emergency orders": (ORANGE, "\\\\", (cost.TRANSPORT, cost.EMERGENCY)),
    "concentrators": (GREEN, "xx", (
        cost.CONCENTRATORS, cost.SERVICE, cost.REPAIR, cost.MONITORS, cost.ANALYSER,
    )),
    "power": (YELLOW, "--", (
        cost.ELECTRICITY, cost.FUEL, cost.GENERATOR, cost.BATTERY, cost.SOLAR, cost.STABILISER,
    )),
    "bedside, consumables, transfers": ("#FFFFFF", "..", (
        cost.HUMIDIFIERS, cost.OXIMETERS, cost.CONSUMABLES, cost.TRANSFERS, *cost.LISTED,
    )),
    "staff and training": (PURPLE, "++", (added.STAFF, added.TRAINING)),
    "freight, duty, tests, other": ("#BBBBBB", "oo", (
        added.FREIGHT, added.DUTY, added.INSTALLATION, added.TESTS, added.OTHER,
    )),
}  # fmt: skip
CAUSE_PARTS: Parts = {
    f"{cause.label} ({'supply' if cause.is_supply else 'handling'})": (*look, (cause.label,))
    for cause, look in CAUSE_LOOKS.items()
}


def of_strategies(summary: Summary, currency: str) -> list[Picture]:
    """Return the drawings in which strategies stand beside each other, in the order of the page."""
    names = list(summary["strategies"])
    priced = [name for name, item in summary["strategies"].items() if item["annual_cost"]]
    found = [*_in_parts(chances, summary, names), *_in_parts(hours, summary, names)]
    found += _in_parts(lambda one, some: costs(one, currency, some), summary, priced)
    return [*found, trade(summary, currency)] if len(priced) > 1 else found


def _in_parts(
    draw: Callable[[Summary, Sequence[str]], Picture], summary: Summary, names: Sequence[str]
) -> list[Picture]:
    """Return a drawing for every few strategies, all to one scale: a taller one would be cut between two pages.

    The chosen one stands in each.
    """
    chosen = chosen_of(summary)
    first = int(chosen in names)
    count = -(-(len(names) - first) // (MOST_ROWS - first)) or 1
    groups = in_groups(names, first + -(-(len(names) - first) // count), chosen) if names else []
    found = [draw(summary, group) for group in groups]
    return [
        part if count == 1 else replace(part, name=f"{part.name}{n}", title=f"{part.title} ({n} of {count})")
        for n, part in enumerate(found, 1)
    ]


@mpl.rc_context(PLAIN)
def chances(summary: Summary, names: Sequence[str] = ()) -> Picture:
    """Return the chances of a supply shortfall and of any interruption, with intervals; names: only these."""
    runs = (summary["replications"], summary["horizon_days"])
    strategies = {name: summary["strategies"][name] for name in names or summary["strategies"]}
    body = 2 * (SAID_IN + BAR_IN)
    figure, axes, tops = _rows(strategies, chosen_of(summary), body, below_in=0.4)
    kinds = (
        ("stock_out_probability", "supply shortfall", "no source could serve", BLUE, "o", 0.0),
        ("interruption_probability", "any interruption", "supply or handling", RED, "s", body / 2),
    )
    for measure, label, what, colour, marker, below in kinds:
        for top, item in zip(tops, strategies.values(), strict=True):
            chance, middle = item[measure], 100 * item[measure]["estimate"]
            bounds = [[max(0.0, middle - 100 * chance["low"])], [max(0.0, 100 * chance["high"] - middle)]]
            place = top + below + SAID_IN + BAR_IN / 2
            looks: Any = {"color": colour, "capsize": 4, "markersize": 6, "clip_on": False}
            label_once = f"{label} ({what})" if top == tops[0] else "_"
            axes.errorbar(middle, place, xerr=bounds, fmt=marker, label=label_once, **looks)
            said = short_frequency(chance, *runs)
            _say(axes, top + below, f"{label}: {'seen in ' if said.startswith('the only') else ''}{said}")
    axes.set_xlim(0, 100)
    axes.set_xlabel(f"chance within {span(summary['horizon_days'])}, %")
    figure.legend(loc="outside lower left", ncols=1, frameon=False, fontsize=SMALL)
    said = "; ".join(
        f"{name}: supply shortfall {percent(item['stock_out_probability']['estimate'])}, any interruption "
        f"{percent(item['interruption_probability']['estimate'])}"
        for name, item in strategies.items()
    )
    note = f"Points are estimates, bars {_level(summary)} confidence intervals: {doubt.held(summary)}."
    alt = f"Points with intervals, two for each strategy, on a scale from 0 to 100 per cent. {said}."
    return Picture("chances", "How often someone goes without", alt, note, figure)


def hours(summary: Summary, names: Sequence[str] = ()) -> Picture:
    """Return mean unserved patient-hours by strategy, in parts by cause, with the interval of the sum."""
    measures = "unserved_patient_hours", "unserved_hours_by_cause"
    figure, said, parts = _bars(summary, names, measures, CAUSE_PARTS, 12, number, "unserved patient-hours a year")
    title = "How much goes unserved, and why" if parts else "How much goes unserved: nothing did"
    note = f"Mean of {replications_in_words(summary['replications'])}; {_line(summary)}"
    return Picture("hours", title, f"Bars of patient-hours a year, in parts by cause. {said}.", note, figure)


def replications_in_words(replications: int) -> str:
    """Return "1 replication" or "200 replications"."""
    return f"{replications:,} replication{'' if replications == 1 else 's'}"


def costs(summary: Summary, currency: str, names: Sequence[str] = ()) -> Picture:
    """Return the yearly cost by strategy in groups of items, with the interval of the sum."""
    measures, axis = ("annual_cost", "cost_by_item"), f"cost a year, {currency}".rstrip(", ")
    figure, said, _ = _bars(summary, names, measures, COST_GROUPS, 2, lambda mean: money(mean, currency), axis)
    spread_out = "Purchases are spread over their lives (equivalent annual cost), all else as it falls in a year"
    alt = f"Bars of money a year, in parts by item. {said}."
    note = f"{spread_out}; {_line(summary)}{_not_bought(summary, names)}"
    return Picture("costs", "What it costs", alt, note, figure)


def _not_bought(summary: Summary, names: Sequence[str] = ()) -> str:
    """Return what was needed and not bought beside the costs of strategies; "" where nobody counts money."""
    items = {name: item for name, item in summary["strategies"].items() if not names or name in names}
    clauses = {name: unbought.clause(unbought.of_item(item)) for name, item in items.items()}
    said = "; ".join(f"{name}: {clause}" for name, clause in clauses.items() if clause)
    return f" {said}. {unbought.NOTE}" if said else ""


@mpl.rc_context(PLAIN)
def _bars(
    summary: Summary,
    names: Sequence[str],
    measures: tuple[str, str],
    parts: Parts,
    digits: int,
    say: Callable[[float], str],
    axis: str,
) -> tuple[Figure, str, list[str]]:
    """Return bars of a measure by strategy, in the parts that come to something, what they show, and the parts.

    measures: the whole and its parts. digits: of a number, below which a part is nothing.
    """
    whole, by_part = measures
    every = {name: item for name, item in summary["strategies"].items() if item[whole]}
    strategies = {name: item for name, item in every.items() if not names or name in names}

    def widths(label: str, items: Mapping[str, Any]) -> list[float]:
        return [sum(mean_of(item[by_part].get(each)) for each in parts[label][2]) for item in items.values()]

    shown = {
        label: widths(label, strategies)
        for label in parts
        if any(round(width, digits) for width in widths(label, every))
    }
    figure, axes, tops = _rows(strategies, chosen_of(summary), SAID_IN + BAR_IN)
    totals = [item[whole] for item in strategies.values()]
    stacks = [(*parts[label][:2], each) for label, each in shown.items()]
    _stack(axes, tops, stacks, totals, most=max(_end(item[whole], "high") for item in every.values()))
    axes.set_xlabel(axis)
    _keys(figure, {label: parts[label][:2] for label in shown})
    said = []
    for place, (name, item) in enumerate(strategies.items()):
        most = max(shown, key=lambda label: shown[label][place], default="")
        by = f", most of it by {most}" if any(each[place] for each in shown.values()) else ""
        said.append(f"{name}: {say(item[whole]['mean'])}{by}")
    return figure, "; ".join(said), list(shown)


def _line(summary: Summary) -> str:
    return f"the line is the {_level(summary)} interval: {doubt.held(summary)}."


@mpl.rc_context(PLAIN)
def trade(summary: Summary, currency: str) -> Picture:
    """Return cost a year against unserved patient-hours, a marker for each strategy."""
    strategies = {name: item for name, item in summary["strategies"].items() if item["annual_cost"]}
    chosen = chosen_of(summary)
    names = [marked(name, chosen) for name in strategies]
    figure, axes = narrow_figure(3.0 + key_height(names))
    for place, (name, item) in enumerate(strategies.items()):
        x, y = item["annual_cost"], item["unserved_patient_hours"]
        across, up = ([[each["mean"] - _end(each, "low")], [_end(each, "high") - each["mean"]]] for each in (x, y))
        fill = FILLS[place // len(LOOKS) % len(FILLS)]
        axes.errorbar(
            x["mean"], y["mean"], xerr=across, yerr=up, fillstyle=fill, linestyle="none", markersize=8, capsize=3,
            **look(place, marked(name, chosen)),
        )  # fmt: skip
        if name == chosen:
            ring: dict[str, Any] = {
                "s": 190,
                "facecolors": "none",
                "edgecolors": BLACK,
                "linewidths": 1.5,
                "clip_on": False,
            }
            axes.scatter(x["mean"], y["mean"], zorder=5, **ring)
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    axes.grid(color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    axes.yaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    axes.xaxis.set_major_locator(MaxNLocator(4))
    axes.set_xlabel(f"cost a year, {currency}".rstrip(", "))
    above(axes, "unserved patient-hours a year")
    legend(figure, names)
    said = "; ".join(
        f"{name}: {money(item['annual_cost']['mean'], currency)}, "
        f"{number(item['unserved_patient_hours']['mean'])} hours"
        for name, item in strategies.items()
    )
    alt = f"Markers by cost, to the right, and unserved patient-hours, upwards. {said}."
    bars = f"Bars are {_level(summary)} intervals: {doubt.held(summary)}."
    ringed = " The ring marks the chosen one." if chosen else ""
    note = (
        f"Down and to the left is better: less goes unserved, for less money.{ringed} {bars}{_not_bought(summary)}"
    )
    return Picture("trade", "What more money buys", alt, note, figure)


def folded_name(name: str) -> str:
    """Return a name in lines that fit a narrow drawing."""
    return "\n".join(wrap(name, LETTERS)) or name


def look(place: int, name: str) -> dict[str, Any]:
    """Return how the marker of a strategy looks, and its name in the key."""
    colour, marker = LOOKS[place % len(LOOKS)]
    return {"color": colour, "marker": marker, "label": folded_name(name), "clip_on": False}


def _rows(
    names: Iterable[str], chosen: str, body_in: float, below_in: float = 0.0
) -> tuple[Figure, Axes, list[float]]:
    """Return axes that measure inches downwards, a row with its name for each strategy, and where each begins."""
    folded = [folded_name(marked(name, chosen)) for name in names]
    head = NAME_IN * max(text.count("\n") + 1 for text in folded)
    each = head + body_in + GAP_IN
    figure, axes = narrow_figure(0.75 + below_in + each * len(folded))
    for place, text in enumerate(folded):
        place_in, across = place * each + head, axes.get_yaxis_transform()
        axes.text(0.0, place_in, text, va="bottom", size=9, weight="bold", transform=across)
    axes.set_ylim(len(folded) * each, 0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    return figure, axes, [place * each + head for place in range(len(folded))]


def _say(axes: Axes, top_in: float, text: str) -> None:
    """Write a line over a bar; beside it there would not always be room."""
    box = {"facecolor": "white", "edgecolor": "none", "pad": 0.5}  # the grid stays behind the letters
    across = axes.get_yaxis_transform()
    axes.text(0.0, top_in + SAID_IN / 2, text, va="center", size=SMALL, transform=across, bbox=box)


def key_height(names: Sequence[str]) -> float:
    """Return how much room the key of strategies takes, in inches."""
    lines = sum(len(wrap(name, LETTERS)) or 1 for name in names)
    return 0.4 + 0.19 * (lines if _key_columns(names) == 1 else -(-lines // 2))


def _key_columns(names: Sequence[str]) -> int:
    return 1 if len(names) > 4 or max(map(len, names)) > 20 else 2


def legend(figure: Figure, names: Sequence[str]) -> None:
    """Put the key of strategies under a drawing."""
    figure.legend(loc="outside lower left", ncols=_key_columns(names), frameon=False, fontsize=SMALL)


def _stack(
    axes: Axes, tops: list[float], stacks: list[tuple[str, str, list[float]]], totals: list[Any], most: float
) -> None:
    """Draw bars in parts, the interval of each sum, and the sum in words; most is the end of the scale."""
    places, left = np.array(tops) + SAID_IN + BAR_IN / 2, np.zeros(len(totals))
    for colour, hatch, widths in stacks:
        drawn = np.maximum(widths, 0.0)
        looks: Any = {"color": colour, "hatch": FOR_LIGHT.get(hatch, hatch), "edgecolor": BLACK, "linewidth": 0.6}
        axes.barh(places, drawn, left=left, height=BAR_IN, **looks)
        left += drawn
    for top, place, total in zip(tops, places, totals, strict=True):
        low, high, mean = _end(total, "low"), _end(total, "high"), total["mean"]
        axes.errorbar(mean, place, xerr=[[mean - low], [high - mean]], fmt="none", color=BLACK, capsize=4)
        _say(axes, top, spread(total, number) if mean else "none seen")
    axes.set_xlim(0, 1.05 * max(most, *left.tolist(), 1e-9))
    axes.xaxis.set_major_locator(MaxNLocator(4))
    axes.xaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))


def _keys(figure: Figure, looks: Mapping[str, tuple[str, str]]) -> None:
    """Put under a drawing what its colours and hatches mean, and make room for it."""
    if not looks:
        return
    light = {label: (colour, FOR_LIGHT.get(hatch, hatch)) for label, (colour, hatch) in looks.items()}
    handles = [Patch(facecolor=c, hatch=h, edgecolor=BLACK, label=label) for label, (c, h) in light.items()]
    columns = 2 if max(map(len, looks)) <= 27 else 1
    width, height = figure.get_size_inches()
    figure.set_size_inches(width, height + 0.2 * -(-len(looks) // columns))
    figure.legend(handles=handles, loc="outside lower left", ncols=columns, frameon=False, fontsize=SMALL - 0.5,
                  handlelength=1.8, handleheight=1.1, columnspacing=1.0)  # fmt: skip


def _end(item: Mapping[str, Any], key: str) -> float:
    return float(item["mean"] if item[key] is None else item[key])


def _level(summary: Summary) -> str:
    return f"{100 * summary['confidence']:g} %"
