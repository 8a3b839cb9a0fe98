"""A drawing with what goes with it: title, what it shows in words, a note; and narrow drawings, for a phone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from o2sim.looks.drawing import save
from o2sim.shown import Shown

NARROW_IN = 4.4  # on a phone the smallest letters then have 9 to 10 pixels
SMALL = 8.5


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
