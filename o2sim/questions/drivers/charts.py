"""The result of a search for drivers in, its chart as a matplotlib figure out.

The low end is hatched and the high end plain, each with its value written beside it: never told by colour alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from textwrap import shorten, wrap
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from o2sim.errors import O2simError
from o2sim.looks import doubt
from o2sim.looks.drawing import BLACK, BLUE, GREY, ORANGE, PLAIN, SKY
from o2sim.looks.words import is_year, number, percent, span, under_title
from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.drivers.text import NAMES, held
from o2sim.questions.drivers.tornado import middle

Result = Mapping[str, Any]
MEASURES = {"chance": CHANCE, "hours": SUPPLY_HOURS, "cost": COST}
MOST_BARS = 8  # of one strategy
ROW_IN = 0.34
A_LINE = 95  # letters across the drawing
ROOM = 0.17  # beside the bars, of their width, for the values
SHARES = (-0.1, 1.1)  # of variance that are shown
LOW_LOOK: dict[str, Any] = {"facecolor": SKY, "edgecolor": BLACK, "hatch": "////", "linewidth": 0.8}
HIGH_LOOK: dict[str, Any] = {"facecolor": BLUE, "edgecolor": BLACK, "linewidth": 0.8}
NONE_MOVES = "the same at every end"


def draw(result: Result, measure: str = "chance") -> Figure:
    """Return the chart of a result: tornado, what is not known, or indices. Raises O2simError without prices."""
    drawers: dict[str, Callable[[Result, str], Figure]] = {
        "one-at-a-time": tornado, "nested": not_known, "morris": indices, "sobol": indices
    }  # fmt: skip
    return drawers[result["method"]](result, MEASURES[measure])


@mpl.rc_context(PLAIN)
def tornado(result: Result, measure: str = CHANCE) -> Figure:
    """Return a panel of bars for each strategy, the number that moves it most on top."""
    shown = {
        name: [bar for bar in item["bars"].get(measure, []) if bar["swing"] > 0][:MOST_BARS]
        for name, item in result["strategies"].items()
    }
    _require(any(measure in item["bars"] for item in result["strategies"].values()))
    rows = [max(len(bars), 1) for bars in shown.values()]
    figure, panels = _panels(rows)
    for panel, (name, bars) in zip(panels, shown.items(), strict=True):
        guess = _scaled(measure, middle(result["strategies"][name]["best_guess"][measure]))
        _tornado_panel(panel, bars, guess, measure)
        panel.set_title(name, fontsize=10, loc="left")
    _same_axis(panels, result, measure)
    _title(figure, result, f"What drives the {NAMES[measure]}?")
    keys = [Patch(label="at its low value", **LOW_LOOK), Patch(label="at its high value", **HIGH_LOOK),
            Line2D([], [], color=BLACK, linewidth=1.2, label="at the best guess of all")]  # fmt: skip
    figure.legend(handles=keys, loc="outside lower center", ncols=3, frameon=False, fontsize=8)
    return figure


def _tornado_panel(panel: Axes, bars: Sequence[Result], guess: float, measure: str) -> None:
    if not bars:
        _nothing(panel, f"{NONE_MOVES}: {number(guess)}{' %' if measure == CHANCE else ''}")
        return
    panel.axvline(guess, color=BLACK, linewidth=1.2, zorder=3)
    for place, bar in enumerate(bars):
        ends = [(_scaled(measure, middle(bar[end])), bar[end]["value"], look)
                for end, look in (("low", LOW_LOOK), ("high", HIGH_LOOK))]  # fmt: skip
        level = ends[0][0] == ends[1][0]
        for slot, (value, text, look) in enumerate(ends):
            one_side = (ends[0][0] - guess) * (ends[1][0] - guess) > 0 or level
            height, middle_at = (0.36, place + (slot - 0.5) * 0.38) if one_side else (0.7, place)
            panel.barh(middle_at, value - guess, left=guess, height=height, **look)
            right = value > guess or (value == guess and ends[1 - slot][0] < guess)
            panel.annotate(
                text, (value, middle_at), (4 if right else -4, 0), "data", "offset points",
                va="center", ha="left" if right else "right", fontsize=7,
            )  # fmt: skip
    panel.set_yticks(range(len(bars)), [_folded(bar["field"]) for bar in bars], fontsize=7.5)
    panel.set_ylim(len(bars) - 0.4, -0.6)


@mpl.rc_context(PLAIN)
def not_known(result: Result, measure: str = CHANCE) -> Figure:
    """Return what is not known apart from chance by strategy, and how the answer settled with replications."""
    names = list(result["strategies"])
    entries = {name: result["strategies"][name].get(measure) for name in names}
    _require(all(entry is not None for entry in entries.values()))
    figure = Figure(figsize=(8.0, 1.9 + 0.62 * len(names) + 2.6), layout="constrained")
    upper, lower = figure.subplots(2, 1, height_ratios=[0.62 * len(names) + 0.5, 2.6])
    for place, name in enumerate(names):
        _range_row(upper, place, entries[name], measure)
    upper.set_yticks(range(len(names)), [_folded(name, 24) for name in names], fontsize=9)
    upper.set_ylim(len(names) - 0.4, -0.6)
    upper.set_xlim(left=0 if measure != COST else None)
    _target_line(upper, result, measure)
    upper.set_xlabel(_axis_label(result, measure), fontsize=8)
    _settling(lower, result)
    for panel in (upper, lower):
        _plain(panel)
    _title(figure, result, "What is not known, apart from chance")
    keys = [Patch(facecolor=SKY, edgecolor=BLACK, label=f"range of {percent(result['range'])} of the draws"),
            Line2D([], [], color=BLACK, marker="|", markersize=11, linestyle="none",
                   label="over all that is not known"),
            Line2D([], [], color=ORANGE, marker="D", markeredgecolor=BLACK, markersize=6, linewidth=1.4,
                   label=f"best guess, {percent(result['confidence'])} interval")]  # fmt: skip
    figure.legend(handles=keys, loc="outside lower center", ncols=3, frameon=False, fontsize=8)
    return figure


def _range_row(panel: Axes, place: int, entry: Result, measure: str) -> None:
    low, high = (_scaled(measure, entry[key]["estimate"]) for key in ("range_low", "range_high"))
    if low == high:
        said = f"  {number(low)}{' %' if measure == CHANCE else ''} in all draws"
        panel.annotate(said, (0, place), xycoords=panel.get_yaxis_transform(), va="center", fontsize=8, color=GREY)
        return
    panel.barh(place - 0.1, high - low, left=low, height=0.34, facecolor=SKY, edgecolor=BLACK, linewidth=0.8)
    mean = _scaled(measure, entry["mean"]["estimate"])
    panel.plot([mean], [place - 0.1], color=BLACK, marker="|", markersize=14, markeredgewidth=2)
    guess = entry["best_guess"]
    at = _scaled(measure, middle(guess))
    if guess["low"] is not None:
        ends = [_scaled(measure, guess[end]) for end in ("low", "high")]
        panel.plot(ends, [place + 0.24] * 2, color=ORANGE, linewidth=2)
    panel.plot([at], [place + 0.24], color=ORANGE, marker="D", markeredgecolor=BLACK, markersize=6, clip_on=False)


def _settling(panel: Axes, result: Result) -> None:
    """Draw the mean and the range of the chance against replications, all draws in each."""
    rows = [row for row in result["convergence"] if row["draws"] == result["draws"]]
    marks = ("o", "s", "^", "D", "v", "x")
    styles = ("-", "--", "-.", ":")
    x = np.arange(len(rows))
    names = list(result["strategies"])
    for place, name in enumerate(names):
        told = [row["strategies"][name] for row in rows]
        if all(each["range_low"] == each["range_high"] == told[0]["mean"] for each in told):
            continue  # it says nothing, and would flatten the others
        middles = [100 * each["mean"] for each in told]
        reach = [[100 * (each["mean"] - each["range_low"]) for each in told],
                 [100 * (each["range_high"] - each["mean"]) for each in told]]  # fmt: skip
        shift = 0.12 * (place - (len(names) - 1) / 2)
        panel.errorbar(
            x + shift, middles, np.maximum(reach, 0), color=(BLUE, ORANGE, GREY, BLACK)[place % 4], capsize=3,
            marker=marks[place % len(marks)], linestyle=styles[place % len(styles)], linewidth=1.4, label=name,
        )  # fmt: skip
    panel.set_xticks(x, [f"{row['replications']:,}" for row in rows])
    panel.set_xlabel("replications inside each draw: has it settled?", fontsize=8)
    panel.set_ylabel("stock-out, %\n(mean and range)", fontsize=8)
    panel.set_ylim(bottom=0)
    if panel.get_legend_handles_labels()[0]:
        panel.legend(fontsize=8, frameon=False, loc="center left", bbox_to_anchor=(1.0, 0.5))


@mpl.rc_context(PLAIN)
def indices(result: Result, measure: str = CHANCE) -> Figure:
    """Return Morris's mu* with sigma, or Sobol's S1 with ST, a panel for each strategy."""
    key = "mu_star" if result["method"] == "morris" else "st"
    shown = {
        name: [entry for entry in item.get(measure) or [] if entry[key] != 0][:MOST_BARS]
        for name, item in result["strategies"].items()
    }
    _require(any(measure in item for item in result["strategies"].values()))
    figure, panels = _panels([max(len(entries), 1) for entries in shown.values()], row_in=0.46)
    morris = result["method"] == "morris"
    keys = ("mu_star", "sigma") if morris else ("st", "s1")
    for panel, (name, entries) in zip(panels, shown.items(), strict=True):
        panel.set_title(name, fontsize=10, loc="left")
        if not entries:
            _nothing(panel, "nothing varies")
            continue
        for slot, (key, look) in enumerate(zip(keys, (HIGH_LOOK, LOW_LOOK), strict=True)):
            factor = 100.0 if morris and measure == CHANCE else 1.0
            values = [factor * entry[key] for entry in entries]
            halves = [factor * entry.get(f"{key}_half_width", 0.0) for entry in entries]
            at = np.arange(len(entries)) + (slot - 0.5) * 0.38
            panel.barh(at, values, height=0.36, xerr=halves if any(halves) else None, ecolor=BLACK,
                       error_kw={"linewidth": 1.0, "capsize": 2}, **look)  # fmt: skip
        panel.set_yticks(range(len(entries)), [_folded(entry["field"]) for entry in entries], fontsize=7.5)
        panel.set_ylim(len(entries) - 0.4, -0.6)
        if not morris:
            low, high = panel.get_xlim()
            panel.set_xlim(max(low, SHARES[0]), min(high, SHARES[1]))
        _plain(panel)
    unit = {
        CHANCE: "percentage points",
        SUPPLY_HOURS: "patient-hours a year",
        COST: result["currency"] or "money",
    }[measure]
    panels[-1].set_xlabel(unit if morris else "share of the variance", fontsize=8)
    words = (
        ("mu*: mean size of the effect of its whole range", "sigma: how much that depends on the others, or bends")
        if morris
        else ("ST: with all it does together with others", "S1: by itself")
    )
    what = "Morris's screening" if morris else "Sobol's indices"
    _title(figure, result, f"What drives the {NAMES[measure]}? {what}")
    patches = [Patch(label=words[0], **HIGH_LOOK), Patch(label=words[1], **LOW_LOOK)]
    figure.legend(handles=patches, loc="outside lower center", ncols=1, frameon=False, fontsize=8)
    return figure


def _panels(rows: Sequence[int], row_in: float = ROW_IN) -> tuple[Figure, list[Axes]]:
    """Return a figure with a panel for each strategy, as high as its rows."""
    heights = [row_in * count + 0.45 for count in rows]
    figure = Figure(figsize=(8.0, sum(heights) + 1.5), layout="constrained")
    return figure, list(np.ravel(figure.subplots(len(rows), 1, height_ratios=heights, squeeze=False)))


def _same_axis(panels: Sequence[Axes], result: Result, measure: str) -> None:
    """Give chances one axis, with room for labels; hours and money of strategies differ too much for one."""
    drawn = [panel for panel in panels if panel.patches]
    together = measure == CHANCE
    shared = [end for panel in drawn for end in panel.get_xlim()]
    for panel in drawn:
        low, high = (min(shared), max(shared)) if together else panel.get_xlim()
        panel.set_xlim(low - ROOM * (high - low), high + ROOM * (high - low))
        if measure != COST:
            panel.set_xticks([tick for tick in panel.get_xticks() if 0 <= tick <= high + ROOM * (high - low)])
        _plain(panel)
        _target_line(panel, result, measure)
    if drawn:
        drawn[-1].set_xlabel(_axis_label(result, measure), fontsize=8)


def _target_line(panel: Axes, result: Result, measure: str) -> None:
    if measure == CHANCE:
        low, high = panel.get_xlim()
        at = 100 * result["target"]
        if low <= at <= high:
            panel.axvline(at, color=GREY, linewidth=1.1, linestyle=(0, (1, 1.5)))
            panel.annotate(f"target {percent(result['target'])}", (at, 1), (2, 2), ("data", "axes fraction"),
                           "offset points", fontsize=7, color=GREY)  # fmt: skip


def _axis_label(result: Result, measure: str) -> str:
    if measure == CHANCE:
        days = result["horizon_days"]
        return f"{NAMES[CHANCE]} within {'a year' if is_year(days) else span(days)}, %"
    return NAMES[measure] + (f", {result['currency']}" if measure == COST and result["currency"] else "")


def _nothing(panel: Axes, said: str) -> None:
    panel.set_yticks([])
    panel.set_xticks([])
    # a little below the middle, where the last digit of a drawing's numbers would hang on how floats are rounded
    panel.text(0.02, 0.49, said, transform=panel.transAxes, va="center", fontsize=8, color=GREY)
    for side in ("top", "right", "left", "bottom"):
        panel.spines[side].set_visible(False)


def _plain(panel: Axes) -> None:
    for side in ("top", "right"):
        panel.spines[side].set_visible(False)
    panel.grid(axis="x", color=BLACK, alpha=0.12, linewidth=0.6)
    panel.set_axisbelow(True)
    panel.tick_params(axis="x", labelsize=8)


def _title(figure: Figure, result: Result, what: str) -> None:
    draws = f"{result['draws']:,} draws, " if "draws" in result else ""
    made = (
        f"{shorten(result['scenario'], 60, placeholder=' ...')}: {draws}{result['replications']:,} replications a "
        f"point, seed {result['seed']}"
    )
    below = [*under_title(result), *wrap(_holds(result), A_LINE)]
    figure.suptitle("\n".join([what, made, *below]), fontsize=10, x=0.01, ha="left")


def _holds(result: Result) -> str:
    """Return what ranges and intervals of a drawing hold; the bars of a tornado have none."""
    if result["method"] == "nested":
        return f"The range is what unknown inputs do; the interval of the best guess holds {doubt.CHANCE_ONLY}."
    return "" if result["method"] == "one-at-a-time" else held(result)


def _scaled(measure: str, value: float) -> float:
    return 100 * value if measure == CHANCE else value


def _folded(field: str, width: int = 34) -> str:
    """Return a dotted path on two lines where it is long, broken at a dot."""
    if len(field) <= width:
        return field
    head, tail = field[: len(field) // 2 + 8].rpartition(".")[0], ""
    tail = field[len(head) :]
    return f"{head}\n{tail}" if head else "\n".join(wrap(field, width))


def _require(there: bool) -> None:
    if not there:
        raise O2simError("charts: the scenario states no prices, so there is no cost to draw")
