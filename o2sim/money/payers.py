"""Who pays: whose costs are counted under a perspective, and what leaves the purse.

A gift is used up like anything bought, so economic cost counts it at its worth whoever gave it; cash does not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from o2sim.scenario.types.costing import DONOR, FAMILIES, OWN, SERVICE
from o2sim.scenario.types.hospital import Costs
from o2sim.typed import item


@dataclass(frozen=True)
class PaidBy:
    """What one payer buys to begin with."""

    payer: str
    amount: float = item("of what others pay, at its price")
    items: tuple[str, ...] = item("what is bought")


COUNTED: Mapping[str, tuple[str, ...]] = {  # by perspective: whose costs
    "hospital": (OWN, DONOR),
    "health service": (OWN, SERVICE, DONOR),
    "society": (OWN, SERVICE, DONOR, FAMILIES),
}
WHOSE: Mapping[str, str] = {  # the same in words
    "hospital": "what the hospital pays, and gifts at their worth",
    "health service": "what the hospital and the health service pay, and gifts at their worth",
    "society": "whatever anybody pays, and gifts at their worth; duty is left out, as it is only passed on",
}


def is_counted(costs: Costs, payer: str) -> bool:
    """Return True where the costs of a payer are counted."""
    return payer in COUNTED[costs.perspective]


def is_paid(costs: Costs, payer: str) -> bool:
    """Return True where what a payer pays leaves the purse of the perspective: all that is counted but gifts."""
    return payer != DONOR and is_counted(costs, payer)
