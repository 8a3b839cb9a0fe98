"""What a number in a scenario is when nobody knows it for sure: its low, likely and high value."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Uncertain:
    """One uncertain number: low, likely and high as written (texts), in `unit` (numbers), and in internal units.

    path is the dotted path as the file has it; places are all the paths that take the same value at once (a field
    that some strategies state for themselves as well). whole: only whole numbers make sense there.
    """

    path: str
    texts: tuple[str, str, str]
    numbers: tuple[float, float, float]
    unit: str
    internal: tuple[float, float, float]
    whole: bool
    places: tuple[str, ...]

    @property
    def likely(self) -> float:
        """Return the best guess, in unit."""
        return self.numbers[1]
