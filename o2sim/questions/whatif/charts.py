"""Draw a what-if: heat maps over two fields, lines over one."""

from __future__ import annotations

from collections.abc import Sequence
from math import prod
from textwrap import wrap
from typing import Any

import matplotlib as mpl
import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator, StrMethodFormatter

from o2sim.errors import O2simError
from o2sim.looks import doubt
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PLAIN, PURPLE, RED, SKY, clipped
from o2sim.looks.frames import numbers
from o2sim.looks.words import axis_words, is_year, many, number, percent, span, under_title
from o2sim.questions.whatif.break_even import BY_CHANCE, BY_COST, BY_HOURS, Floats
from o2sim.questions.whatif.text import DRAWN, Result, asked
from o2sim.questions.whatif.whatif import WhatIf
from o2sim.scenario.changing.levers import lever
from o2sim.shown import chart

COLOURS = (BLUE, RED, GREEN, PURPLE, ORANGE, GREY)
MARKERS = ("o", "s", "^", "D", "v", "X", "P")
STYLES = ("-", "--", "-.", ":")
MOST_BANDS = 5  # strategies: more bands would hide one another, so bars stand in for them
PANELS_A_ROW = 3
SHADES = LinearSegmentedColormap.from_list("shades", ["#FFFFFF", SKY, BLUE, "#00273D"])
DARK = 0.6  # of the scale: beyond it white stands out more than black
WIDE = 8  # values across: in more the sign of percent stands in the title alone
SHORT = 4  # letters: longer values are written aslant


@chart.register
def _picture(result: WhatIf, of: str = "lines", measure: str = "chance") -> Picture:
    said = result.result
    if of not in ("lines", "heat") or measure not in DRAWN:
        raise O2simError(
            f"chart: found of={of!r}, measure={measure!r}; allowed: lines or heat, and {', '.join(DRAWN)}"
        )
    count = prod(len(each["values"]) for each in said["vary"])
    if count != len(said["points"]) and (of == "heat" or len(said["vary"]) > 1):
        raise O2simError("chart: the combinations that were run are no grid; draw them from to_frame()")
    figure = heat_map(said, measure) if of == "heat" else lines(said, measure)
    what = DRAWN[measure][1]
    alt = f"{what[0].upper()}{what[1:]} of each strategy. {asked(said)}"
    note = f"Bands and brackets: {percent(said['confidence'])} interval, each point by itself: {doubt.held(said)}."
    return Picture("whatif", "What if?", alt, note, figure)


def _require(result: Result, measure: str) -> None:
    """Raise O2simError where no strategy has the measure anywhere: without prices there is no cost."""
    entries = (item[DRAWN[measure][0]] for point in result["points"] for item in point["strategies"].values())
    if all(entry is None for entry in entries):
        raise O2simError(f"charts: the scenario states no prices, so there is no {measure} to draw")


