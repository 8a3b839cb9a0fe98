"""Days and hours of cover at each midnight: how long what is on hand lasts.

What cover is stands at runs/midnights.py, where it is worked out as each replication comes.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from o2sim.runs.midnights import COVER_LEVELS_DAYS
from o2sim.statistics.estimates import Mean
from o2sim.statistics.estimator import Column, Estimator

PARTS = ("lowest", "mean")
LEVELS = tuple(f"under {level} day" + ("s" if level > 1 else "") for level in COVER_LEVELS_DAYS)


def cover_columns(figures: npt.NDArray[np.float64]) -> dict[str, dict[str, Column]]:
    """Return columns by measure and part, one value a replication; those without any such midnight left out.

    figures: those of each replication, shape (n, COVER), as cover_figures gives them.
    """
    measures = {"days_of_cover": PARTS, "hours_of_cover": PARTS, "share_of_days_of_cover": LEVELS}
    columns = iter(figures.T)
    return {name: {part: _known(next(columns)) for part in parts} for name, parts in measures.items()}


def _known(column: Column) -> Column:
    return column[~np.isnan(column)]


def cover_summary(
    estimator: Estimator, parts: Mapping[str, Column] | None, measure: str
) -> dict[str, Mean] | None:
    """Return {mean, low, high} by part of a measure; None without cylinders, {} where no midnight has any."""
    if parts is None:
        return None
    most = 1.0 if measure.startswith("share") else np.inf
    return {part: estimator.mean(values, most=most, events=False) for part, values in parts.items() if len(values)}
