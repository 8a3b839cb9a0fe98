"""What `o2sim fit` and the function of that name take."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.runs import settings as shared


@dataclass(frozen=True)
class FitSettings:
    """What makes a fit come out the same again."""

    seed: int = shared.seed()
