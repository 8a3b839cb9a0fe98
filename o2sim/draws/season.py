"""A season in; the integral of its factor over days out, which sampling.py inverts for times of admission."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.hospital import DAY_S, Season

Floats = npt.NDArray[np.float64]
SEASON_DAYS = 365.25


def cumulative(days: Floats, season: Season | None, day_zero: dt.date) -> Floats:
    """Return the integral of the seasonal factor (mean 1) from day zero to each of `days`, in days."""
    if season is None:
        return days
    if season.monthly:
        edges, heights = _month_edges(season, day_zero, float(days.max(initial=1.0)))
        return np.interp(days, edges, heights)
    amplitude, peak_day = cosine(season, day_zero)
    turn = 2 * math.pi / SEASON_DAYS
    return days + amplitude / turn * (np.sin(turn * (days - peak_day)) + math.sin(turn * peak_day))


def cosine(season: Season, day_zero: dt.date) -> tuple[float, float]:
    """Return amplitude and peak, in days since day zero, of a season by peak and ratio."""
    assert season.peak is not None
    amplitude = (season.ratio - 1) / (season.ratio + 1)
    return amplitude, float((season.peak - day_zero).days)


def _month_edges(season: Season, day_zero: dt.date, run_days: float) -> tuple[Floats, Floats]:
    """Return days since day zero at which the month turns, and the integrated factor there."""
    edges, heights, start = [0.0], [0.0], day_zero
    while edges[-1] <= run_days:
        turn = dt.date(start.year + start.month // 12, start.month % 12 + 1, 1)
        days = (turn - start).days
        edges.append(edges[-1] + days)
        heights.append(heights[-1] + days * season.monthly[start.month - 1])
        start = turn
    return np.array(edges), np.array(heights)


def first_date(start: dt.date, warm_up_s: int) -> tuple[dt.date, int]:
    """Return the date on which the warm-up begins, and the second of that day at which it begins."""
    whole_days = -(-warm_up_s // DAY_S)
    return start - dt.timedelta(days=whole_days), whole_days * DAY_S - warm_up_s
