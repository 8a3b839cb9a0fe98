"""The keys of wards, of the central store and of moving units; fields.py has the rest of the table."""

from __future__ import annotations

from o2sim.scenario.keys.field import CONVENTION, Section, whole_field
from o2sim.scenario.keys.field import time_field as _time

MOST_WARDS = "50"
WARD = Section(
    (
        whole_field("concentrators", "units that stand on the ward", "0", 0, 1_000, mark=CONVENTION),
        whole_field("regulators", "sets of regulator and flowmeter of the ward", "0", 0, 100_000, mark=CONVENTION),
        whole_field("bedside_cylinders", "full cylinders kept on the ward, refilled from the store by day", "0", 0,
                    100_000, mark=CONVENTION),
    )
)  # fmt: skip
STORE = Section(
    (
        _time("fetch_by_day", "time to fetch a cylinder from the central store by day", "0 min", CONVENTION),
        _time("fetch_by_night", "the same by night, the key-holder's way included", None,
              otherwise="fetch_by_day"),
    )
)  # fmt: skip
MOVING = Section((_time("time", "from one ward to another, serving nobody", least="1 min", required=True),))
