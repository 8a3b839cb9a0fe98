"""What a hindcast can be asked, for `o2sim hindcast` and for the function of that name."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.runs import settings as shared
from o2sim.settings import setting

FEWEST, MOST = 100, 5_000  # with fewer no bias could be known from luck


@dataclass(frozen=True)
class HindcastSettings:
    """Which strategy, how often the recorded time is simulated, and with which seed."""

    strategy: str | None = setting(
        None, "How oxygen was given at that time. Default: the first with cylinders and concentrators."
    )
    replications: int = setting(200, "How many times to simulate the recorded time.", least=FEWEST, most=MOST)
    seed: int = shared.seed()
    engine: str = shared.engine()
