"""When a patient in need counts as short of oxygen, and what a shortfall is counted by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from o2sim.scenario.keys.field import ASSUMED
from o2sim.scenario.keys.record import key, permille, time_key

CountedBy = Literal["supply clock", "cause at crossing"]


@dataclass(frozen=True)
class Shortfall:
    """What counts as short. The defaults in the code are those of a file that says nothing of it."""

    enough_permille: int = key(
        "share", "less than this share of the prescribed flow counts as short; 0 %: any flow serves", "50 %",
        ASSUMED, name="enough", turned=permille, value=0,
    )  # fmt: skip
    recovery_s: int = time_key(
        "service without a break after which a spell of shortfall is over; 0: any service ends it", "5 min",
        ASSUMED, most="7 days", value=0,
    )  # fmt: skip
    counted_by: CountedBy = key(
        "word",
        "a stock-out is an interruption in which only more supply could have helped, second by second; or, as "
        "before, one whose cause was the supply as the tolerance was crossed", "supply clock",
        words=("supply clock", "cause at crossing"), value="cause at crossing",
    )  # fmt: skip

    @property
    def as_before(self) -> bool:
        """Return True where gaps are counted as before: each for itself, any flow serves."""
        return self == Shortfall()

    def enough_ml_min(self, prescribed_ml_min: int) -> int:
        """Return the least flow that is not short."""
        return max(1, -(-self.enough_permille * prescribed_ml_min // 1_000))

    def is_short(self, given_ml_min: int, prescribed_ml_min: int) -> bool:
        """Return True if a flow is too little of what is prescribed."""
        return given_ml_min == 0 or 1_000 * given_ml_min < self.enough_permille * prescribed_ml_min
