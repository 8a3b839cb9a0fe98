"""Draw a what-if: heat maps over two fields; lines are in line_charts.py."""

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

from o2sim.errors import O2simError
from o2sim.looks import doubt
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, PLAIN, RED, SKY
from o2sim.looks.figures import estimate
from o2sim.looks.frames import numbers
from o2sim.looks.words import axis_words, number, percent
from o2sim.questions.whatif.break_even import Floats
from o2sim.questions.whatif.chart_words import measure_words, require, title
from o2sim.questions.whatif.line_charts import PANELS_A_ROW, lines
from o2sim.questions.whatif.text import DRAWN, Result, asked
from o2sim.questions.whatif.whatif import WhatIf
from o2sim.shown import chart

SHADES = LinearSegmentedColormap.from_list("shades", ["#FFFFFF", SKY, BLUE, "#00273D"])
DARK = 0.6  # of the scale: beyond it white stands out more than black
WIDE = (
    8  # values across: in more there is no room for intervals, and the sign of percent stands in the title alone
)
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


@mpl.rc_context(PLAIN)
def heat_map(result: Result, measure: str = "chance") -> Figure:
    """Return a panel for each strategy over the first two fields, the target's contour drawn on the chance.

    Of more than two fields the others stand at their first value. Raises O2simError for fewer than two fields, and
    for a cost without prices.
    """
    if len(result["vary"]) < 2:
        raise O2simError("a heat map needs two fields: give --vary twice, or ask for --lines")
    require(result, measure)
    across, down, *_ = result["vary"]
    fixed, points = _at_first(result, 2)
    names = list(result["strategies"])
    columns = min(PANELS_A_ROW, len(names))
    rows = -(-len(names) // columns)
    least = 0.55 if len(across["values"]) > WIDE else 0.8
    cell = max(least, min(0.95, 6.5 / max(1, len(across["values"])) / columns))
    width = max(7.5, columns * (cell * len(across["values"]) + 0.9) + 0.6)
    tall = 0.42 if len(across["values"]) > WIDE else 0.52
    height = rows * (tall * len(down["values"]) + 1.2) + 1.2
    figure = Figure(figsize=(min(width, 16), min(max(height, 3.4), 14)), layout="constrained")
    panels = np.atleast_1d(np.array(figure.subplots(rows, columns, squeeze=False))).ravel()
    values = {name: _grid(points, across, down, name, measure) for name in names}
    top = (
        1.0 if measure == "chance" else max(float(np.nan_to_num(e[..., 0]).max()) for e in values.values()) or 1.0
    )
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
    words = f"{measure_words(result, measure)}{', %' if measure == 'chance' else ''}"
    rest = "".join(f", {path} = {text}" for path, text in fixed.items())
    wide = int(13 * figure.get_figwidth())
    said = title(result, f"What if? {words[0].upper()}{words[1:]}{rest}", wide)
    figure.suptitle(said, fontsize=10, x=0.01, ha="left")
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


def _heat_panel(panel: Axes, cells: Floats, result: Result, measure: str, top: float) -> None:
    """Draw one strategy's cells with figures and intervals, and the target's contour along their edges."""
    grid = cells[..., 0]
    share = np.sqrt(np.clip(grid / top, 0, 1))  # so that small chances can be seen
    panel.imshow(share, cmap=SHADES, vmin=0, vmax=1, aspect="auto", origin="lower")
    for row, column in np.ndindex(grid.shape):
        middle, low, high = map(float, cells[row, column])
        said = _said(middle, low, high, measure, ends=grid.shape[1] <= WIDE)
        colour = "#FFFFFF" if share[row, column] > DARK else BLACK
        panel.text(column, row, said, ha="center", va="center", fontsize=7, color=colour, linespacing=1.1)
    panel.tick_params(length=0)
    if measure == "chance":
        _contour(panel, grid <= result["target"])


def _said(middle: float, low: float, high: float, measure: str, *, ends: bool) -> str:
    """Return what stands in a cell: a chance is never a zero that looks certain; its interval below, if ends."""
    if np.isnan(middle):
        return "-"
    factor, sign = (100, " %" if ends else "") if measure == "chance" else (1, "")
    if np.isnan(high):
        return "none" if measure == "chance" and not middle else f"{number(factor * middle)}{sign}"
    said = estimate({"mean": middle, "low": low, "high": high}, factor)
    first, _, interval = said.partition(" (")
    first = "none" if measure == "chance" and not middle else f"{first}{sign}"
    return f"{first}\n({interval}" if ends else first


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
    """Return the measure and its ends, shape (down, across, 3); nan where there is none."""
    grid = np.full((len(down["values"]), len(across["values"]), 3), np.nan)
    for point in points:
        where = tuple(each["values"].index(point["values"][each["field"]]) for each in (down, across))
        found = numbers(point["strategies"][name][DRAWN[measure][0]])
        grid[where] = [np.nan if each is None else each for each in found]
    return grid
