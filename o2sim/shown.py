"""A result in, how a notebook shows it out: what is shown is the report's, which alone has the words for it.

The one place where lower floors reach the report, by name and only when a notebook asks.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd


class Shown:
    """A result that shows itself in a notebook: statement, tables with intervals, provenance."""

    def _repr_html_(self) -> str:
        """Return HTML that loads nothing from elsewhere and holds no script."""
        return str(import_module("o2sim.report.notebook").html(self))


def frame_of(result: object, **asked: Any) -> pd.DataFrame:
    """Return a result as the data frame that the report makes of it."""
    frame: pd.DataFrame = import_module("o2sim.report.frames").frame(result, **asked)
    return frame
