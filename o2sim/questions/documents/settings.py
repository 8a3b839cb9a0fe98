"""What `o2sim describe` knows of the run that it describes."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.runs import settings as shared


@dataclass(frozen=True)
class DescribeSettings:
    """How the scenario will be run."""

    replications: int = shared.replications(200, "As they will be run.")
    seed: int = shared.seed()
    engine: str = shared.engine()
