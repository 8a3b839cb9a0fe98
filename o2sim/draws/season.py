"""The season of admissions: the integral of its factor, which sampling.py inverts, and each day's mean need."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.hospital import DAY_S, Hospital, PatientClass, Recorded, Season
from o2sim.scenario.types.period import RESAMPLE
from o2sim.scenario.types.records import flow_needed, placed

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


def daily_rate(hospital: Hospital, kind: PatientClass) -> float:
    """Return how many of a class begin oxygen on the day of the run's beginning, on average; of the recognised."""
    if kind.recorded is not None:
        return kind.recognised * len(kind.recorded.arrival_s) / max(1, kind.recorded.days)
    day_zero, _ = first_date(hospital.start, hospital.warm_up_s)
    factor = float(np.diff(cumulative(np.arange(2.0), kind.season, day_zero))[0])
    return kind.admissions_per_day * kind.hypoxaemic * kind.recognised * factor


def mean_need(hospital: Hospital) -> list[int]:
    """Return the gas (1/60 mL) needed on average on each day, from the first of the run on; of the recognised.

    Drawn admissions: by those admitted on the day, yearly mean admissions times the season of the day, mean stay
    and mean flow, as it steps down. Surges and the luck of the day are no part of it. A day's patients stay on
    into later days, so the need itself follows the season by about a stay. A register whose days are drawn: that
    of its mean day, by the days of its period. One that is replayed, or repeated by year: what its patients need
    on that day itself.
    """
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    edges = np.arange(-(-(lead_in_s + hospital.end_s) // DAY_S) + 1, dtype=np.float64)
    total = np.zeros(len(edges) - 1)
    for kind in hospital.patients:
        if kind.recorded is not None and kind.recorded.use != RESAMPLE:
            arrival_s, flow, need_s = placed_columns(hospital, kind.recorded)
            total += kind.recognised * within(arrival_s, arrival_s + need_s, flow, edges * DAY_S - lead_in_s)
        else:
            a_day = kind.recognised * flow_needed(hospital, kind) * DAY_S
            total += a_day * np.diff(cumulative(edges, kind.season, day_zero))
    return [int(gas) for gas in np.rint(total)]


def placed_columns(hospital: Hospital, recorded: Recorded) -> tuple[Floats, Floats, Floats]:
    """Return arrival (s from the start of the warm-up), flow and need of the patients that a run meets."""
    rows = placed(recorded, hospital.start, hospital.warm_up_s, hospital.end_s)
    columns = np.array(rows, dtype=np.float64).reshape(-1, 4)
    return columns[:, 0], columns[:, 2], columns[:, 3]


def within(start_s: Floats, end_s: Floats, weight: Floats, edges_s: Floats) -> Floats:
    """Return the seconds of spells, each times its weight, between one edge and the next; shape (edges - 1,)."""

    def until(moment_s: Floats) -> Floats:
        """Return the weighted seconds that have passed since the moments before each edge."""
        order = np.argsort(moment_s, kind="stable")
        known = np.searchsorted(moment_s[order], edges_s)
        weights, moments = (
            np.concatenate([[0.0], np.cumsum(each[order])]) for each in (weight, weight * moment_s)
        )
        return np.asarray(edges_s * weights[known] - moments[known])

    return np.diff(until(start_s) - until(end_s))
