"""Draw what drives the answer: bars by number, what is unknown apart from chance, or indices.

The low end is hatched and the high end plain, each with its value beside it: colour is never the only sign.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, GREY, ORANGE, PLAIN, SKY
from o2sim.looks.words import a_point, is_year, number, percent, span, under_title
from o2sim.measures.names import BROKEN, CHANCE, COST, NOT_BOUGHT, SUPPLY_HOURS
from o2sim.questions.drivers.drivers import Drivers
from o2sim.questions.drivers.result import (
    Answers,
    Bar,
    Found,
    Index,
    Nested,
    OneAtATime,
    OverDraws,
    Row,
    Screened,
    Tornado,
)
from o2sim.questions.drivers.text import NAMES, asked, held, scaled, sentences
from o2sim.questions.whatif.text import DRAWN
from o2sim.shown import chart
from o2sim.typed import as_json

MOST_BARS = 8  # of one strategy
ROW_IN = 0.34
A_LINE = 95  # letters across the drawing
ROOM = 0.17  # beside the bars, of their width, for the values
SHARES = (-0.1, 1.1)  # of variance that are shown
LOW_LOOK: dict[str, Any] = {"facecolor": SKY, "edgecolor": BLACK, "hatch": "////", "linewidth": 0.8}
HIGH_LOOK: dict[str, Any] = {"facecolor": BLUE, "edgecolor": BLACK, "linewidth": 0.8}
NONE_MOVES = "the same at every end"
KEYS: dict[str, tuple[tuple[str, str], ...]] = {  # figures that are drawn, with their words
    "morris": (
        ("mu_star", "mu*: mean size of the effect of its whole range"),
        ("sigma", "sigma: how much that depends on the others, or bends"),
    ),
    "sobol": (("st", "ST: with all it does together with others"), ("s1", "S1: by itself")),
}


@chart.register
def _picture(result: Drivers, measure: str = "chance") -> Picture:
    said = result.answers
    if measure not in DRAWN:
        raise O2simError(f"chart: found measure={measure!r}; allowed: {', '.join(DRAWN)}")
    alt = f"{asked(said)} {' '.join(sentences(said))}"
    return Picture("drivers", "What drives the answer?", alt, held(said), draw(said, measure))


@mpl.rc_context(PLAIN)
def draw(result: Found, measure: str = "chance") -> Figure:
    """Return the chart of a result: tornado, what is not known, or indices. Raises O2simError without prices."""
    name, _ = DRAWN[measure]
    found = [item.bars if isinstance(item, Tornado) else item for item in result.strategies.values()]
    enough = all if isinstance(result, Nested) else any
    if not enough(name in item for item in found):
        raise O2simError("charts: the scenario states no prices, so there is no cost to draw")
    if isinstance(result, OneAtATime):
        return _tornado(result, name)
    return _not_known(result, name) if isinstance(result, Nested) else _indices(result, name)


def _tornado(result: OneAtATime, measure: str) -> Figure:
    """Return a panel of bars for each strategy, the number that moves it most on top."""
    shown = {
        name: [bar for bar in item.bars.get(measure, ()) if bar.swing > 0][:MOST_BARS]
        for name, item in result.strategies.items()
    }
    figure, panels = _panels(shown)
    for panel, (name, bars) in zip(panels, shown.items(), strict=True):
        guess = scaled(measure, result.strategies[name].best_guess[measure].middle)
        _tornado_panel(panel, bars, guess, measure)
    _same_axis(panels, result, measure)
    _title(figure, result, f"What drives the {NAMES[measure]}?")
    _key(figure, Patch(label="at its low value", **LOW_LOOK), Patch(label="at its high value", **HIGH_LOOK),
         Line2D([], [], color=BLACK, linewidth=1.2, label="at the best guess of all"))  # fmt: skip
    return figure


def _tornado_panel(panel: Axes, bars: Sequence[Bar], guess: float, measure: str) -> None:
    if not bars:
        _nothing(panel, f"{NONE_MOVES}: {number(guess)}{' %' if measure == CHANCE else ''}")
        return
    panel.axvline(guess, color=BLACK, linewidth=1.2, zorder=3)
    for place, bar in enumerate(bars):
        ends = [(scaled(measure, end.middle), end.value, look)
                for end, look in ((bar.low, LOW_LOOK), (bar.high, HIGH_LOOK))]  # fmt: skip
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
    _fields(panel, bars)


def _not_known(result: Nested, measure: str) -> Figure:
    """Return what is not known apart from chance by strategy, and how the answer settled with replications."""
    names = list(result.strategies)
    figure = Figure(figsize=(8.0, 1.9 + 0.62 * len(names) + 2.6), layout="constrained")
    upper, lower = figure.subplots(2, 1, height_ratios=[0.62 * len(names) + 0.5, 2.6])
    for place, item in enumerate(result.strategies.values()):
        _range_row(upper, place, item[measure], measure)
    upper.set_yticks(range(len(names)), [_folded(name, 24) for name in names], fontsize=9)
    upper.set_ylim(len(names) - 0.4, -0.6)
    upper.set_xlim(left=0 if measure != COST else None)
    _target_line(upper, result, measure)
    upper.set_xlabel(_axis_label(result, measure), fontsize=8)
    _settling(lower, [row for row in result.convergence if row.draws == result.draws])
    for panel in (upper, lower):
        _plain(panel)
    _title(figure, result, "What is not known, apart from chance")
    _key(figure, Patch(facecolor=SKY, edgecolor=BLACK, label=f"range of {percent(result.range)} of the draws"),
         Line2D([], [], color=BLACK, marker="|", markersize=11, linestyle="none",
                label="over all that is not known"),
         Line2D([], [], color=ORANGE, marker="D", markeredgecolor=BLACK, markersize=6, linewidth=1.4,
                label=f"best guess, {percent(result.confidence)} interval"))  # fmt: skip
    return figure


def _range_row(panel: Axes, place: int, entry: OverDraws, measure: str) -> None:
    guess = entry.best_guess
    low, high, mean, at = (
        scaled(measure, each.middle) for each in (entry.range_low, entry.range_high, entry.mean, guess)
    )
    if low == high:
        said = f"  {number(low)}{' %' if measure == CHANCE else ''} in all draws"
        panel.annotate(said, (0, place), xycoords=panel.get_yaxis_transform(), va="center", fontsize=8, color=GREY)
        return
    panel.barh(place - 0.1, high - low, left=low, height=0.34, facecolor=SKY, edgecolor=BLACK, linewidth=0.8)
    panel.plot([mean], [place - 0.1], color=BLACK, marker="|", markersize=14, markeredgewidth=2)
    if guess.low is not None and guess.high is not None:
        ends = [scaled(measure, end) for end in (guess.low, guess.high)]
        panel.plot(ends, [place + 0.24] * 2, color=ORANGE, linewidth=2)
    panel.plot([at], [place + 0.24], color=ORANGE, marker="D", markeredgecolor=BLACK, markersize=6, clip_on=False)


def _settling(panel: Axes, rows: Sequence[Row]) -> None:
    """Draw the mean and the range of the chance against replications, all draws in each."""
    markers = ("o", "s", "^", "D", "v", "x")
    styles = ("-", "--", "-.", ":")
    x = np.arange(len(rows))
    names = list(rows[0].strategies)
    for place, name in enumerate(names):
        means, lows, highs = (
            np.array([row.strategies[name][key] for row in rows]) for key in ("mean", "range_low", "range_high")
        )
        if (lows == highs).all() and (lows == means[0]).all():
            continue  # it says nothing, and would flatten the others
        reach = np.maximum([100 * (means - lows), 100 * (highs - means)], 0)
        shift = 0.12 * (place - (len(names) - 1) / 2)
        panel.errorbar(
            x + shift, 100 * means, reach, color=(BLUE, ORANGE, GREY, BLACK)[place % 4], capsize=3,
            marker=markers[place % len(markers)], linestyle=styles[place % len(styles)], linewidth=1.4, label=name,
        )  # fmt: skip
    panel.set_xticks(x, [f"{row.replications:,}" for row in rows])
    panel.set_xlabel("replications inside each draw: has it settled?", fontsize=8)
    panel.set_ylabel("supply shortfall, %\n(mean and range)", fontsize=8)
    panel.set_ylim(bottom=0)
    if panel.get_legend_handles_labels()[0]:
        panel.legend(fontsize=8, frameon=False, loc="center left", bbox_to_anchor=(1.0, 0.5))


def _indices(result: Screened, measure: str) -> Figure:
    """Return Morris's mu* with sigma, or Sobol's S1 with ST, a panel for each strategy."""
    morris, keys = result.method == "morris", KEYS[result.method]
    looks = (HIGH_LOOK, LOW_LOOK)
    shown = {
        name: [each for each in item.get(measure) or () if getattr(each, keys[0][0]) != 0][:MOST_BARS]
        for name, item in result.strategies.items()
    }
    figure, panels = _panels(shown, row_in=0.46)
    for panel, found in zip(panels, shown.values(), strict=True):
        if not found:
            _nothing(panel, "nothing varies")
            continue
        for slot, ((key, _), look) in enumerate(zip(keys, looks, strict=True)):
            factor = scaled(measure, 1.0) if morris else 1.0
            values = [factor * getattr(each, key) for each in found]
            halves = [factor * getattr(each, f"{key}_half_width", 0.0) for each in found]
            at = np.arange(len(found)) + (slot - 0.5) * 0.38
            panel.barh(at, values, height=0.36, xerr=halves if any(halves) else None, ecolor=BLACK,
                       error_kw={"linewidth": 1.0, "capsize": 2}, **look)  # fmt: skip
        _fields(panel, found)
        if not morris:
            low, high = panel.get_xlim()
            panel.set_xlim(max(low, SHARES[0]), min(high, SHARES[1]))
        _plain(panel)
    units = {CHANCE: "percentage points", SUPPLY_HOURS: "patient-hours a year", COST: result.currency or "money",
             NOT_BOUGHT: "cylinders a year", BROKEN: "unit-hours a year"}  # fmt: skip
    panels[-1].set_xlabel(units[measure] if morris else "share of the variance", fontsize=8)
    what = "Morris's screening" if morris else "Sobol's indices"
    _title(figure, result, f"What drives the {NAMES[measure]}? {what}")
    _key(figure, *(Patch(label=words, **look) for (_, words), look in zip(keys, looks, strict=True)), columns=1)
    return figure


def _panels(shown: Mapping[str, Sequence[Any]], row_in: float = ROW_IN) -> tuple[Figure, list[Axes]]:
    """Return a figure with a panel for each strategy, as high as its rows."""
    heights = [row_in * max(len(rows), 1) + 0.45 for rows in shown.values()]
    figure = Figure(figsize=(8.0, sum(heights) + 1.5), layout="constrained")
    panels = list(np.ravel(figure.subplots(len(shown), 1, height_ratios=heights, squeeze=False)))
    for panel, name in zip(panels, shown, strict=True):
        panel.set_title(name, fontsize=10, loc="left")
    return figure, panels


def _fields(panel: Axes, rows: Sequence[Bar | Index]) -> None:
    """Name the rows of a panel, the first on top."""
    panel.set_yticks(range(len(rows)), [_folded(each.field) for each in rows], fontsize=7.5)
    panel.set_ylim(len(rows) - 0.4, -0.6)


def _key(figure: Figure, *handles: Patch | Line2D, columns: int = 3) -> None:
    figure.legend(handles=handles, loc="outside lower center", ncols=columns, frameon=False, fontsize=8)


def _same_axis(panels: Sequence[Axes], result: Answers, measure: str) -> None:
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


def _target_line(panel: Axes, result: Answers, measure: str) -> None:
    if measure == CHANCE:
        low, high = panel.get_xlim()
        at = 100 * result.target
        if low <= at <= high:
            panel.axvline(at, color=GREY, linewidth=1.1, linestyle=(0, (1, 1.5)))
            panel.annotate(f"target {percent(result.target)}", (at, 1), (2, 2), ("data", "axes fraction"),
                           "offset points", fontsize=7, color=GREY)  # fmt: skip


def _axis_label(result: Answers, measure: str) -> str:
    if measure == CHANCE:
        days = result.horizon_days
        return f"{NAMES[CHANCE]} within {'a year' if is_year(days) else span(days)}, %"
    return NAMES[measure] + (f", {result.currency}" if measure == COST and result.currency else "")


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


def _title(figure: Figure, result: Answers, what: str) -> None:
    draws = f"{result.draws:,} draws, " if isinstance(result, Nested) else ""
    ran, name = result.ran, shorten(result.of.scenario, 60, placeholder=" ...")
    made = f"{name}: {draws}{a_point(ran.replications)}, seed {ran.seed}"
    below = [*under_title(as_json(result.levels)), *wrap(_holds(result), A_LINE)]
    figure.suptitle("\n".join([what, made, *below]), fontsize=10, x=0.01, ha="left")


def _holds(result: Answers) -> str:
    """Return what ranges and intervals of a drawing hold; the bars of a tornado have none."""
    if isinstance(result, Nested):
        return f"The range is what unknown inputs do; the interval of the best guess holds {doubt.CHANCE_ONLY}."
    return "" if isinstance(result, OneAtATime) else held(result)


def _folded(field: str, width: int = 34) -> str:
    """Return a dotted path on two lines where it is long, broken at a dot."""
    if len(field) <= width:
        return field
    head = field[: len(field) // 2 + 8].rpartition(".")[0]
    return f"{head}\n{field[len(head) :]}" if head else "\n".join(wrap(field, width))
