"""Draws the power cuts of recorded days: each day of a run takes those that began on a day drawn at random."""

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
    """Return True where cuts of recorded days are drawn."""
    return hospital.grid is not None and hospital.grid.use == RESAMPLE


def cuts(key: tuple[int, int], hospital: Hospital) -> tuple[Spell, ...]:
    """Return the cuts by plan and by record of (seed, replication), in s from the start of the warm-up, joined.

    A drawn cut begins at its hour and has its length, into the days after it.
    """
    grid = hospital.grid
    if grid is None or not are_drawn(hospital):
        return listed_cuts(hospital)
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    days = -(-(lead_in_s + hospital.end_s) // DAY_S)
    u = uniforms(*key, "recorded day of cuts", 0, day_zero.toordinal(), days)
    recorded, spells = _by_day(grid), list(listed_cuts(hospital))
    for day, taken in enumerate(np.floor(u * grid.days).astype(np.int64).tolist()):
        midnight_s = day * DAY_S - lead_in_s
        spells += [(midnight_s + start_s, midnight_s + end_s) for start_s, end_s in recorded.get(taken, ())]
    return clipped(spells, hospital.end_s)


_by_day = lru_cache(maxsize=16)(cuts_by_day)
