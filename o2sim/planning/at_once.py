"""How many patients are on oxygen at once on the busiest day, of all and of those who need a humidifier."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from o2sim.draws.laws import quantile
from o2sim.planning.figures import given_in
from o2sim.planning.total_flow import midpoints, patients_exceeded
from o2sim.scenario.types.bedside import ALWAYS_HUMIDIFIED
from o2sim.scenario.types.hospital import Hospital
from o2sim.scenario.types.stages import Stage, stages


@lru_cache(maxsize=256)
def patients_at_once(hospital: Hospital) -> tuple[int, int]:
    """Return the numbers of patients on oxygen, and of those on a humidifier, exceeded 1 % of the busiest day.

    Poisson, or negative binomial where admissions are more uneven, as in the planning figures of `o2sim check`.
    """
    parts = [stage for item in hospital.patients for stage in stages(item)]
    if not parts:
        return 0, 0
    end = hospital.start + dt.timedelta(seconds=hospital.horizon_s)
    given = [given_in(hospital, part, end) for part in parts]
    day = int(np.argmax(sum(each.flow_by_day() for each in given)))
    counts = [each.at(day)[0] for each in given]
    spreads = [count * each.spread for count, each in zip(counts, given, strict=True)]
    humid = [_humidified(hospital, part) for part in parts]
    return _exceeded(counts, spreads, [1.0] * len(parts)), _exceeded(counts, spreads, humid)


def _exceeded(counts: Sequence[float], spreads: Sequence[float], shares: Sequence[float]) -> int:
    mean = sum(count * share for count, share in zip(counts, shares, strict=True))
    spread = sum(spread * share * share for spread, share in zip(spreads, shares, strict=True))
    return patients_exceeded(mean, spread) if mean > 0 else 0


def _humidified(hospital: Hospital, stage: Stage) -> float:
    """Return the share of the patients of a stage who need a humidifier, by device and flow."""
    kind = stage.patients
    if kind.delivery in ALWAYS_HUMIDIFIED:
        return 1.0
    limit = hospital.bedside.dry_above_ml_min(kind.size)
    return float(np.mean(quantile(stage.flow_ml_min, midpoints()) > limit))
