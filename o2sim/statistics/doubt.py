"""The words of `interval_holds`: which doubt the intervals of a result hold.

Replications show how far chance may have carried a figure, not what wrong or unknown inputs do. Where numbers
that have a range are drawn as well (drivers, nested), the intervals hold both. The indices of Morris and Sobol
come from points that share their luck: their half-widths hold which points were drawn, and no chance.
"""

from __future__ import annotations

from typing import Literal

Held = Literal["chance in the simulation"]
HeldOfInputs = Literal["chance and unknown inputs"]
HeldOfEither = Literal["chance in the simulation", "chance and unknown inputs"]  # the latter over joint draws
HeldOfPoints = Literal["points drawn of unknown inputs"]
KEY = "interval_holds"  # at the top level of each result that has intervals
CHANCE: Held = "chance in the simulation"
CHANCE_AND_INPUTS: HeldOfInputs = "chance and unknown inputs"
POINTS: HeldOfPoints = "points drawn of unknown inputs"
SAID = "which doubt low and high hold, and which they do not"
