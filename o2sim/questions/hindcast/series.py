"""Lay what was counted against what was forecast: scores of a series, and of the naive forecasts beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.questions.hindcast.result import Range, Scored
from o2sim.statistics import scores
from o2sim.statistics.fitting.luck import uniforms

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Naive:
    """Forecasts of one count by earlier counts; None where there is none before."""

    earlier: Floats | None
    last: Floats | None


@dataclass(frozen=True)
class Series:
    """What is compared: forecasts (counts, replications), what was counted (counts,), naive forecasts, if any."""

    name: str
    forecast: Floats
    seen: Floats
    left_out: int
    naive: tuple[Naive, ...] = ()
    is_mean: bool = False  # of levels, such as patients at a midnight, whose sum says nothing
    judged: npt.NDArray[np.bool_] | None = None  # counts by which its ranges are judged; None: all


def ranks(series: Series, seed: int) -> Floats:
    """Return the randomised rank of each count within its forecast, inside 0-1."""
    luck = uniforms(seed, f"hindcast ranks of {series.name}", 0, (2, max(series.seen.size, 1)))
    return np.array([
        scores.rank(sample, seen, *luck[:, place])
        for place, (sample, seen) in enumerate(zip(series.forecast, series.seen, strict=True))
    ])  # fmt: skip


def scored(series: Series, seed: int) -> Scored:
    """Return the scores of a series that has at least one count."""
    found = ranks(series, seed)
    judged = found if series.judged is None else found[series.judged]
    even = scores.evenness(judged)
    sums = series.forecast.mean(axis=0) if series.is_mean else series.forecast.sum(axis=0)
    seen = float(series.seen.mean() if series.is_mean else series.seen.sum())
    ours = [scores.crps(*pair) for pair in zip(series.forecast, series.seen, strict=True)]
    both = [place for place, each in enumerate(series.naive) if each.earlier is not None and each.last is not None]
    return Scored(
        name=series.name,
        counts=series.seen.size,
        left_out=series.left_out,
        recorded=seen,
        forecast=range_of(sums),
        bias=float(sums.mean()) / seen - 1 if seen else None,
        bias_by_luck=by_luck(sums, seen),
        inside_50=scores.inside(found, 0.5),
        inside_90=scores.inside(found, 0.9),
        crps=float(np.mean(ours)),
        naive_counts=len(both),
        crps_of_these=float(np.mean([ours[place] for place in both])) if both else None,
        crps_of_earlier_counts=_mean_crps([series.naive[place].earlier for place in both], series.seen[both]),
        crps_of_last_count=_mean_crps([series.naive[place].last for place in both], series.seen[both]),
        judged=judged.size,
        judged_inside_90=scores.inside(judged, 0.9),
        ranks=even.counts,
        ranks_chi_square=even.chi_square,
        ranks_effective=even.effective,
        ranks_even_by_luck=even.p,
    )


def range_of(sample: npt.ArrayLike) -> Range:
    """Return the mean of a sample and its middle 50 and 90 %."""
    values = np.asarray(sample, np.float64)
    low_50, high_50 = scores.interval(values, 0.5)
    low_90, high_90 = scores.interval(values, 0.9)
    return Range(float(values.mean()), float(low_50), float(high_50), float(low_90), float(high_90))


def by_luck(sums: Floats, seen: float) -> float:
    """Return the chance of a sum as far out as the one seen, to either side, by the replications' own sums."""
    below, above = int((sums <= seen).sum()), int((sums >= seen).sum())
    return min(1.0, 2 * (min(below, above) + 1) / (sums.size + 1))


def _mean_crps(samples: Sequence[Floats | None], seen: Floats) -> float | None:
    pairs = zip(samples, seen, strict=True)
    found = [scores.crps(sample, each) for sample, each in pairs if sample is not None]
    return float(np.mean(found)) if found else None
