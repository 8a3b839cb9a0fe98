"""What was needed and not bought for want of money, as means of the replications of one strategy."""

from __future__ import annotations

from o2sim.measures.names import NEEDED, NOT_BOUGHT
from o2sim.measures.replications import Replications
from o2sim.money.unbought import Unbought


def unbought_of(table: Replications) -> Unbought | None:
    """Return cylinders a year needed and not bought; None where nobody counts money."""
    if NEEDED not in table.values:
        return None
    return Unbought(float(table.values[NEEDED].mean()), float(table.values[NOT_BOUGHT].mean()))
