"""What the intervals of a result hold in, the words for it out: the same on every screen, page and drawing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from o2sim.statistics import doubt

SAID = {
    doubt.CHANCE: "chance in the simulation only, not unknown inputs",
    doubt.CHANCE_AND_INPUTS: "chance in the simulation and also unknown inputs, within their ranges",
    doubt.POINTS: "which points of the unknown inputs were drawn, not the chance that all points share",
}
CHANCE_ONLY = SAID[doubt.CHANCE]
IN_SHORT = f"{doubt.CHANCE} only"  # near a table that says it in full
SAME_LUCK = f"meeting the same patients, power cuts and roads (in brackets {IN_SHORT}):"
OF_LOW_AND_HIGH = f"low and high hold {CHANCE_ONLY}"


def held(result: Mapping[str, Any]) -> str:
    """Return what the intervals of a result hold, to stand after "the interval:"."""
    return SAID[result[doubt.KEY]]


def brackets(level: str) -> str:
    """Return "in brackets the 95 % confidence interval: chance in the simulation only, not unknown inputs"."""
    return f"in brackets the {level} confidence interval: {CHANCE_ONLY}"
