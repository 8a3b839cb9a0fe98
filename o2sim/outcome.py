"""The record of one replication: whole numbers that either engine fills in, all clipped to the horizon."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from enum import IntEnum
from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:  # words about causes are needed where no array is, such as by the server of the desk
    import numpy as np
    import numpy.typing as npt


class Cause(IntEnum):
    """Why a patient in need gets nothing at this second. The value is the position in Outcome's tuples."""

    CHANGEOVER = 0
    RAN_EMPTY_UNSEEN = 1
    NO_REGULATOR = 2
    NO_POWER = 3
    CONCENTRATOR_DOWN = 4
    CONCENTRATORS_FULL = 5
    NO_CYLINDER = 6
    FLOW_TOO_HIGH = 7
    WAITING_FOR_STAFF = 8
    NO_DELIVERY_SET = 9
    OUTLETS_FULL = 10

    @property
    def label(self) -> str:
        """Return the trade words for the cause, as shown to people and used in JSON."""
        return CAUSE_LABELS[self]

    @property
    def is_supply(self) -> bool:
        """Return True where quicker staff could not have helped: an interruption of this cause is a stock-out."""
        return self in SUPPLY_CAUSES


CAUSE_LABELS = {
    Cause.CHANGEOVER: "changeover",
    Cause.RAN_EMPTY_UNSEEN: "ran empty unseen",
    Cause.NO_REGULATOR: "no regulator",
    Cause.NO_POWER: "no power",
    Cause.CONCENTRATOR_DOWN: "concentrator down",
    Cause.CONCENTRATORS_FULL: "concentrators full",
    Cause.NO_CYLINDER: "no cylinder",
    Cause.FLOW_TOO_HIGH: "flow too high for the source",
    Cause.WAITING_FOR_STAFF: "waiting for staff",
    Cause.NO_DELIVERY_SET: "no humidifier or delivery set",
    Cause.OUTLETS_FULL: "outlets full",
}
SUPPLY_CAUSES = frozenset({
    Cause.NO_POWER, Cause.CONCENTRATOR_DOWN, Cause.CONCENTRATORS_FULL, Cause.NO_CYLINDER, Cause.FLOW_TOO_HIGH,
    Cause.OUTLETS_FULL,
})  # fmt: skip


class Root(IntEnum):
    """What a patient who is short would still want if hands, eyes and the way to the store cost no time."""

    SUPPLY = 0
    EQUIPMENT = 1  # a regulator set, a humidifier or a delivery set
    HANDLING = 2  # nothing: a source is there, or on its way

    @property
    def label(self) -> str:
        """Return the word for the root, as used in JSON."""
        return self.name.lower()

    @property
    def words(self) -> str:
        """Return what would help, in words."""
        return ("more supply", "a regulator set, humidifier or delivery set", "quicker handling")[self]


LENGTHS_S = (600, 3_600, 21_600, 86_400)  # interruptions longer than 10 min, 1 h, 6 h, 24 h
SHORTFALLS_S = (600, 3_600, 21_600)  # of supply, that patients are counted by
SHORTFALL_LABELS = ("over 10 min", "over 1 h", "over 6 h")
LENGTH_LABELS = ("over 10 min", "over 1 h", "over 6 h", "over 24 h")
DAILY_COLUMNS = (  # state at the first instant of each day of the horizon, before that instant's events
    "full",
    "part_used",
    "in_use",  # at the bedside and on the manifold
    "empty",
    "on_order",
    "patients",
    "unserved",
    "on_concentrator",
    "flow_needed_ml_min",
    "away",  # own cylinders sent to be filled
    "under_served",  # patients on reduced flow
    "usable_litres",  # above residual pressure, in full, part-used and in-use cylinders
    "used_7_days_litres",  # drawn from cylinders in the seven days before, leaks included
    "mean_need_litres",  # of the season, for a day, whatever source meets it
    "cylinder_flow_ml_min",  # drawn from cylinders now, leaks included
    "used_litres",  # drawn from cylinders in the day before, leaks included
)


@dataclass(frozen=True)
class LogEntry:
    """One step of a run: when (s from the start of the warm-up), what, and up to three whole numbers.

    item is the patient, unit or order number; other and value depend on the step (see model/rules.py).
    """

    time_s: int
    step: str
    item: int = -1
    other: int = -1
    value: int = -1


def _zeros(length: int) -> tuple[int, ...]:
    return (0,) * length


def _no_days() -> npt.NDArray[np.int32]:
    import numpy as np

    return np.zeros((0, len(DAILY_COLUMNS)), dtype=np.int32)


