"""A study made by hand of a purse that pays for too few cylinders, for tests of every place that shows a cost."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from synthetic import COSTS, HOUR_S, by_cause, made_up_study, outcome

from o2sim.outcome import AtOnce
from o2sim.runs.study import Study
from o2sim.scenario.types.funds import Allotment, Funds
from o2sim.scenario.types.hospital import Equipment

LITRE = 60_000
USABLE_L = 6_460  # of a full cylinder of the synthetic hospital: 6,800 L less the residual 340 L
PURSE = Funds(allotment=Allotment(900_00), pays_for=("oxygen", "parts"))
POOR, RICH = "poor", "rich"
SAID = "of 720 cylinders needed a year 120 were not bought for want of money"


def totals(lacking: int) -> dict[str, object]:
    """Return the totals of a year in which so many of 720 cylinders were needed and not bought."""
    gas = lacking * USABLE_L * LITRE
    hours = by_cause(no_funds=100 * HOUR_S) if lacking else by_cause()
    wrong = by_cause(no_funds=1) if lacking else by_cause()
    return {
        "cylinders_delivered": 720 - lacking, "unfunded_gas": gas, "unserved_s": hours, "interruptions": wrong,
        "stock_outs_by_cause": wrong, "longer": (1, 1, 1, 0) if lacking else (0, 0, 0, 0), "deliveries": 50,
    }  # fmt: skip


@lru_cache(maxsize=2)
def study(funds: bool = True) -> Study:
    """Return 40 years of a poor and of a rich strategy; the poor one leaves 120 of 720 cylinders unbought."""
    costs = replace(COSTS, regulator=Equipment(90.0, 7.0, paid_by="donor"))
    made = made_up_study({POOR: 1, RICH: 0}, 40, funds=PURSE if funds else None, costs=costs)
    outcomes = {
        name: [outcome(k, **totals(lacking)) for k in range(40)] for name, lacking in ((POOR, 120), (RICH, 0))
    }
    return replace(made, outcomes=outcomes)


def broken(hours: int) -> AtOnce:
    """Return levels of use in which one unit is out for so long, and mended for 100 hours of it."""
    return AtOnce(units_out=(0, hours * HOUR_S), units_in_repair=(0, 100 * HOUR_S))
