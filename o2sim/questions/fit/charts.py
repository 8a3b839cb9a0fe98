"""A drawing of what was recorded and what was fitted to it, for each panel of a part."""

from __future__ import annotations

from textwrap import wrap

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from o2sim.fits.found import Curve, Panel
from o2sim.looks.blocks import Picture
from o2sim.looks.drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PLAIN, RED, SMALL, above, narrow_figure
from o2sim.looks.words import capital, number

HEIGHT_IN = 3.2
OF_LINES = ((BLUE, "-"), (RED, (0, (5, 2))), (GREEN, (0, (1, 1.5))), (ORANGE, (0, (5, 2, 1, 2))))
OF_RECORDS = ((BLACK, "o"), (GREY, "s"))
PALE = "#DDDDDD"  # bars, so that a band before them is seen
BAND = 0.28  # of the full colour
MANY = 60  # points: so many are drawn small
A_LINE = 62  # letters across the drawing


def picture(panel: Panel, name: str, note: str) -> Picture:
    """Return the drawing of a panel; name begins its ids on a page, note stands below it."""
    return Picture(name, panel.title, in_words(panel), note, panel_chart(panel))


@mpl.rc_context(PLAIN)
def panel_chart(panel: Panel) -> Figure:
    """Return lines, steps, bars and points with their bands: recorded in black, fitted in colours."""
    figure, axes = narrow_figure(HEIGHT_IN)
    lines = records = 0
    for curve in panel.curves:
        if curve.kind == "line":
            color, dashes = OF_LINES[lines % len(OF_LINES)]
            lines += 1
            axes.plot(curve.x, curve.y, color=color, linestyle=dashes, linewidth=1.6, label=_label(curve))
            _band(axes, curve, color)
        else:
            color, marker = OF_RECORDS[records % len(OF_RECORDS)]
            records += 1
            _recorded(axes, curve, color, marker)
    axes.set_xlabel(panel.x_label, fontsize=9)
    axes.tick_params(labelsize=SMALL)
    above(axes, "\n".join(wrap(panel.y_label, A_LINE)))
    axes.margins(x=0.02)
    if any(curve.name for curve in panel.curves):
        figure.legend(loc="outside lower left", ncols=1, frameon=False, fontsize=SMALL)
    return figure


def _label(curve: Curve) -> str:
    band = ", with its 90 % band" if curve.band is not None and "band" not in curve.name else ""
    return "\n".join(wrap(f"{curve.name}{band}", A_LINE)) if curve.name else "_"


def _band(axes: Axes, curve: Curve, color: str) -> None:
    if curve.band is not None:
        step = "post" if curve.kind == "steps" else None
        axes.fill_between(curve.x, *curve.band, color=color, alpha=BAND, linewidth=0, step=step)  # type: ignore[arg-type]


def _recorded(axes: Axes, curve: Curve, color: str, marker: str) -> None:
    """Draw what was recorded: as steps, as bars with their ends, or as points with theirs."""
    label = _label(curve)
    if curve.kind == "steps":
        axes.step(curve.x, curve.y, where="post", color=color, linewidth=1.3, label=label)
        _band(axes, curve, GREY)
        return
    ends = None if curve.band is None else np.abs(np.array(curve.band) - np.asarray(curve.y))
    if curve.kind == "bars":
        gaps = np.diff(np.sort(curve.x))
        width = 0.8 * float(gaps[gaps > 0].min()) if (gaps > 0).any() else 0.8
        axes.bar(curve.x, curve.y, width=width, color=PALE, edgecolor=GREY, linewidth=0.6, label=label, yerr=ends)
        return
    size = 2.2 if len(curve.x) > MANY else 3.6
    axes.errorbar(
        curve.x, curve.y, yerr=ends, color=color, linestyle="", marker=marker, markersize=size, elinewidth=0.8,
        label=label,
    )  # fmt: skip


def in_words(panel: Panel) -> str:
    """Return what a panel shows, for those who listen to it."""
    said = [f"Across: {panel.x_label}. Up: {panel.y_label}."]
    for curve in panel.curves:
        known = np.isfinite(curve.y)
        if not known.any():
            continue
        x, y = np.asarray(curve.x)[known], np.asarray(curve.y)[known]
        first, last = (f"{number(float(y[k]))} at {number(float(x[k]))}" for k in (0, -1))
        ends = f"from {first} to {last}"
        said.append(f"{capital(curve.name or 'A line')}: {ends}.")
    return " ".join(said)
