"""One patient in need: on which source, or in which gap and why."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from o2sim.outcome import Cause

# What patient.claim says: a unit's number, or one of these.
FROM_STORE, FROM_WARD = -1, -2  # a regulator, and a cylinder of the central store or one kept on the ward
REPLACEMENT = -3  # a cylinder of the central store for one who has a regulator


@dataclass(slots=True, eq=False)
class Patient:
    """The state of a patient between arrival and leaving; times in s, gas in 1/60 mL.

    At any time a patient is served (on a unit or on a flowing cylinder) or in a gap, never both.
    """

    number: int
    class_index: int
    priority: int
    transfers: bool  # leaves at once if not served on arrival
    flow_ml_min: int
    arrival_s: int
    leave_s: int
    needs: bool = True  # False once weaning is late, or from the start where oxygen is given without need
    need_s: int = 0  # seconds of need of the whole stay
    unit: int | None = None  # the concentrator that serves or, in a response, last served
    content: int | None = None  # of the cylinder connected, None without one
    flowing: bool = False  # gas reaches the patient
    flow_since_s: int = 0  # credited up to here
    gap_since_s: int | None = None
    cause: Cause | None = None
    cause_since_s: int = 0  # unserved seconds credited up to here
    luck: str = ""  # the item under which the draws of this patient stand: class and ordinal
    cylinders: int = 0  # opened for this patient so far
    gauge_error_gas: int = 0  # how much too low the gauge of the connected cylinder reads, as content
    found_low: bool = False  # residual pressure was seen with nothing to change to
    run_out_s: int = 0  # when the connected cylinder loses flow
    low: bool = False  # on a unit that gives low concentration
    affected: bool = False  # had an interruption within the horizon
    served_s: int = 0  # over the whole stay, for the balance
    unserved_s: int = 0
    displaced: bool = False  # a higher priority has taken the source
    responding: bool = False  # staff are on their way after a loss of supply
    supply_event: Any = field(default=None, repr=False)  # the pending gauge check or run-out
    task: Any = field(default=None, repr=False)  # asked of staff or under way (steps/staff.py)
    ward: int = 0
    claim: int | None = None  # the source that is being fetched or connected (steps/connecting.py)
    fetch_event: Any = field(default=None, repr=False)  # while a cylinder is fetched from the store
    fetched: bool = False  # that cylinder is at the bedside
    attended_s: int = -1  # the second at which all was last at the bedside to connect a source
    fetched_s: int = -1  # the second at which a cylinder was last brought
    transfer_due: bool = False  # unserved for so long that the patient is to be sent on
    transfer_event: Any = field(default=None, repr=False)
    tolerance_event: Any = field(default=None, repr=False)
    leave_event: Any = field(default=None, repr=False)
    need_event: Any = field(default=None, repr=False)

    @property
    def item(self) -> int:
        """Return the item number of this patient's bedside events: staff go by priority, then by arrival."""
        return (self.priority << 32) + self.number

    @property
    def order(self) -> tuple[int, int]:
        """Return the place in line: by priority, then by arrival."""
        return self.priority, self.number
