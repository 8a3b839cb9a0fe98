"""A scenario text in, a statistic of each replication out, and how far its mean lies from theory."""

from __future__ import annotations

import zlib
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import DAILY_COLUMNS, Outcome
from o2sim.scenario import loads

Floats = npt.NDArray[np.float64]
CI = pytest.param(1, id="ci")
LARGE = pytest.param(5, id="large", marks=pytest.mark.slow)
sizes = pytest.mark.parametrize("size", [CI, LARGE])  # how many times the replications of the everyday run


def head(horizon: str = "365 days", warm_up: str = "60 days", tolerated_gap: str = "0 min") -> str:
    """Return the top of a scenario in which nothing takes time but what the theory gives time to.

    The theory is of gaps that count each for itself, by their cause.
    """
    return f"""
name: theory
start: 2027-01-01
horizon: {horizon}
warm_up: {warm_up}
tolerated_gap: {tolerated_gap}
response_time: 0 min
shortfall: {{enough: 0 %, recovery: 0 min, counted_by: cause at crossing}}
"""


def one_source(source: str) -> str:
    """Return the strategies of a scenario with one source."""
    return f"strategies: {{only: {{sources: [{source}]}}}}\n"


def replicate(
    text: str, count: int, statistic: Callable[[Outcome], object], log: bool = False, engine: str = "kernel"
) -> Floats:
    """Return statistic(outcome) of `count` replications of the first strategy; shape (count, ...).

    The seed is fixed by the text, so that no two rows share their luck.
    """
    scenario, seed = loads(text), zlib.crc32(text.encode())
    strategy = scenario.strategies[0]
    outcomes = (simulate(scenario, strategy, Draws(seed, number), engine, log) for number in range(count))
    return np.array([statistic(outcome) for outcome in outcomes], dtype=np.float64)


def daily(outcome: Outcome, column: str) -> npt.NDArray[np.int32]:
    """Return one column of the count at each midnight; shape (days,)."""
    return outcome.daily[:, DAILY_COLUMNS.index(column)]


def z(samples: Floats, expected: object, sd: object = None) -> Floats:
    """Return how many standard errors the mean of the samples lies from what is expected; a z a column.

    The standard error comes from the replications, or from theory where the sd of one replication is given.
    """
    spread = samples.std(axis=0, ddof=1) if sd is None else np.asarray(sd)
    return np.asarray((samples.mean(axis=0) - np.asarray(expected)) / (spread / np.sqrt(len(samples))))


def z_share(hits: Floats, expected: float) -> Floats:
    """Return z for replications that hit (1) or miss (0) with a chance known to theory."""
    return z(hits, expected, sd=np.sqrt(expected * (1 - expected)))
