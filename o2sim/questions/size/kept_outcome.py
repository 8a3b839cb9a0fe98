"""Outcomes in, what a sizing needs of each out: small enough to be kept, and sent by workers, by the thousand."""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from o2sim.money.cost import annual_cost
from o2sim.outcome import DAILY_COLUMNS, Cause, Outcome
from o2sim.questions.size.search import Trial
from o2sim.runs.study import run_replication
from o2sim.scenario.types.hospital import Hospital, Scenario

WEEK_DAYS = 7
_USED, _USED_IN_ONE = DAILY_COLUMNS.index("used_7_days_litres"), DAILY_COLUMNS.index("used_litres")
_NONE = int(Cause.NO_CYLINDER)


@dataclass(frozen=True)
class Noted(Trial):
    """What one replication told; causes and cost are those of a Trial."""

    horizon_s: int = 0
    stock_out: bool = False
    emptied: int = 0  # cylinders
    deliveries: int = 0
    lowest_shelf: int = 0  # fewest full cylinders left after one was taken; -1 where somebody went without
    weeks_l: npt.NDArray[np.int32] = field(  # litres drawn from cylinders in each week, from the stock book
        default_factory=lambda: np.zeros(0, dtype=np.int32), compare=False
    )
    days_l: npt.NDArray[np.int32] = field(  # the same for each day but the last
        default_factory=lambda: np.zeros(0, dtype=np.int32), compare=False
    )


def note(hospital: Hospital, outcome: Outcome) -> Noted:
    """Return what a sizing needs of an outcome.

    The lowest shelf is -1 where somebody went without at this very stock, so that no smaller one would do.
    """
    items = annual_cost(hospital, outcome)
    without = outcome.unserved_s[_NONE] + outcome.interruptions[_NONE] > 0
    return Noted(
        causes=interrupted(outcome),
        cost=sum(items.values()) if items else None,
        horizon_s=outcome.horizon_s,
        stock_out=outcome.stock_outs > 0,
        emptied=outcome.cylinders_emptied,
        deliveries=outcome.deliveries,
        lowest_shelf=-1 if without and outcome.fewest_full == 0 else outcome.fewest_full,
        weeks_l=outcome.daily[WEEK_DAYS::WEEK_DAYS, _USED].copy(),
        days_l=outcome.daily[1:, _USED_IN_ONE].copy(),
    )


def interrupted(outcome: Outcome) -> frozenset[Cause]:
    """Return the causes by which somebody was interrupted."""
    return frozenset(cause for cause, count in zip(Cause, outcome.interruptions, strict=True) if count)


def note_range(
    scenario: Scenario, strategy: str, seed: int, engine: str, first: int, stop: int
) -> tuple[list[Noted], float]:
    """Return what replications first ... stop - 1 told, and the seconds they took."""
    began = time.perf_counter()
    hospital = scenario.hospitals[strategy]
    noted = [
        note(hospital, run_replication(scenario, (strategy,), seed, replication, engine)[0])
        for replication in range(first, stop)
    ]
    return noted, time.perf_counter() - began


def alone(scenario: Scenario, strategy: str) -> Scenario:
    """Return a scenario with one strategy, which is all that a worker is sent."""
    return replace(scenario, hospitals={strategy: scenario.hospitals[strategy]}, lines={})
