"""The power cuts that no law draws: by plan, by record, of recorded days drawn at random, of storms."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from o2sim.draws.philox import uniforms
from o2sim.draws.season import first_date
from o2sim.scenario.types.hospital import DAY_S, Hospital
from o2sim.scenario.types.period import RESAMPLE
from o2sim.scenario.types.records import cuts_by_day, listed_cuts
from o2sim.scenario.types.spells import Spell, clipped


def are_drawn(hospital: Hospital) -> bool:
    """Return True where cuts of recorded days are drawn, or those of storms."""
    return _of_recorded_days(hospital) or any(each.power_s is not None for each in hospital.shocks)


def _of_recorded_days(hospital: Hospital) -> bool:
    return hospital.grid is not None and hospital.grid.use == RESAMPLE


def cuts(key: tuple[int, int], hospital: Hospital, of_storms: tuple[Spell, ...] = ()) -> tuple[Spell, ...]:
    """Return the cuts by plan, by record and by storm of a (seed, replication), in s from the start of the run,
    joined. A drawn cut begins at its hour and has its length, into the days after it.
    """
    found = [*listed_cuts(hospital), *of_storms]
    if _of_recorded_days(hospital):
        found += _drawn_cuts(key, hospital)
    return clipped(found, hospital.end_s)


def _drawn_cuts(key: tuple[int, int], hospital: Hospital) -> list[Spell]:
    """Return the cuts of the recorded days that are drawn for the days of a run."""
    grid = hospital.grid
    assert grid is not None
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    days = -(-(lead_in_s + hospital.end_s) // DAY_S)
    u = uniforms(*key, "recorded day of cuts", 0, day_zero.toordinal(), days)
    recorded, found = _by_day(grid), list[Spell]()
    for day, taken in enumerate(np.floor(u * grid.days).astype(np.int64).tolist()):
        midnight_s = day * DAY_S - lead_in_s
        found += [(midnight_s + start_s, midnight_s + end_s) for start_s, end_s in recorded.get(taken, ())]
    return found


_by_day = lru_cache(maxsize=16)(cuts_by_day)
