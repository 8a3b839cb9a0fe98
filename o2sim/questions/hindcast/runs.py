"""Simulate the recorded time many times, and give what would have been used and needed each day."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import DAILY_COLUMNS
from o2sim.questions.hindcast.replay import Replay
from o2sim.questions.hindcast.settings import FEWEST
from o2sim.scenario.types.hospital import Hospital, Scenario

Whole = npt.NDArray[np.int64]
Progress = Callable[[int], object]


@dataclass(frozen=True)
class Daily:
    """Each replication's days, shape (replications, days) each.

    opened, emptied: full cylinders taken into use, and cylinders emptied, in the day, were there enough. patients,
    waiting, on_cylinders: at the midnight that ends the day.
    """

    opened: Whole
    emptied: Whole
    patients: Whole
    waiting: Whole
    on_cylinders: Whole

    @property
    def replications(self) -> int:
        """Return how many there are."""
        return int(self.opened.shape[0])

    def window(self, days: slice) -> Daily:
        """Return some of the days."""
        return Daily(*(getattr(self, name)[:, days] for name in Daily.__dataclass_fields__))


def run(
    replayed: Replay,
    scenario: Scenario,
    seed: int,
    replications: int,
    engine: str,
    progress: Progress | None = None,
) -> Daily:
    """Return the recorded time as simulated; the same for a seed, whoever runs it.

    Ctrl-C leaves the replications that are done, if there are enough of them; else it goes on to the caller.
    """
    days = []
    try:
        for nth in range(replications):
            days.append(_one(replayed, scenario, seed, nth, engine, progress))
    except KeyboardInterrupt:
        if len(days) < FEWEST:
            raise
    counts = np.array(days, dtype=np.int64)  # (replications, days + 1, columns)
    full, empty, in_need, waiting, on_units = (counts[:, :, place] for place in range(len(_COLUMNS)))
    served = in_need - waiting - on_units
    return Daily(
        -np.diff(full, axis=1),
        np.diff(empty, axis=1),
        in_need[:, 1:],
        waiting[:, 1:],
        np.maximum(served[:, 1:], 0),
    )


_COLUMNS = tuple(
    DAILY_COLUMNS.index(name) for name in ("full", "empty", "patients", "unserved", "on_concentrator")
)


def _one(
    replayed: Replay, scenario: Scenario, seed: int, nth: int, engine: str, progress: Progress | None
) -> npt.NDArray[np.int32]:
    hospital = replayed.of(seed, nth)
    outcome = simulate(_alone(scenario, hospital), hospital.strategy.name, Draws(seed, nth), engine)
    if progress is not None:
        progress(nth + 1)
    return outcome.daily[: replayed.days + 1, list(_COLUMNS)]


def _alone(scenario: Scenario, hospital: Hospital) -> Scenario:
    """Return a scenario of one hospital."""
    return replace(scenario, hospitals={hospital.strategy.name: hospital}, text="", tree=None)
