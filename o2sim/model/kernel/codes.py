"""Numbers for what the reference has as functions or words: the steps of events, jobs of staff, sources."""

from __future__ import annotations

from collections.abc import Iterable
from types import ModuleType
from typing import Any

import numpy as np

from o2sim.draws.philox import stable_hash
from o2sim.model.kernel.packing import entry_code
from o2sim.model.rules import STEPS, Rank
from o2sim.outcome import Cause, Root
from o2sim.scenario.types.hospital import Strategy

# The streams of random numbers that only compiled code draws from by name.
_STREAMS = """backup open, change time, clearness, concentrator drift, concentrator failure, concentrator repair,
connect time, cylinder loss, cylinder underfilled, cylinder unusable, emergency lead time, empty refused,
fuel lead time, gauge error, generator failure, generator repair, generator start, grid down, grid up,
lead time, left open, lost cylinder, missed check, never repaired, noticed by oximeter, noticed by relative,
part delivery, part delivery share, relative, response time, surge, technician travel, timed change kept,
underfilled content, voltage bad, voltage good"""


def _by_name(numbers: Iterable[tuple[str, Any]]) -> Any:
    """Return numbers as the attributes of a module, which compiled code takes for constants."""
    found = ModuleType("numbers")
    vars(found).update((name.upper().replace(" ", "_").replace("-", "_"), number) for name, number in numbers)
    return found


def _numbered(*names: str) -> Any:
    """Return names numbered from 0, in the same way."""
    return _by_name((name, number) for number, name in enumerate(" ".join(names).split()))


RANK, CAUSE, ROOT = (_by_name((each.name, int(each)) for each in kind) for kind in (Rank, Cause, Root))
LOG = _by_name((step, place) for place, step in enumerate(STEPS))  # as steps stand in the log
STREAM = _by_name((name, np.uint64(stable_hash(name))) for name in " ".join(_STREAMS.split()).split(", "))
STEP = _numbered(  # of events, in the order of the families by which loop.py finds them
    "DAY_BEGINS PATIENT_ARRIVES PATIENT_LEAVES NEED_ENDS ARRIVES_ELSEWHERE TOLERANCE_CROSSED INTERRUPTED",
    "STOCKED_OUT TRANSFER_DUE FLOW_STEPS_DOWN TASK_ENDS",
    "SHIFT_CHANGES GAUGE_CHECK CYLINDER_RUNS_OUT BACKUP_OPENS FOUND_EMPTY",
    "BANK_SPENT BANK_SEEN BANK_CHANGED",
    "UNIT_FAILS UNIT_DRIFTS UNIT_ALARMS SERVICE_BEGINS SERVICE_DONE REPAIR_DONE ANALYSER_CHECK",
    "UP_TO_CONCENTRATION",
    "POWER_LOST POWER_RESTORED LISTED_CUT LISTED_CUT_ENDS VOLTAGE_LOST VOLTAGE_RESTORED BATTERY_EMPTY BATTERY_LOW",
    "BATTERY_CHARGED SUN_MOVES HOURS_CHANGE GENERATOR_STARTS GENERATOR_FAILS GENERATOR_REPAIRED FUEL_ORDERED",
    "FUEL_DELIVERED FUEL_RUNS_OUT",
    "REVIEW DELIVERY CYLINDER_LOST BACK_FROM_THE_WAY",
    "FETCHED UNIT_MOVED WARD_RESTOCKED STORE_OPENS GENERATOR_STARTED TAKEN_UP",
)
JOB = _numbered("RESPOND CHANGE CONNECT RETURN")  # what staff are asked for at the bedside
SOURCE = _by_name(
    (word, entry_code(Strategy, "sources", word)) for word in ("concentrator", "cylinder", "manifold")
)
WAY = _numbered("BY_UNIT BY_TWO BY_REDUCED BY_CYLINDER BY_SPLITTER BY_OUTLET")  # how a patient is connected