@mpl.rc_context(PLAIN)
def heat_map(result: Result, measure: str = "chance") -> Figure:
    """Return a panel for each strategy over the first two fields, the target's contour drawn on the chance.

    Of more than two fields the others stand at their first value. Raises O2simError for fewer than two fields, and
    for a cost without prices.
    """
    if len(result["vary"]) < 2:
        raise O2simError("a heat map needs two fields: give --vary twice, or ask for --lines")
    _require(result, measure)
    across, down, *_ = result["vary"]
    fixed, points = _at_first(result, 2)
    names = list(result["strategies"])
    columns = min(PANELS_A_ROW, len(names))
    rows = -(-len(names) // columns)
    cell = max(0.55, min(0.95, 6.5 / max(1, len(across["values"])) / columns))
    width = max(7.5, columns * (cell * len(across["values"]) + 0.9) + 0.6)
    height = rows * (0.42 * len(down["values"]) + 1.2) + 1.2
    figure = Figure(figsize=(min(width, 16), min(max(height, 3.4), 14)), layout="constrained")
    panels = np.atleast_1d(np.array(figure.subplots(rows, columns, squeeze=False))).ravel()
    values = {name: _grid(points, across, down, name, measure) for name in names}
    top = 1.0 if measure == "chance" else max(float(np.nan_to_num(each).max()) for each in values.values()) or 1.0
    for panel, name in zip(panels, names, strict=False):
        _heat_panel(panel, values[name], result, measure, top)
        letters = int(9 * figure.get_figwidth() / columns)
        panel.set_title("\n".join(wrap(name, max(12, letters))), fontsize=10, loc="left")
        slant: dict[str, Any] = {"rotation": 40, "ha": "right"} if max(map(len, across["values"])) > SHORT else {}
        panel.set_xticks(range(len(across["values"])), across["values"], fontsize=8, **slant)
        panel.set_yticks(range(len(down["values"])), down["values"], fontsize=8)
        panel.set_xlabel(axis_words(across["field"]), fontsize=8)
        panel.set_ylabel(down["field"], fontsize=8)
    for panel in panels[len(names) :]:
        panel.set_axis_off()
    words = f"{_measure(result, measure)}{', %' if measure == 'chance' else ''}"
    rest = "".join(f", {path} = {text}" for path, text in fixed.items())
    wide = int(13 * figure.get_figwidth())
    title = _title(result, f"What if? {words[0].upper()}{words[1:]}{rest}", wide)
    figure.suptitle(title, fontsize=10, x=0.01, ha="left")
    if measure == "chance":
        edge = Patch(
            facecolor="none",
            edgecolor=RED,
            linewidth=2.2,
            label=f"inside: target of {percent(result['target'])} met as estimated; the table has the intervals. "
            f"“none”: none seen in {result['replications']:,} replications",
        )
        figure.legend(handles=[edge], loc="outside lower center", frameon=False, fontsize=8)
    return figure


def _heat_panel(panel: Axes, grid: Floats, result: Result, measure: str, top: float) -> None:
    """Draw one strategy's cells with their figures, and the target's contour along the cells' edges."""
    share = np.sqrt(np.clip(grid / top, 0, 1))  # so that small chances can be seen
    panel.imshow(share, cmap=SHADES, vmin=0, vmax=1, aspect="auto", origin="lower")
    for row, column in np.ndindex(grid.shape):
        if np.isnan(grid[row, column]):
            said = "-"
        elif measure == "chance":  # never a zero that looks certain
            sign = " %" if grid.shape[1] <= WIDE else ""
            said = f"{100 * grid[row, column]:.3g}{sign}" if grid[row, column] else "none"
        else:
            said = number(float(grid[row, column]))
        colour = "#FFFFFF" if share[row, column] > DARK else BLACK
        panel.text(column, row, said, ha="center", va="center", fontsize=7.5, color=colour)
    panel.tick_params(length=0)
    if measure == "chance":
        _contour(panel, grid <= result["target"])


def _contour(panel: Axes, inside: npt.NDArray[np.bool_]) -> None:
    """Draw a line along the edges of the cells inside: what was not run is not interpolated."""
    padded = np.pad(inside, 1)
    for row, column in np.argwhere(padded):
        x, y = column - 1, row - 1
        for right, up in ((0, 1), (0, -1), (1, 0), (-1, 0)):
            if not padded[row + up, column + right]:
                along = [[x - 0.5, x + 0.5], [y - 0.5, y + 0.5]]
                along[0 if right else 1] = [x + right / 2] * 2 if right else [y + up / 2] * 2
                panel.plot(*along, color=RED, linewidth=2.2, solid_capstyle="round", clip_on=False)


def _at_first(result: Result, free: int) -> tuple[dict[str, str], list[Result]]:
    """Return the first value of each field but the first ones, and the points there."""
    fixed = {each["field"]: each["values"][0] for each in result["vary"][free:]}
    points = result["points"]
    return fixed, [each for each in points if all(each["values"][path] == text for path, text in fixed.items())]


def _grid(points: Sequence[Result], across: Result, down: Result, name: str, measure: str) -> Floats:
    """Return the measure by (down, across); nan where it was not run or has no price."""
    grid = np.full((len(down["values"]), len(across["values"])), np.nan)
    for point in points:
        where = tuple(each["values"].index(point["values"][each["field"]]) for each in (down, across))
        middle, *_ = numbers(point["strategies"][name][DRAWN[measure][0]])
        grid[where] = np.nan if middle is None else middle
    return grid


@mpl.rc_context(PLAIN)
def lines(result: Result, measure: str = "chance") -> Figure:
    """Return each strategy along the first field with its band; break-evens and the target marked.

    Of several fields the others stand at their first value. Raises O2simError for a cost without prices.
    """
    _require(result, measure)
    axis, names = result["vary"][0], list(result["strategies"])
    fixed, chosen = _at_first(result, 1)
    texts = [point["values"][axis["field"]] for point in chosen]
    values = lever(axis["field"], ", ".join(texts)).numbers
    places = np.arange(len(texts)) if values is None else np.array(values)
    deep = -(-len(names) // _key_columns(names))
    figure = Figure(figsize=(8.0, 4.4 + 0.17 * deep), layout="constrained")
    axes = figure.add_subplot()
    factor = 100.0 if measure == "chance" else 1.0
    for rank, name in enumerate(names):
        found = [each["strategies"][name][DRAWN[measure][0]] for each in chosen]
        known = [(places[at], *numbers(found[at])) for at in np.argsort(places) if found[at] is not None]
        if known:
            _line(axes, known, factor, name, rank, banded=len(names) <= MOST_BANDS and len(known) > 1)
    _mark(axes, result, axis, fixed, measure)
    if values is None:
        axes.set_xticks(places, texts)
    else:
        _ticks(axes, places, texts)
    logarithmic = ", logarithmic scale" if axes.get_xscale() == "log" else ""
    axes.set_xlabel(
        f"{axis_words(axis['field'], axis['unit'])}{logarithmic}\nbands and bars: {doubt.held(result)}"
    )
    days = result["horizon_days"]
    within = f" within {'a year' if is_year(days) else span(days)}" if measure == "chance" else ""
    axes.set_ylabel("\n".join(wrap(f"{_measure(result, measure)}{within}", 40)))
    axes.set_ylim(bottom=0)
    axes.yaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    if measure == "chance":
        axes.set_ylim(0, 104)
        axes.yaxis.set_major_formatter(FuncFormatter(lambda y, _: f"{y:g} %"))
    axes.grid(axis="y", color=BLACK, alpha=0.12, linewidth=0.6)
    rest = "".join(f" with {path} = {text}" for path, text in fixed.items())
    axes.set_title(_title(result, f"What if {axis['field']} changes{rest}?"), fontsize=10, loc="left")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    figure.legend(loc="outside lower center", ncols=_key_columns(names), frameon=False, fontsize=8)
    return figure


def _line(axes: Axes, known: Sequence[Any], factor: float, name: str, rank: int, *, banded: bool) -> None:
    """Draw place, middle, low, high of one strategy: a band where few are drawn, else a thin bar at each value."""
    colour = COLOURS[rank % len(COLOURS)]
    x = [row[0] for row in known]
    middle, low, high = ([factor * (row[1] if row[k] is None else row[k]) for row in known] for k in (1, 2, 3))
    if banded:
        axes.fill_between(x, low, high, color=colour, alpha=0.18, linewidth=0)
    else:
        axes.vlines(x, low, high, color=colour, linewidth=1.2, alpha=0.7)
    axes.plot(
        x, middle, color=colour, marker=MARKERS[rank % len(MARKERS)], linewidth=1.8,
        label="\n".join(wrap(name, 60)), clip_on=False,
        linestyle=STYLES[(rank + rank // len(COLOURS)) % len(STYLES)],
        markersize=max(4.0, 8.0 - 1.5 * rank),  # those drawn later are smaller, so that equal ones are both seen
    )  # fmt: skip


def _key_columns(names: Sequence[str]) -> int:
    """Return how many strategies of the key stand side by side."""
    longest = max(map(len, names))
    return 1 if longest > 40 else 2 if longest > 24 else 3


def _measure(result: Result, measure: str) -> str:
    """Return what is drawn, money with its currency."""
    currency = f", {result['currency']}" if measure == "cost" and result["currency"] else ""
    return f"{DRAWN[measure][1]}{currency}"


def _ticks(axes: Axes, places: npt.NDArray[Any], texts: Sequence[str]) -> None:
    """Put a tick at each value that was run; a logarithmic axis where the values multiply."""
    spread = sorted(float(place) for place in places)
    if (
        len(spread) > 2
        and spread[0] > 0
        and spread[-1] / spread[0] >= 10
        and spread[-1] - spread[-2] > 3 * (spread[1] - spread[0])
    ):
        axes.set_xscale("log")
        axes.xaxis.set_minor_locator(mpl.ticker.NullLocator())
    if len(texts) <= 14:
        axes.set_xticks(places, texts)
    elif all(place == round(place) for place in spread):
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))


def _mark(axes: Axes, result: Result, axis: Result, fixed: Result, measure: str) -> None:
    """Draw the target, and the break-evens that belong to what the lines show."""
    if measure == "chance":
        axes.axhline(100 * result["target"], color=BLACK, linewidth=1.1, linestyle=(0, (1, 1.5)),
                     label=f"target {percent(result['target'])}")  # fmt: skip
    wanted = {"chance": BY_CHANCE, "hours": BY_HOURS, "cost": BY_COST}[measure]
    for change in result["break_evens"]:
        if change["field"] == axis["field"] and change["at"] == dict(fixed) and change["by"] == wanted:
            label = f"break-even {number(change['value'])} {many(change['unit'])}".rstrip()
            axes.axvline(change["value"], color=GREY, linewidth=1.2, linestyle="--", label=label)
            if change["low"] is not None:
                axes.axvspan(change["low"], change["high"], color=GREY, alpha=0.12, linewidth=0)


def _title(result: Result, what: str, wide: int = 95) -> str:
    runs = result["replications"]
    made = f"{runs:,} replication{'' if runs == 1 else 's'} a point, seed {result['seed']}"
    name = clipped(result["scenario"], max(20, wide - len(made) - 2))
    return "\n".join([*wrap(what, wide), f"{name}: {made}", *under_title(result)])
