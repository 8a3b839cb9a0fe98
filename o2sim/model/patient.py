"""One patient in need: on which source, or in which gap and why; and an open cylinder with who is on it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from o2sim.draws import Flows
from o2sim.model.rules import BY_LOOK
from o2sim.model.store import CylinderStore
from o2sim.outcome import Cause, Root
from o2sim.scenario.types.hospital import Cylinders, RegulatorSet

FOREVER_S = 1 << 40
# What patient.claim says: a unit's number, or one of these.
FROM_STORE, FROM_WARD = -1, -2  # a regulator, and a cylinder of the central store or one kept on the ward
REPLACEMENT = -3  # a cylinder of the central store for a patient who has a regulator
BACKUP = -4  # the back-up at the bed


def _no_seconds() -> list[int]:
    return [0] * len(Cause)


@dataclass(slots=True, eq=False)
class Shortage:
    """A spell in which a patient is short, with breaks shorter than the recovery; clocks stand still in them."""

    since_s: int  # when it began
    on: bool = False  # short now
    root: Root = Root.SUPPLY
    cause: Cause = Cause.NO_CYLINDER  # of this second, and why there is no supply where that is the root
    supply_cause: Cause = Cause.NO_CYLINDER
    begun_s: int = 0  # when the patient last fell short
    credited_s: int = 0  # up to here
    clock_s: int = 0  # short seconds
    supply_s: int = 0  # of them, those of root supply
    by_cause: list[int] = field(default_factory=_no_seconds)
    supply_by_cause: list[int] = field(default_factory=_no_seconds)
    interrupted: bool = False
    stocked_out: bool = False
    crossing: Any = field(default=None, repr=False)  # the pending interruption
    supply_crossing: Any = field(default=None, repr=False)  # the pending stock-out


@dataclass(slots=True, eq=False)
class Backup:
    """A regulator set with a cylinder at the bed of a patient, not in use; once opened it is an OpenCylinder."""

    kind: int  # of the regulator set
    content: int
    store: CylinderStore  # of its size
    fresh: bool = False  # a full one that nobody has opened
    opening: bool = False  # for a lost unit, until gas flows from whatever source
    event: Any = field(default=None, repr=False)  # pending while it is being opened


@dataclass(slots=True, eq=False)
class Patient:
    """The state of a patient between arrival and leaving; times in s, gas in 1/60 mL.

    At any time a patient is served (on a unit, on two, or on a flowing cylinder) or in a gap, never both. Served
    with less than prescribed is on reduced flow: never in a gap, but under-served.
    """

    number: int
    class_index: int
    priority: int
    transfers: bool  # leaves at once if not served on arrival
    flow_ml_min: int  # prescribed at present
    arrival_s: int
    leave_s: int
    needs: bool = True  # False once weaning is late, or from the start where oxygen is given without need
    need_s: int = 0  # seconds of need of the whole stay
    flows: Flows = ()  # prescribed: (seconds from arrival, mL/min from then on)
    given_ml_min: int = 0  # of all sources together; where nothing flows, what was given last
    unit: int | None = None  # the concentrator that serves or, in a response, last served
    second_unit: int | None = None  # of a patient whose flow comes from two
    second_ml_min: int = 0  # what the second gives of it
    cylinder: OpenCylinder | None = None  # the one connected
    backup: Backup | None = None  # at the bed
    units_lost: int = 0  # times that the unit this patient was on was lost
    delivery: str | None = None  # the device, None where it is not stated
    has_delivery: bool = False  # holds whatever delivery set and humidifier are needed
    has_humidifier: bool = False  # holds one of a limited number
    has_oximeter: bool = False  # that alarms
    unseen_losses: int = 0  # of flow, unseen, so far
    alarm_s: int = FOREVER_S  # when the oximeter alarms after the last of them
    relative_s: int = FOREVER_S  # when a relative calls staff
    piped: bool = False  # an outlet of the manifold serves or, in a response, last served
    flowing: bool = False  # gas reaches the patient
    flow_since_s: int = 0  # credited up to here
    gap_since_s: int | None = None
    cause: Cause | None = None
    cause_since_s: int = 0  # unserved seconds credited up to here
    luck: int = 0  # the item under which the draws of this patient stand: class and ordinal
    cylinders: int = 0  # opened for this patient so far
    losses: int = 0  # of supply, met so far
    connections: int = 0  # by staff, begun so far
    low: bool = False  # on a unit that gives low concentration
    affected: bool = False  # had an interruption within the horizon
    under_served: bool = False  # was on reduced flow within the horizon
    served_s: int = 0  # over the whole stay, for the balance
    unserved_s: int = 0
    displaced: bool = False  # a higher priority has taken the source
    responding: bool = False  # staff are on their way after a loss of supply
    supply_event: Any = field(default=None, repr=False)  # the pending end of the way of one sent on
    task: Any = field(default=None, repr=False)  # asked of staff or under way (steps/staff.py)
    ward: int = 0
    claim: int | None = None  # the source that is being fetched or connected (steps/connecting.py)
    claimed_ml_min: int = 0  # of a unit
    size: int | None = None  # of the cylinder last kept for the patient
    set_kind: int = 0  # of the regulator set last taken
    fetch_event: Any = field(default=None, repr=False)  # while a cylinder is fetched from the store
    fetched: bool = False  # that cylinder is at the bedside
    attended_s: int = -1  # the second at which all was last at the bedside to connect a source
    fetched_s: int = -1  # the second at which a cylinder was last brought
    short: Shortage | None = field(default=None, repr=False)  # the spell of shortfall, over or not
    served_since_s: int = -FOREVER_S  # when the last shortfall of some length ended
    supply_over: int = 0  # how many of SHORTFALLS_S a spell has exceeded within the horizon
    transfer_due: bool = False  # unserved for so long that the patient is to be sent on
    transfer_event: Any = field(default=None, repr=False)
    tolerance_event: Any = field(default=None, repr=False)
    leave_event: Any = field(default=None, repr=False)
    need_event: Any = field(default=None, repr=False)
    steps_met: int = 0  # of the flow
    step_event: Any = field(default=None, repr=False)

    @property
    def seen_to(self) -> bool:
        """Return True if a source is on its way to the patient, or staff are asked to come."""
        return self.claim is not None or self.task is not None

    @property
    def opens_backup(self) -> bool:
        """Return True while somebody at the bed is opening the back-up."""
        return self.backup is not None and self.backup.opening

    @property
    def units(self) -> tuple[int, ...]:
        """Return the numbers of the units that serve."""
        return tuple(number for number in (self.unit, self.second_unit) if number is not None)

    def flow_from(self, unit: int) -> int:
        """Return what one of the units gives."""
        return self.second_ml_min if unit == self.second_unit else self.given_ml_min - self.second_ml_min

    @property
    def item(self) -> int:
        """Return the item number of this patient's bedside events: staff go by priority, then by arrival."""
        return (self.priority << 32) + self.number

    @property
    def order(self) -> tuple[int, int]:
        """Return the place in line: by priority, then by arrival."""
        return self.priority, self.number


