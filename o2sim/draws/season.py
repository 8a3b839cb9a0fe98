"""A rate and a season in; the times of a Poisson process with that intensity out, by inverting its integral."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types import DAY_S, Season

Floats = npt.NDArray[np.float64]
SEASON_DAYS = 365.25
_HALVINGS = 48  # leaves less than a microsecond of a hundred years


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


def inverse_cumulative(totals: Floats, season: Season | None, day_zero: dt.date, run_days: float) -> Floats:
    """Return the day at which `cumulative` reaches each total; totals beyond the run give a day beyond it."""
    if season is None:
        return totals
    if season.monthly:
        edges, heights = _month_edges(season, day_zero, run_days)
        return np.interp(totals, heights, edges, right=run_days + 1.0)
    low, high = np.zeros_like(totals), np.full_like(totals, run_days + 1.0)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        below = cumulative(middle, season, day_zero) < totals
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return high


def arrival_days(
    unit_exponentials: Floats,
    rate_per_day: float,
    season: Season | None,
    day_zero: dt.date,
    run_days: float,
    factors: Floats | None = None,
) -> Floats:
    """Return arrival times in days: the inverse integrated rate of the running sums of unit exponentials.

    factors multiply the rate of each day of the run, shape (days,); None is 1 on all.
    """
    totals = np.cumsum(unit_exponentials) / rate_per_day
    if factors is not None:
        totals = _without_factors(totals, factors, season, day_zero)
    return inverse_cumulative(totals, season, day_zero, run_days)


def _without_factors(totals: Floats, factors: Floats, season: Season | None, day_zero: dt.date) -> Floats:
    """Return where the integral stands without the factors of the days when it stands at totals with them."""
    plain = cumulative(np.arange(len(factors) + 1, dtype=np.float64), season, day_zero)
    edges = np.concatenate([[0.0], np.cumsum(factors * np.diff(plain))])
    day = np.searchsorted(edges, totals, side="right") - 1
    beyond = day >= len(factors)
    day = np.minimum(day, len(factors) - 1)
    inside = plain[day] + (totals - edges[day]) / np.where(factors[day] > 0, factors[day], 1.0)
    return np.asarray(np.where(beyond, plain[-1] + 1.0 + totals - edges[-1], inside), dtype=np.float64)


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
