"""Pictures of what the books say of patients; none shows a single one: bars, steps and points of 5 or more."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from o2sim.draws.season import SEASON_DAYS
from o2sim.fits.found import Curve, Panel, merged
from o2sim.fits.patients.pace import Pace, factor
from o2sim.records.findings import FEW
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.adequacy import Adequacy
from o2sim.statistics.fitting.laws import survival
from o2sim.statistics.fitting.spells import Spells, lasting
from o2sim.statistics.fitting.survivors import kaplan_meier

Values = npt.NDArray[np.float64]
HOURS = 24
BAND = (0.05, 0.95)
_POINTS = 120


def months_panel(name: str, pace: Pace, what: str = "put on oxygen") -> tuple[Panel, ...]:
    """Return the rate by month of the year, months under 5 patients joined, with the fitted season and band."""
    of = pace.counted
    place = np.minimum((of.middle % SEASON_DAYS) * 12 / SEASON_DAYS, 11.999).astype(int)
    counts = np.array([of.counts[place == month].sum() for month in range(12)])
    days = np.array([of.days[place == month].sum() for month in range(12)])
    runs = merged(counts.tolist())
    if not runs:
        return ()
    rates = np.full(12, np.nan)
    for first, stop in runs:
        rates[first:stop] = counts[first:stop].sum() / max(days[first:stop].sum(), 1e-9)
    there = days > 0
    bars = Curve(np.arange(1.0, 13)[there], rates[there], "counted", "bars")
    x = np.linspace(0.5, 12.5, _POINTS)
    when = (x - 0.5) * SEASON_DAYS / 12
    is_kept = pace.season is not None and pace.season.is_kept
    wave = factor(when, pace.season.ratio, pace.season.peak_day) if pace.season and is_kept else np.ones(_POINTS)
    drawn = [rate * factor(when, r, p) for rate, r, p in zip(pace.rates, pace.ratios, pace.peaks, strict=True)]
    low, high = np.quantile(np.array(drawn), BAND, axis=0)
    line = Curve(x, pace.rate * wave, "fitted" if is_kept else "fitted, no season", "line", (low, high))
    return (Panel(f"How many {name} are {what}", "Month of the year", "Patients a day", (bars, line)),)


def stays_panel(name: str, law: Law, draws: tuple[Law, ...], spells: Spells) -> tuple[Panel, ...]:
    """Return the share still on oxygen by time: steps of 5 or more ends, and the fitted law with its band.

    Where most rows are dates both are of the difference of dates, which is what the book shows.
    """
    times = np.where(spells.is_over, (spells.low + np.where(spells.is_over, spells.high, 0)) / 2, spells.low)
    times = np.where(spells.is_over, times, times - spells.step / 2)  # in its last day it has not ended yet
    by_dates = float(np.mean(spells.step > 0)) > 0.5
    entry = np.where(spells.entry > 0, np.minimum(spells.entry - spells.step / 2, times), -1.0)
    seen = kaplan_meier(times, spells.is_over, entry, given=-1.0)
    ends = np.array([np.sum(spells.is_over & (times == t)) for t in seen.times])
    runs = merged(ends.tolist(), FEW)
    if not runs:
        return ()
    last = [stop - 1 for _, stop in runs]
    at = np.array([np.average(seen.times[a:b], weights=ends[a:b]) for a, b in runs])  # of 5 or more, never of one
    steps = Curve(
        np.concatenate([[0.0], at]) / HOURS, np.concatenate([[1.0], seen.values[last]]),
        "in the book", "steps",
    )  # fmt: skip
    x = np.linspace(0, float(at[-1]) * 1.15, _POINTS)
    lines = np.array([_still(each, x, spells, by_dates) for each in draws])
    low, high = np.quantile(lines, BAND, axis=0)
    line = Curve(x / HOURS, _still(law, x, spells, by_dates), f"fitted, {law.kind}", "line", (low, high))
    label = "Days from date to date" if by_dates else "Days on oxygen"
    return (Panel(f"How long {name} stay on oxygen", label, "Share still on oxygen", (steps, line)),)


def _still(law: Law, x: Values, spells: Spells, by_dates: bool) -> Values:
    """Return the share beyond x hours; by dates that of a difference of more than x."""
    if not by_dates:
        return survival(law, x)
    shift = float(np.median(spells.shift[spells.step > 0]))
    size = len(x)
    rows = Spells(x, x, np.full(size, float(HOURS)), np.zeros(size), np.full(size, np.inf), np.full(size, shift))
    return lasting(law, rows, np.floor(x / HOURS) + 1)


def quantiles_panel(name: str, test: Adequacy, rows: int) -> tuple[Panel, ...]:
    """Return quantiles in the book against those of the law, each point of 5 or more rows, with a band."""
    a_point = max(1, int(np.ceil(FEW * len(test.levels) / rows))) if rows else 0
    count = len(test.levels) // a_point if a_point else 0
    if count < 3:
        return ()

    def means(values: Values) -> Values:
        groups = np.array_split(np.asarray(values) / HOURS, count)
        return np.array([group.mean() for group in groups])

    x = means(test.expected)
    points = Curve(x, means(test.seen), "in the book", "points")
    line = Curve(x, x, "as the law has it", "line", (means(test.low), means(test.high)))
    return (
        Panel(f"Does the law fit the stays of {name}?", "Days by the law", "Days in the book", (points, line)),
    )


def flows_panel(name: str, marks: Values, shares: Values, law: Law, draws: tuple[Law, ...]) -> tuple[Panel, ...]:
    """Return the share of patients at most at each flow, by marks of 5 or more patients, and the triangle."""
    low, _, high = law.parameters
    x = np.linspace(min(low, float(marks[0])) * 0.8, max(high, float(marks[-1])) * 1.1, _POINTS)
    lines = np.array([triangle_up_to(each, x) for each in draws]) if draws else triangle_up_to(law, x)[None]
    below, above = np.quantile(lines, BAND, axis=0)
    steps = Curve(
        np.concatenate([x[:1], marks, x[-1:]]), np.concatenate([[0.0], np.cumsum(shares), [1.0]]),
        "in the book", "steps",
    )  # fmt: skip
    line = Curve(x, triangle_up_to(law, x), "fitted, triangular", "line", (below, above))
    return (Panel(f"First flow of {name}", "L/min", "Share of patients at most at this flow", (steps, line)),)


def marks_panel(name: str, marks: Values, shares: Values, drawn: Values) -> tuple[Panel, ...]:
    """Return the share of patients at most at each mark; drawn: shares of each draw, shape (draws, marks)."""
    ends = [float(marks[0]) * 0.8, *marks.tolist(), float(marks[-1]) * 1.1]
    below, above = (
        np.concatenate([[0.0], each, each[-1:]]) for each in np.quantile(np.cumsum(drawn, axis=1), BAND, axis=0)
    )
    heights = np.concatenate([[0.0], np.cumsum(shares), [1.0]])
    steps = Curve(np.array(ends), heights, "in the book, and so in the scenario", "steps", (below, above))
    return (Panel(f"First flow of {name}", "L/min", "Share of patients at most at this flow", (steps,)),)


def triangle_up_to(law: Law, x: Values) -> Values:
    """Return the chances of at most x under a triangular law."""
    low, mode, high = law.parameters
    rising = (x - low) ** 2 / max((high - low) * (mode - low), 1e-12)
    falling = 1 - (high - x) ** 2 / max((high - low) * (high - mode), 1e-12)
    return np.where(x <= low, 0.0, np.where(x >= high, 1.0, np.where(x < mode, rising, falling)))
