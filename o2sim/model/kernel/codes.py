"""Numbers for what the reference has as functions or words: the steps of events, jobs of staff, sources."""

from __future__ import annotations

from o2sim.model.kernel.packing import entry_code
from o2sim.scenario.types.types import Strategy

(
    DAY_BEGINS,
    PATIENT_ARRIVES,
    PATIENT_LEAVES,
    NEED_ENDS,
    ARRIVES_ELSEWHERE,
    TOLERANCE_CROSSED,
    TRANSFER_DUE,
    FLOW_STEPS_DOWN,
    TASK_ENDS,
    SHIFT_CHANGES,
    GAUGE_CHECK,
    CYLINDER_RUNS_OUT,
    FOUND_EMPTY,
    BANK_SPENT,
    BANK_SEEN,
    BANK_CHANGED,
    UNIT_FAILS,
    UNIT_DRIFTS,
    UNIT_ALARMS,
    SERVICE_BEGINS,
    SERVICE_DONE,
    REPAIR_DONE,
    ANALYSER_CHECK,
    UP_TO_CONCENTRATION,
    POWER_LOST,
    POWER_RESTORED,
    LISTED_CUT,
    LISTED_CUT_ENDS,
    VOLTAGE_LOST,
    VOLTAGE_RESTORED,
    BATTERY_EMPTY,
    BATTERY_LOW,
    BATTERY_CHARGED,
    SUN_MOVES,
    HOURS_CHANGE,
    GENERATOR_STARTS,
    GENERATOR_FAILS,
    GENERATOR_REPAIRED,
    FUEL_ORDERED,
    FUEL_DELIVERED,
    FUEL_RUNS_OUT,
    REVIEW,
    DELIVERY,
    CYLINDER_LOST,
    FETCHED,
    UNIT_MOVED,
    WARD_RESTOCKED,
    STORE_OPENS,
    GENERATOR_STARTED,
) = range(49)

# What staff are asked for at the bedside.
RESPOND, CHANGE, CONNECT, RETURN = range(4)

# The sources of a strategy, and how a patient is connected to one.
CONCENTRATOR, CYLINDER, MANIFOLD = (
    entry_code(Strategy, "sources", word) for word in ("concentrator", "cylinder", "manifold")
)
BY_UNIT, BY_TWO, BY_REDUCED, BY_CYLINDER, BY_SPLITTER, BY_OUTLET = range(6)
