"""Which replication to follow, for `o2sim trace` and for the function of that name."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.settings import setting

LAST_REPLICATION = 10**9  # far below 2**64, where numbers of replications would come round to 0 again


@dataclass(frozen=True)
class TraceSettings:
    """Which replication."""

    replication: int | None = setting(None, "Which replication, from 0.", least=0, most=LAST_REPLICATION)
