"""The settings of a sizing, for `o2sim size` and for the function of that name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim.runs import settings as shared
from o2sim.settings import setting

if TYPE_CHECKING:
    import pandas as pd

    from o2sim.outcome import Cause
    from o2sim.scenario.changing.joint import Joint

BATCH = 4_000  # replications: the answer is then within two cylinders of that of four times as many
SEARCHED = 400


@dataclass(frozen=True)
class SizeSettings:
    """The target, what is sized, and how surely."""

    target: float | str = setting(0.05, "The most that the chance may be within the horizon.", typed="5 %")
    vary: str | Sequence[str] = setting(
        "cylinders.fleet",
        'Field to size, alone or with values: "cylinders.fleet = 40..80". May be repeated: the cheapest '
        'combination. "resupply.levels" tries other levels of the reorder rule with the cylinders there are.',
        multiple=True,
    )
    causes: Sequence[Cause | str] | None = setting(
        None,
        'Whose interruptions count, between commas, or "supply", or "any". Default: no cylinder where cylinders '
        "are sized, else supply.",
        reads="list",
    )
    confidence: float | str = setting(0.95, "How sure it must be that the target is met.", typed="95 %")
    replications: int | None = shared.replications(
        None,
        "By one batch how many give the curve; in a search the most that one candidate gets, and the one that "
        f"passes up to as many again.  [default: {BATCH} by one batch, {SEARCHED} in a search; more where the "
        "target is below 3 %]",
    )
    most_missing: float | str = setting(
        0.05,
        "The largest share of the litres needed that may not be delivered, those of patients sent on included.",
        typed="5 %",
    )
    hold_levels: bool = shared.hold_levels("the fleet changes")
    draws: str | Path | pd.DataFrame | Joint | None = shared.draws()
    seed: int = shared.seed()
    engine: str = shared.engine()
    workers: int | None = shared.workers()
