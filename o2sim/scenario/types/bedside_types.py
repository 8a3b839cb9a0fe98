"""What a scenario says of the equipment at the bedside: regulator sets, splitters, humidifiers, delivery sets."""

from __future__ import annotations

from dataclasses import dataclass

ANY_FLOW_ML_MIN = 1_000_000  # beyond any patient


@dataclass(frozen=True)
class RegulatorSet:
    """So many like sets of regulator and flowmeter: which flows they can be set to, which valve they fit."""

    count: int
    low_ml_min: int = 0
    high_ml_min: int = ANY_FLOW_ML_MIN
    valve: str | None = None  # None fits any

    @property
    def width_ml_min(self) -> int:
        """Return the width of the range."""
        return self.high_ml_min - self.low_ml_min

    def fits(self, valve: str | None) -> bool:
        """Return True if it can be mounted on a valve; what is not stated fits."""
        return None in (self.valve, valve) or self.valve == valve

    def reads(self, flow_ml_min: int) -> bool:
        """Return True if the flowmeter can be set to a flow."""
        return self.low_ml_min <= flow_ml_min <= self.high_ml_min


@dataclass(frozen=True)
class Splitters:
    """So many flow splitters, each with so many outlets for patients who share a cylinder."""

    count: int
    outlets: int


@dataclass(frozen=True)
class Bedside:
    """What a patient needs beside a source; None or left out is unlimited."""

    humidifiers: int | None = None
    humidify_above_ml_min: int = 4_000
    delivery_sets: tuple[tuple[str, int], ...] = ()  # (delivery device, how many)


UNLIMITED = Bedside()
