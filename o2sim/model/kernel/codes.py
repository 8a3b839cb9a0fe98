"""Numbers for what the reference has as functions or words: the steps of events, jobs of staff, sources."""

from __future__ import annotations

from o2sim.model.kernel.packing import entry_code
from o2sim.scenario.types.hospital import Strategy

# Steps, in the order of the families by which loop.py finds them.
DAY_BEGINS, PATIENT_ARRIVES, PATIENT_LEAVES, NEED_ENDS, ARRIVES_ELSEWHERE = range(0, 5)
TOLERANCE_CROSSED, INTERRUPTED, STOCKED_OUT, TRANSFER_DUE, FLOW_STEPS_DOWN, TASK_ENDS = range(5, 11)
SHIFT_CHANGES, GAUGE_CHECK, CYLINDER_RUNS_OUT, FOUND_EMPTY = range(11, 15)
BANK_SPENT, BANK_SEEN, BANK_CHANGED = range(15, 18)
UNIT_FAILS, UNIT_DRIFTS, UNIT_ALARMS, SERVICE_BEGINS, SERVICE_DONE = range(18, 23)
REPAIR_DONE, ANALYSER_CHECK, UP_TO_CONCENTRATION = range(23, 26)
POWER_LOST, POWER_RESTORED, LISTED_CUT, LISTED_CUT_ENDS, VOLTAGE_LOST, VOLTAGE_RESTORED = range(26, 32)
BATTERY_EMPTY, BATTERY_LOW, BATTERY_CHARGED, SUN_MOVES = range(32, 36)
HOURS_CHANGE, GENERATOR_STARTS, GENERATOR_FAILS, GENERATOR_REPAIRED = range(36, 40)
FUEL_ORDERED, FUEL_DELIVERED, FUEL_RUNS_OUT = range(40, 43)
REVIEW, DELIVERY, CYLINDER_LOST = range(43, 46)
FETCHED, UNIT_MOVED, WARD_RESTOCKED, STORE_OPENS, GENERATOR_STARTED = range(46, 51)

# What staff are asked for at the bedside.
RESPOND, CHANGE, CONNECT, RETURN = range(4)

# The sources of a strategy, and how a patient is connected to one.
CONCENTRATOR, CYLINDER, MANIFOLD = (
    entry_code(Strategy, "sources", word) for word in ("concentrator", "cylinder", "manifold")
)
BY_UNIT, BY_TWO, BY_REDUCED, BY_CYLINDER, BY_SPLITTER, BY_OUTLET = range(6)
