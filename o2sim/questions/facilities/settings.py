"""The settings of a study of many facilities, for `o2sim study` and for the function of that name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from o2sim.runs import settings as shared
from o2sim.settings import setting


@dataclass(frozen=True)
class FacilitySettings:
    """How each facility is run."""

    strategies: Sequence[str] | None = shared.strategies()
    replications: int = shared.replications(
        100, "How many times to run the horizon of each facility, fixed beforehand."
    )
    seed: int = shared.seed()
    engine: str = shared.engine()
    workers: int | None = shared.workers()
    skip_bad: bool = setting(False, "Leave out facilities that cannot be run, and say which.")
