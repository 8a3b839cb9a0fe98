"""What was needed and not bought for want of money, as means of the replications of one strategy."""

from __future__ import annotations

from o2sim.measures.replications import OF_UNBOUGHT, Replications
from o2sim.money.unbought import Unbought


def unbought_of(table: Replications) -> Unbought | None:
    """Return what was needed and not bought, as means a year; None where nobody counts money."""
    means = {
        part: float(table.values[name].mean()) if name in table.values else None
        for name, part in OF_UNBOUGHT.items()
    }
    return Unbought(**means) if any(mean is not None for mean in means.values()) else None
