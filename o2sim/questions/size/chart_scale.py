"""The scale of chances in the charts of a sizing: stretched where it matters, near the target."""

from __future__ import annotations

from typing import Literal

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter

from o2sim.looks.drawing import BLACK

TICKS = (0, 1, 2, 5, 10, 20, 50, 100)  # per cent


def chances_along(way: Literal["x", "y"], axes: Axes, target: float) -> None:
    """Give one axis the scale of chances, with ticks at round numbers; target in per cent."""
    axis, stretch = (axes.xaxis, axes.set_xscale) if way == "x" else (axes.yaxis, axes.set_yscale)
    stretch("symlog", linthresh=max(1.0, target / 5))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g} %"))
    axis.set_ticks(TICKS)
    axes.minorticks_off()
    axes.set(**{f"{way}lim": (0, 105)})
    axes.grid(axis=way, color=BLACK, alpha=0.12, linewidth=0.6)
