"""The season of admissions: the integral of its factor, which sampling.py inverts, and each day's mean need."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.hospital import DAY_S, Hospital, PatientClass, Season
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.stages import stages

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


def mean_need(hospital: Hospital) -> list[int]:
    """Return the gas (1/60 mL) needed on average by those admitted on each day, from the first of the run on.

    Yearly mean admissions times the season of the day, mean stay and mean flow, as it steps down; of the
    recognised. Surges and the luck of the day are no part of it, nor is a season that a register may hold. A day's
    patients stay on into later days, so the need itself follows the season by about a stay.
    """
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    edges = np.arange(-(-(lead_in_s + hospital.end_s) // DAY_S) + 1, dtype=np.float64)
    total = np.zeros(len(edges) - 1)
    for kind in hospital.patients:
        total += _a_day(kind) * np.diff(cumulative(edges, kind.season, day_zero))
    return [int(gas) for gas in np.rint(total)]


def _a_day(kind: PatientClass) -> float:
    """Return the gas (1/60 mL: mL/min times s) needed by a yearly mean day's patients of a class."""
    recorded = kind.recorded
    if recorded is not None:  # flow and stay as they came together
        both = sum(flow * need for flow, need in zip(recorded.flow_ml_min, recorded.need_s, strict=True))
        return kind.recognised * both / recorded.days
    rate = kind.admissions_per_day * kind.hypoxaemic * kind.recognised
    return rate * sum(law_mean(stage.flow_ml_min) * stage.mean_s for stage in stages(kind))
