"""Colours, fonts and sizes that all drawings share, and how one is written to a file."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import Any

import matplotlib as mpl
import matplotlib.dates
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from o2sim.errors import OutputError

BLUE, ORANGE, GREEN, RED, SKY, PURPLE, YELLOW, BLACK = (
    "#0072B2",
    "#E69F00",
    "#009E73",
    "#D55E00",
    "#56B4E9",
    "#CC79A7",
    "#F0E442",
    "#000000",
)
GREY = "#666666"
PLAIN: Any = {"text.parse_math": False, "svg.hashsalt": "o2sim"}  # a $ in a name is a $; ids do not vary
WIDTH_IN = 8.0
DPI = 150


def save(figure: Figure, path: Path) -> None:
    """Write a figure as PNG or SVG by the path's suffix; the same figure gives the same bytes."""
    FigureCanvasAgg(figure)
    drawn = io.BytesIO()  # so that no half of a picture is left where it cannot be drawn or written
    with mpl.rc_context(PLAIN), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # a box is drawn in its place
        if path.suffix == ".svg":
            figure.savefig(drawn, format="svg", metadata={"Date": None})
        else:
            figure.savefig(drawn, format="png", dpi=DPI, metadata={"Software": None})
    try:
        path.write_bytes(drawn.getvalue())
    except OSError as error:
        raise OutputError(f"{path}: cannot be written ({error.strerror or error})") from error


def clipped(text: str, most: int) -> str:
    """Return a text of at most so many letters, cut where it is longer."""
    return text if len(text) <= most else f"{text[: most - 4].rstrip()} ..."


NARROW_IN = 4.4  # on a phone the smallest letters then have 9 to 10 pixels
SMALL = 8.5


def narrow_figure(height_in: float) -> tuple[Figure, Axes]:
    """Return an empty drawing as wide as a phone can show."""
    figure = Figure(figsize=(NARROW_IN, height_in), layout="constrained")
    axes = figure.add_subplot()
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure, axes


def above(axes: Axes, text: str) -> None:
    """Write what the upright axis measures above it, along the line."""
    axes.annotate(text, (0, 1), (0, 6), "axes fraction", "offset points", size=9)
