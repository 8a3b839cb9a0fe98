"""What a what-if can be asked, for `o2sim whatif` and for the function of that name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from o2sim.runs import settings as shared
from o2sim.settings import setting


@dataclass(frozen=True)
class WhatIfSettings:
    """Which strategies, what counts as equal, and how often each point is run."""

    strategies: Sequence[str] | None = shared.strategies()
    target: float | str = shared.target()
    budget: float | None = setting(
        None, "Money a year within which reliability is compared.", least=0, reads="finite"
    )
    replications: int = shared.replications(200, "How many times to run the horizon at each point.")
    hold_levels: bool = shared.hold_levels("cylinders.fleet varies")
    seed: int = shared.seed()
    engine: str = shared.engine()
