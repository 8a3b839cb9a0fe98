"""What is asked of one strategy's hospital, and what runs it."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.questions.today.runs import Runs
from o2sim.questions.today.settings import SEARCHED, TodaySettings
from o2sim.scenario.types.hospital import DAY_S, Hospital


@dataclass(frozen=True)
class Asked:
    """One strategy's hospital, what is asked of it, and what runs it."""

    hospital: Hospital
    settings: TodaySettings
    target: float
    runs: Runs

    @property
    def few(self) -> int:
        """Return the replications of what is only tried."""
        return min(SEARCHED, self.settings.replications)


def whole_days_s(end_s: int) -> int:
    """Return the seconds of the whole days from the count on that hold a second."""
    return -(-end_s // DAY_S) * DAY_S
