"""What can be asked of the drivers, for `o2sim drivers` and for the function of that name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from o2sim.runs import settings as shared
from o2sim.settings import setting

if TYPE_CHECKING:
    import pandas as pd

    from o2sim.scenario.changing.joint import Joint

ONE_AT_A_TIME, NESTED, MORRIS, SOBOL = METHODS = ("one-at-a-time", "nested", "morris", "sobol")
MOST_SAMPLES = 100_000
LawName = Literal["pert", "triangular", "uniform"]
LAWS: tuple[LawName, ...] = get_args(LawName)


@dataclass(frozen=True)
class DriversSettings:
    """The method, what best is, and how much is drawn and run."""

    method: str = setting(
        ONE_AT_A_TIME,
        "Each number at its two ends; draws of all together, with chance kept apart and the worth of knowing "
        "more; Morris's screening; Sobol's shares of variance (these two need SALib).",
        choices=METHODS,
    )
    strategies: Sequence[str] | None = shared.strategies()
    target: float | str = shared.target()
    budget: float | None = setting(None, "With nested: money a year the best may cost.", least=0, reads="finite")
    worth: float | None = setting(
        None, "With nested: what a year without a supply shortfall is worth.", least=0, reads="finite"
    )
    law: str = setting("pert", "How likely values between low and high are (nested and sobol).", choices=LAWS)
    samples: int | None = setting(
        None,
        "Draws (nested, 128), trajectories (morris, 10) or base points (sobol, 32).",
        least=2,
        most=MOST_SAMPLES,
    )
    replications: int | None = shared.replications(
        None, "How many times to run the horizon at each point. Default: 200; nested 100; morris and sobol 50."
    )
    draws: str | Path | pd.DataFrame | Joint | None = shared.draws()
    hold_levels: bool = shared.hold_levels("the fleet is uncertain")
    seed: int = shared.seed()
    engine: str = shared.engine()
