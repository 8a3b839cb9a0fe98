"""Who is there, by day and by night, and who gives way to whom, with the keys of a scenario file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from o2sim.scenario.keys.field import CONVENTION
from o2sim.scenario.keys.record import key, time_key, whole_key

UnitChoice = Literal["lowest number", "least loaded", "most loaded"]
ReducedFlow = Literal["above rated flow", "never", "any"]


@dataclass(frozen=True)
class DayHours:
    """The seconds of the day at which the day's staffing begins and ends; the rest is night."""

    from_s: int = key("clock", "when the day's staff begin", "07:00", CONVENTION)
    to_s: int = key("clock", "when the night's staff begin", "19:00", CONVENTION)

    def is_day(self, second_of_day: int) -> bool:
        """Return True by day."""
        return self.from_s <= second_of_day < self.to_s


@dataclass(frozen=True)
class Staff:
    """How many are there to connect and change by day and by night."""

    day: int = whole_key("staff who connect and change by day", None, 1, 1_000, required=True)
    night: int = whole_key("staff who connect and change by night", None, 1, 1_000, required=True)
    connect_s: int = time_key(
        "to connect a patient who arrives or waits, or to move one back to a unit", "0 min", CONVENTION,
        name="connect_time",
    )  # fmt: skip


@dataclass(frozen=True)
class Allocation:
    """Who gives way to whom, and which unit with room comes first."""

    preempt: bool = key(
        "true or false", "a higher priority may take a source from the lowest when none is free", "false",
        CONVENTION,
    )  # fmt: skip
    reserve: int = whole_key("the last cylinders on hand, kept for high priorities", "0", 0, 1_000, CONVENTION)
    reserve_priority: int = whole_key("the reserve is for this priority and lower numbers", "1", 1, 9, CONVENTION)
    first_unit: UnitChoice = key(
        "word", "which concentrator with room a patient gets", "lowest number", CONVENTION,
        words=tuple((word, word) for word in ("lowest number", "least loaded", "most loaded")),
    )  # fmt: skip
    reduced_flow: ReducedFlow = key(  # whose prescribed flow may be given in part
        "word",
        "who takes a part of the prescribed flow from a concentrator rather than nothing: those who need more "
        "than its rated flow, nobody, or anybody",
        "above rated flow", "nobody gives nothing beside a concentrator",
        words=tuple((word, word) for word in ("above rated flow", "never", "any")),
    )  # fmt: skip
    two_units: bool = key(
        "true or false", "a flow above the rated flow may come from two concentrators", "false", CONVENTION
    )
