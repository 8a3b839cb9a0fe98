"""Days and hours of cover at each midnight: how long what is on hand lasts.

Days of cover: usable litres on hand over the greater of the last 7 days' use and the season's mean need, whatever
source meets that. Hours of cover: the same litres at the flow now drawn from cylinders, leaks included.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from o2sim.outcome import DAILY_COLUMNS
from o2sim.statistics.estimates import Mean
from o2sim.statistics.estimator import Column, Estimator

LEVELS_DAYS = (1, 3, 7)
PARTS = ("lowest", "mean")
LEVELS = tuple(f"under {level} day" + ("s" if level > 1 else "") for level in LEVELS_DAYS)


def cover(daily: npt.NDArray[np.int32]) -> tuple[Column, Column]:
    """Return (days, hours) of cover at each midnight, shape (days,); NaN where nothing is needed, or flows."""
    columns = ("usable_litres", "used_7_days_litres", "mean_need_litres", "cylinder_flow_ml_min")
    usable, used, need, flow = (daily[:, DAILY_COLUMNS.index(name)].astype(np.float64) for name in columns)
    per_day, litres_per_hour = np.maximum(used / 7, need), flow * 60 / 1_000
    return _over(usable, per_day), _over(usable, litres_per_hour)


def _over(parts: Column, wholes: Column) -> Column:
    quotient: Column = np.divide(parts, wholes, out=np.full(len(parts), np.nan), where=wholes > 0)
    return quotient


def cover_columns(daily: Sequence[npt.NDArray[np.int32]]) -> dict[str, dict[str, Column]]:
    """Return columns by measure and part, one value a replication; those without any such midnight left out."""
    days, hours = zip(*(cover(each) for each in daily), strict=True)
    return {
        "days_of_cover": {part: _by_replication(days, part) for part in PARTS},
        "hours_of_cover": {part: _by_replication(hours, part) for part in PARTS},
        "share_of_days_of_cover": {
            label: np.array([np.mean(each < level) for each in days if len(each)])
            for level, label in zip(LEVELS_DAYS, LEVELS, strict=True)
        },
    }


def _by_replication(values: Sequence[Column], part: str) -> Column:
    known = [each[~np.isnan(each)] for each in values]
    return np.array([each.min() if part == "lowest" else each.mean() for each in known if len(each)])


def cover_summary(
    estimator: Estimator, parts: Mapping[str, Column] | None, measure: str
) -> dict[str, Mean] | None:
    """Return {mean, low, high} by part of a measure; None without cylinders, {} where no midnight has any."""
    if parts is None:
        return None
    most = 1.0 if measure.startswith("share") else np.inf
    return {part: estimator.mean(values, most=most, events=False) for part, values in parts.items() if len(values)}
