"""Numbers for what the reference has as functions or words: the steps of events, jobs of staff, sources."""

from __future__ import annotations

from collections.abc import Iterable
from types import ModuleType
from typing import Any

import numpy as np

from o2sim.draws.philox import stable_hash
from o2sim.model.kernel.packing import entry_code
from o2sim.model.rules import STEPS, Rank
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Strategy

# The streams of random numbers that only compiled code draws from by name.
_STREAMS = """clearness, concentrator drift, concentrator failure, concentrator repair, cylinder loss,
cylinder underfilled, cylinder unusable, emergency lead time, empty refused, fuel lead time, gauge error,
generator failure, generator repair, generator start, grid down, grid up, lead time, left open, lost cylinder,
missed check, never repaired, part delivery, part delivery share, surge, technician travel, underfilled content,
voltage bad, voltage good"""


def _by_name(numbers: Iterable[tuple[str, Any]]) -> Any:
    """Return numbers as the attributes of a module, which compiled code takes for constants."""
    found = ModuleType("numbers")
    vars(found).update((name.upper().replace(" ", "_"), number) for name, number in numbers)
    return found


RANK, CAUSE = (_by_name((each.name, int(each)) for each in kind) for kind in (Rank, Cause))
LOG = _by_name((step, place) for place, step in enumerate(STEPS))  # as steps stand in the log
STREAM = _by_name((name, np.uint64(stable_hash(name))) for name in " ".join(_STREAMS.split()).split(", "))

# Steps, in the order of the families by which loop.py finds them.
DAY_BEGINS, PATIENT_ARRIVES, PATIENT_LEAVES, NEED_ENDS, ARRIVES_ELSEWHERE = range(0, 5)
TOLERANCE_CROSSED, TRANSFER_DUE, FLOW_STEPS_DOWN, TASK_ENDS = range(5, 9)
SHIFT_CHANGES, GAUGE_CHECK, CYLINDER_RUNS_OUT, FOUND_EMPTY = range(9, 13)
BANK_SPENT, BANK_SEEN, BANK_CHANGED = range(13, 16)
UNIT_FAILS, UNIT_DRIFTS, UNIT_ALARMS, SERVICE_BEGINS, SERVICE_DONE = range(16, 21)
REPAIR_DONE, ANALYSER_CHECK, UP_TO_CONCENTRATION = range(21, 24)
POWER_LOST, POWER_RESTORED, LISTED_CUT, LISTED_CUT_ENDS, VOLTAGE_LOST, VOLTAGE_RESTORED = range(24, 30)
BATTERY_EMPTY, BATTERY_LOW, BATTERY_CHARGED, SUN_MOVES = range(30, 34)
HOURS_CHANGE, GENERATOR_STARTS, GENERATOR_FAILS, GENERATOR_REPAIRED = range(34, 38)
FUEL_ORDERED, FUEL_DELIVERED, FUEL_RUNS_OUT = range(38, 41)
REVIEW, DELIVERY, CYLINDER_LOST = range(41, 44)
FETCHED, UNIT_MOVED, WARD_RESTOCKED, STORE_OPENS, GENERATOR_STARTED = range(44, 49)

# What staff are asked for at the bedside.
RESPOND, CHANGE, CONNECT, RETURN = range(4)

# The sources of a strategy, and how a patient is connected to one.
CONCENTRATOR, CYLINDER, MANIFOLD = (
    entry_code(Strategy, "sources", word) for word in ("concentrator", "cylinder", "manifold")
)
BY_UNIT, BY_TWO, BY_REDUCED, BY_CYLINDER, BY_SPLITTER, BY_OUTLET = range(6)
