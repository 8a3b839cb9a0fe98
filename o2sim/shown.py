"""A result in, how a notebook shows it out: what is shown is the report's, which alone has the words for it.

The one place where lower floors reach the report, by name and only when a notebook asks.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import pandas as pd


class Shown:
    """A result that shows itself in a notebook: statement, tables with intervals, provenance."""

    def _repr_html_(self) -> str:
        """Return HTML that loads nothing from elsewhere and holds no script."""
        return str(import_module("o2sim.report.notebook").html(self))


class Chart(Protocol):
    """A drawing that shows itself in a notebook, with its title, what it shows in words, and a note."""

    title: str
    alt: str
    note: str
    figure: Any  # of Matplotlib, to be changed or drawn upon

    def save(self, path: str | Path) -> Path:
        """Write the drawing to a file, PNG or SVG by the end of its name; return its path."""


def chart_of(result: object, **asked: Any) -> Chart:
    """Return a drawing of a result as the report makes it."""
    chart: Chart = import_module("o2sim.report.notebook_charts").chart(result, **asked)
    return chart


def sheets_of(result: Any, folder: Path) -> list[Path]:
    """Write the sheets that go with a sizing into a folder, as the report makes them; return their paths."""
    written: list[Path] = import_module("o2sim.report.sheets").write_sheets(folder, result.hospital, result.result)
    return written


def copy_of(result: Any, path: Path, force: bool) -> Path:
    """Write a copy of a scenario with the answer of a sizing in it, as the report does; return its path."""
    copied: Path = import_module("o2sim.report.files").write_answer(path, result, force)
    return copied


def frame_of(result: object, **asked: Any) -> pd.DataFrame:
    """Return a result as the data frame that the report makes of it."""
    frame: pd.DataFrame = import_module("o2sim.report.frames").frame(result, **asked)
    return frame