@dataclass(frozen=True)
class AtOnce:
    """Seconds of the horizon at each level of use: place n of a tuple is how long n were in use at once.

    Each covers the whole horizon, but units_on_generator and units_on_battery the time in which these carry the
    units. A tuple ends with the highest level seen.
    """

    cylinders: tuple[int, ...] = ()  # at the bedside, as many regulators; changes of cylinder included
    patients_on_cylinders: tuple[int, ...] = ()
    outlets: tuple[int, ...] = ()  # of concentrators, with a patient on each
    units_running: tuple[int, ...] = ()
    units_on_generator: tuple[int, ...] = ()
    units_on_battery: tuple[int, ...] = ()
    units_out: tuple[int, ...] = ()  # not in order: repair, service, written off
    units_in_repair: tuple[int, ...] = ()  # of these, with a technician on the way or at work

    NAMES: ClassVar[tuple[str, ...]]


AtOnce.NAMES = tuple(each.name for each in fields(AtOnce))


@dataclass(frozen=True)
class Outcome:
    """What happened in one replication under one strategy, within the horizon. Gas is in 1/60 mL, time in s.

    Tuples by cause are indexed by Cause; `longer` counts interruptions by LENGTHS_S. A gap keeps its true start
    and counts where its tolerance is crossed inside the horizon.
    """

    replication: int
    horizon_s: int
    interruptions: tuple[int, ...] = _zeros(len(Cause))  # by the cause of most of the spell up to the crossing
    stock_outs_by_cause: tuple[int, ...] = _zeros(len(Cause))
    longer: tuple[int, ...] = _zeros(len(LENGTHS_S))
    unserved_s: tuple[int, ...] = _zeros(len(Cause))  # patient-seconds
    days_with_unserved: int = 0  # beyond the tolerated gap: an interruption begins or goes on
    longest_gap_s: int = 0
    arrivals: int = 0  # who begin to need oxygen within the horizon
    patients: int = 0  # in need at any time within the horizon
    patients_affected: int = 0  # with at least one interruption
    transferred: int = 0
    need_s: int = 0  # patient-seconds in need, transferred patients' stays included
    served_cylinder_s: int = 0  # from cylinders at the bedside or on the manifold
    served_outlet_s: int = 0  # of it, through the outlets of the manifold
    served_concentrator_s: int = 0
    travel_s: int = 0  # of patients sent on: with the vehicle's oxygen part of transferred_s, else unserved
    transferred_s: int = 0  # need_s = served + unserved + transferred
    under_served_s: int = 0  # of served seconds, those with less than prescribed that do not count as short
    short_served_s: int = 0  # of served seconds, those with so little that they do
    short_s: tuple[int, ...] = _zeros(len(Root))  # by root; together unserved_s and short_served_s
    deficit_ms: int = 0  # thousandths of a patient-second: seconds by the share of the flow that was missing
    supply_over: tuple[int, ...] = _zeros(len(SHORTFALLS_S))  # patients with a longer supply shortfall
    longest_spell_s: int = 0  # short seconds of one spell
    patients_under_served: int = 0  # at any time within the horizon
    needed_gas: int = 0  # delivered + unserved + missing + transferred
    missing_gas: int = 0  # of those under-served: prescribed beyond what was given
    cylinder_gas: int = 0  # delivered to patients
    concentrator_gas: int = 0
    unneeded_cylinder_gas: int = 0  # given late in weaning, or without need
    unneeded_concentrator_gas: int = 0
    unrecognised_s: int = 0  # patient-seconds of need that nobody recognised; in no other figure
    leaked_gas: int = 0
    returned_gas: int = 0  # in empties handed over
    refilled_gas: int = 0  # of it, in those that were filled
    sent_gas: int = 0  # in part-used cylinders sent to be filled; returned as they are handed over
    received_gas: int = 0
    opening_gas: int = 0  # in all cylinders at the start and at the end of the horizon
    closing_gas: int = 0
    opening_usable_gas: int = 0  # the part above the residual content
    closing_usable_gas: int = 0
    cylinders_opened: int = 0
    cylinders_emptied: int = 0
    changed_in_time: int = 0  # cylinders taken off for another while they still gave their flow
    cylinders_delivered: int = 0
    deliveries: int = 0  # trips
    collections: int = 0  # trips that take own cylinders away to be filled
    orders: int = 0  # emergency orders included
    emergency_orders: int = 0
    emergency_deliveries: int = 0
    emergency_cylinders: int = 0
    cylinders_cut: int = 0  # ordered, then cancelled: a part came, or an emergency took the empties
    cylinders_sent: int = 0  # part-used, to be filled
    cylinders_lost: int = 0  # gone from the fleet, condemned or missing
    cylinders_unusable: int = 0  # opened and found to give nothing
    unit_losses: int = 0  # of patients in need, where some are given a back-up
    backups_opened: int = 0  # of these losses, those met by a back-up that flowed
    empty_shelf_s: int = 0
    since_bare_s: int = 0  # to the end of the horizon from the first second of an empty shelf; 0: there was none
    since_interruption_s: int = 0  # from the first of each; 0: there was none
    since_stock_out_s: int = 0
    since_delivery_s: int = 0
    concentrator_failures: int = 0
    concentrator_running_s: int = 0  # unit-seconds powered and serving
    power_out_s: int = 0
    power_cuts: int = 0
    without_power_s: int = 0  # neither grid nor anything behind it
    off_grid_running_s: int = 0  # unit-seconds on generator or battery
    grid_charging_ws: int = 0  # what the battery's charger took from the grid, W x s
    generator_running_s: int = 0
    generator_failures: int = 0  # to start or while running
    fuel_used: int = 0  # 1/3600 microlitre
    fuel_for_oxygen: int = 0  # of it, what would not have been used without concentrators
    fuel_received: int = 0
    low_concentration_s: int = 0  # patient-seconds served by a unit that starts up or has drifted below 82 %
    concentrators_written_off: int = 0
    services: int = 0  # preventive
    concentrators_moved: int = 0  # to another ward
    ward_stock_outs: tuple[int, ...] = ()  # by ward, in the order of the file; one ward where none is named
    ward_interruptions: tuple[int, ...] = ()
    ward_unserved_s: tuple[int, ...] = ()
    ward_short_s: tuple[int, ...] = ()
    arrivals_by_class: tuple[int, ...] = ()  # in the order of the hospital's classes; sums are the totals above
    patients_by_class: tuple[int, ...] = ()
    interruptions_by_class: tuple[int, ...] = ()
    unserved_s_by_class: tuple[int, ...] = ()
    short_s_by_class: tuple[int, ...] = ()
    transferred_by_class: tuple[int, ...] = ()
    unit_running_s: tuple[int, ...] = ()  # by unit; together concentrator_running_s
    fewest_full: int = 0  # left as one was taken to a bedside, warm-up included; at most those at the start
    at_once: AtOnce = AtOnce()
    pipe_leak_gas: int = 0  # of leaked_gas, what the pipework of the manifold lost
    bank_changes: int = 0  # the reserve's included
    reserve_s: int = 0  # on the low-pressure reserve
    manifold_dry_s: int = 0  # banks and reserve spent
    with_cylinders: int = 0  # patients sent on with cylinders of the place
    transfer_cylinders: int = 0  # that went with them
    transfer_gas: int = 0  # drawn on the way, leaks included; of what is needed it is part of what is transferred
    opened_by_size: tuple[int, ...] = ()  # in the order of Cylinders.each; sums are the totals above
    delivered_by_size: tuple[int, ...] = ()
    lost_by_size: tuple[int, ...] = ()
    sent_by_size: tuple[int, ...] = ()  # part-used, to be filled
    drawn_gas_by_size: tuple[int, ...] = ()  # opening + received - drawn - returned = closing
    received_gas_by_size: tuple[int, ...] = ()
    returned_gas_by_size: tuple[int, ...] = ()
    refilled_gas_by_size: tuple[int, ...] = ()
    empty_shelf_s_by_size: tuple[int, ...] = ()  # empty_shelf_s: that of all sizes for patients at once
    fewest_full_by_size: tuple[int, ...] = ()
    opening_gas_by_size: tuple[int, ...] = ()
    closing_gas_by_size: tuple[int, ...] = ()
    opening_usable_gas_by_size: tuple[int, ...] = ()
    closing_usable_gas_by_size: tuple[int, ...] = ()
    events: int = 0  # steps executed, warm-up included
    daily: npt.NDArray[np.int32] = field(  # shape (days, len(DAILY_COLUMNS))
        default_factory=_no_days, compare=False
    )
    log: tuple[LogEntry, ...] = ()

    @property
    def went_wrong(self) -> frozenset[Cause]:
        """Return the causes of supply with a stock-out, and the others with an interruption."""
        counted = zip(Cause, self.stock_outs_by_cause, self.interruptions, strict=True)
        return frozenset(cause for cause, out, any_ in counted if (out if cause.is_supply else any_))

    @property
    def first_bare_s(self) -> int:
        """Return the first second of the horizon with an empty shelf, from its start; -1 for none."""
        return self._first_s(self.since_bare_s)

    @property
    def first_interruption_s(self) -> int:
        """Return the second of the first interruption, from the start of the horizon; -1 for none."""
        return self._first_s(self.since_interruption_s)

    @property
    def first_stock_out_s(self) -> int:
        """Return the second of the first stock-out, from the start of the horizon; -1 for none."""
        return self._first_s(self.since_stock_out_s)

    @property
    def first_delivery_s(self) -> int:
        """Return the second of the first delivery, from the start of the horizon; -1 for none."""
        return self._first_s(self.since_delivery_s)

    def _first_s(self, to_the_end_s: int) -> int:
        return self.horizon_s - to_the_end_s if to_the_end_s else -1

    @property
    def stock_outs(self) -> int:
        """Return the number of spells in which only supply could have helped for longer than the tolerance."""
        return sum(self.stock_outs_by_cause)


def supply_unserved_s(outcome: Outcome) -> int:
    """Return the patient-seconds unserved for lack of supply."""
    return sum(seconds for cause, seconds in zip(Cause, outcome.unserved_s, strict=True) if cause.is_supply)