@dataclass(slots=True, eq=False)
class OpenCylinder:
    """A regulator set in use and the cylinder on it: its gas, who is on it, what is known of its gauge.

    Gas flows to all on it or to none. Staff come to it by the place in line of its lead.
    """

    lead: Patient  # the first in line of those on it
    patients: list[Patient]
    regulator: RegulatorSet
    store: CylinderStore  # of the size of the cylinder that is on
    kind: int = 0  # of the regulator set, by its place among the usable ones
    backup: bool = False  # brought as the back-up of its patient, and of nobody else
    number: int = 0  # cylinders opened in the run before the one that is on
    content: int = 0  # credited up to flow_since_s of its patients and leak_since_s
    leak_since_s: int = 0
    gauge_error_gas: int = 0  # how much too low the gauge reads, as content
    found_low: bool = False  # residual pressure was seen with nothing to change to
    looked_s: int = -1  # when it was last found low
    keeps_note: bool = False  # staff come at a time that they note for it, and leave it alone until then
    noted_s: int = FOREVER_S  # when they come
    lost_s: int = 0  # when it last lost its flow unseen
    look_s: int = FOREVER_S  # the next look made after that, while it waits to be found
    found_by: int = BY_LOOK  # who finds it first, as far as is known
    run_out_s: int = 0  # when it loses flow
    event: Any = field(default=None, repr=False)  # the pending gauge check or run-out

    @property
    def flowing(self) -> bool:
        """Return True if gas reaches those on it."""
        return self.lead.flowing

    @property
    def being_changed(self) -> bool:
        """Return True if the next cylinder is being fetched, or staff are asked to change this one."""
        task = self.lead.task
        return self.lead.claim == REPLACEMENT or (task is not None and not task.is_return)

    @property
    def flow_ml_min(self) -> int:
        """Return the flow of all on it together."""
        return sum(patient.flow_ml_min for patient in self.patients)

    @property
    def rules(self) -> Cylinders:
        """Return the rules of a cylinder of this size."""
        return self.store.rules

    def gas_left(self, now_s: int) -> int:
        """Return the content at this second, what has flowed since it was last credited taken off."""
        if not self.flowing:
            return self.content
        given = sum((now_s - patient.flow_since_s) * patient.flow_ml_min for patient in self.patients)
        return self.content - given - (now_s - self.leak_since_s) * self.rules.leak_ml_min
