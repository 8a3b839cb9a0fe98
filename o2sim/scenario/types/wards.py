"""Wards, the access to the central store and the moving of units, as a scenario states them, with their keys."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.keys.field import CONVENTION
from o2sim.scenario.keys.record import time_key, whole_key

MOST_WARDS = "50"


@dataclass(frozen=True)
class Ward:
    """What stands on one ward; the concentrators are numbered ward by ward, the first ward's first."""

    name: str
    concentrators: int = whole_key("units that stand on the ward", "0", 0, 1_000, CONVENTION)
    regulators: int = whole_key("sets of regulator and flowmeter of the ward", "0", 0, 100_000, CONVENTION)
    bedside_cylinders: int = whole_key(
        "full cylinders kept on the ward, refilled from the store by day", "0", 0, 100_000, CONVENTION
    )


@dataclass(frozen=True)
class StoreAccess:
    """How long it takes to fetch a cylinder from the central store."""

    fetch_by_day_s: int = time_key("time to fetch a cylinder from the central store by day", "0 min", CONVENTION)
    fetch_by_night_s: int = time_key(
        "the same by night, the key-holder's way included", like="fetch_by_day", value=0
    )


AT_HAND = StoreAccess()  # no time at all


@dataclass(frozen=True)
class Moving:
    """How long a unit is on its way between wards."""

    time_s: int = time_key("from one ward to another, serving nobody", least="1 min", required=True)
