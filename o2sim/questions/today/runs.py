"""Simulate what may come after a count, again and again under the same luck, and keep what is asked of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from o2sim.outcome import DAILY_COLUMNS
from o2sim.questions.today.moment import Whole
from o2sim.questions.today.settings import FEWEST
from o2sim.runs.outcomes import Outcomes
from o2sim.runs.settings import BatchSettings
from o2sim.runs.study import run_study
from o2sim.scenario.types.hospital import Hospital, Scenario
from o2sim.statistics.estimates import Probability
from o2sim.statistics.intervals import clopper_pearson

NEVER = -1
Progress = Callable[[int], object]
Truths = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Seen:
    """What replications showed, an entry each; times in s from the count, NEVER where it did not happen.

    daily has shape (replications, midnights, len(DAILY_COLUMNS)).
    """

    bare_s: Whole
    interruption_s: Whole
    stock_out_s: Whole
    delivery_s: Whole
    opened: Whole
    daily: npt.NDArray[np.int32]

    @property
    def replications(self) -> int:
        """Return how many there are."""
        return len(self.opened)

    def at_midnights(self, column: str) -> npt.NDArray[np.int32]:
        """Return one of the daily counts, shape (replications, midnights)."""
        found: npt.NDArray[np.int32] = self.daily[:, :, DAILY_COLUMNS.index(column)]
        return found

    def short_before_delivery(self) -> Truths:
        """Return in which somebody went without for want of supply before the next delivery."""
        in_time = (self.delivery_s == NEVER) | (self.stock_out_s <= self.delivery_s)
        found: Truths = (self.stock_out_s != NEVER) & in_time
        return found


def by(first_s: Whole, until_s: float) -> Truths:
    """Return in which replications something had happened by a second."""
    found: Truths = (first_s != NEVER) & (first_s <= until_s)
    return found


def chance(happened: Truths) -> Probability:
    """Return the share of replications in which something happened, with its exact interval."""
    found = clopper_pearson(int(happened.sum()), len(happened))
    return Probability(found.estimate, found.low, found.high, found.confidence)


def seen(outcomes: Outcomes) -> Seen:
    """Return what is kept of outcomes with daily counts."""
    horizon_s = outcomes.column("horizon_s")

    def first_s(name: str) -> Whole:
        to_the_end_s = outcomes.column(f"since_{name}_s")
        return np.where(to_the_end_s > 0, horizon_s - to_the_end_s, NEVER)

    return Seen(
        bare_s=first_s("bare"),
        interruption_s=first_s("interruption"),
        stock_out_s=first_s("stock_out"),
        delivery_s=first_s("delivery"),
        opened=outcomes.column("cylinders_opened"),
        daily=np.array(outcomes.daily or (), np.int32),
    )


@dataclass
class Runs:
    """Runs one strategy's hospital, as it is or changed, always under the same luck."""

    scenario: Scenario
    seed: int
    engine: str
    progress: Progress | None = None
    done: int = field(default=0, init=False)

    def __call__(self, hospital: Hospital, horizon_s: int, replications: int, keeps_part: bool = False) -> Seen:
        """Return what so many replications show from the count to the end of the horizon.

        Ctrl-C passes through, unless a part of them is wanted too and enough are done.
        """
        name = hospital.strategy.name
        one = replace(hospital, horizon_s=horizon_s)
        study = run_study(
            replace(self.scenario, hospitals={name: one}, options=None, text="", tree=None),
            settings=BatchSettings(replications=replications, seed=self.seed, engine=self.engine),
            workers=1,
            keep_daily=True,
            progress=self._tell,
        )
        self.done += study.replications
        if not study.complete and (not keeps_part or study.replications < FEWEST):
            raise KeyboardInterrupt
        return seen(study.outcomes[name])

    def _tell(self, done: int) -> None:
        if self.progress is not None:
            self.progress(self.done + done)
