"""A drawing with what goes with it: its title, what it shows in words, and a note under it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim.shown import Shown

if TYPE_CHECKING:
    from matplotlib.figure import Figure


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
        from o2sim.looks.drawing import save

        save(self.figure, Path(path))
        return Path(path)
