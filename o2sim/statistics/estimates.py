"""What an estimate is in a result: a share of replications, or a mean, with its interval."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.typed import Inside, Share, item


@dataclass(frozen=True)
class Probability:
    """A share of replications with its exact interval (Clopper and Pearson)."""

    estimate: Share
    low: Share
    high: Share
    confidence: Inside
    note: str | None = item("what follows where nothing was seen", default=None, sometimes=True)

    @property
    def middle(self) -> float:
        """Return the estimate, by the name that all estimates have for it."""
        return self.estimate


@dataclass(frozen=True)
class Mean:
    """A mean or ratio with its interval; null where the replications give none."""

    mean: float
    low: float | None
    high: float | None
    note: str | None = item("why there is no interval, or how it was made", default=None, sometimes=True)

    @property
    def middle(self) -> float:
        """Return the mean, by the name that all estimates have for it."""
        return self.mean
