"""Wards, the central store, units on the move, staff and who gives way to whom, with their keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from o2sim.scenario.keys.record import key, time_key, whole_key
from o2sim.scenario.types.times import Time, handling_time

MOST_WARDS = "50"
UnitChoice = Literal["lowest number", "least loaded", "most loaded", "smallest that fits"]
ReducedFlow = Literal["above rated flow", "never", "any"]


@dataclass(frozen=True)
class Ward:
    """What stands on one ward; the concentrators are numbered ward by ward, the first ward's first."""

    name: str
    concentrators: int = whole_key(
        "units that stand on the ward, where concentrators.units do not say so", "0", 0, 1_000
    )
    regulators: int = whole_key("sets of regulator and flowmeter of the ward", "0", 0, 100_000)
    bedside_cylinders: int = whole_key(
        "full cylinders kept on the ward, refilled from the store by day", "0", 0, 100_000
    )


@dataclass(frozen=True)
class StoreAccess:
    """How long it takes to fetch a cylinder from the central store."""

    fetch_by_day_s: int = time_key("time to fetch a cylinder from the central store by day", "0 min")
    fetch_by_night_s: int = time_key(
        "the same by night, the key-holder's way included", like="fetch_by_day", value=0
    )


AT_HAND = StoreAccess()  # no time at all


@dataclass(frozen=True)
class Moving:
    """How long a unit is on its way between wards."""

    time_s: int = time_key("from one ward to another, serving nobody", least="1 min", required=True)


@dataclass(frozen=True)
class DayHours:
    """The seconds of the day at which the day's staffing begins and ends; the rest is night."""

    from_s: int = key("clock", "when the day's staff begin", "07:00")
    to_s: int = key("clock", "when the night's staff begin", "19:00")

    def is_day(self, second_of_day: int) -> bool:
        """Return True by day."""
        return self.from_s <= second_of_day < self.to_s


@dataclass(frozen=True)
class Staff:
    """How many are there to connect and change by day and by night."""

    day: int = whole_key("staff who connect and change by day", None, 1, 1_000, required=True)
    night: int = whole_key("staff who connect and change by night", None, 1, 1_000, required=True)
    connect_s: Time = handling_time(
        "to connect a patient who arrives or waits, or to move one back to a unit", "0 min", name="connect_time",
        value=0,
    )  # fmt: skip


@dataclass(frozen=True)
class Allocation:
    """Who gives way to whom, and which unit with room comes first."""

    preempt: bool = key(
        "true or false", "a higher priority may take a source from the lowest when none is free", "false"
    )
    reserve: int = whole_key("the last cylinders on hand, kept for high priorities", "0", 0, 1_000)
    reserve_priority: int = whole_key("the reserve is for this priority and lower numbers", "1", 1, 9)
    first_unit: UnitChoice = key(
        "word", "which concentrator with room a patient gets; smallest: that of the least rated flow, then number",
        "lowest number", words=("lowest number", "least loaded", "most loaded", "smallest that fits"),
    )  # fmt: skip
    reduced_flow: ReducedFlow = key(  # whose prescribed flow may be given in part
        "word",
        "who takes a part of the prescribed flow from a concentrator rather than nothing: those who need more "
        "than its rated flow, nobody, or anybody",
        "above rated flow", "nobody gives nothing beside a concentrator",
        words=("above rated flow", "never", "any"),
    )  # fmt: skip
    two_units: bool = key("true or false", "a flow above the rated flow may come from two concentrators", "false")
