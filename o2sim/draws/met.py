"""What was met at a count: how long it has lasted so far, and how long it still lasts."""

from __future__ import annotations

import numpy as np

from o2sim.draws.laws import Floats
from o2sim.draws.under_way import age_met, rest
from o2sim.scenario.types.hospital import Law

Key = tuple[int, int]  # seed, replication


def ages_of(law: Law, known_s: list[int | None], u: Floats) -> Floats:
    """Return ages in whole s: those known, others as of what is met at a random moment."""
    if None not in known_s:
        return np.array(known_s, dtype=np.float64)
    met = np.floor(age_met(law, u)).tolist()
    return np.array([met[place] if age is None else age for place, age in enumerate(known_s)], dtype=np.float64)


def left_s(law: Law, age_s: int | None, u_age: float, u: Floats) -> int:
    """Return the whole seconds to come of one thing under way, one at least."""
    return max(1, round(float(rest(law, ages_of(law, [age_s], np.array([u_age])), u)[0])))


def or_none(value: int | None) -> int:
    """Return a number as a record has it: -1 for none."""
    return -1 if value is None else value
