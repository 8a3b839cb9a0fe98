"""What a scenario says, as frozen dataclasses in the units used inside (s, mL/min, 1/60 mL)."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any, Literal

from o2sim.scenario.types.bedside_types import UNLIMITED
from o2sim.scenario.types.bedside_types import Bedside as Bedside
from o2sim.scenario.types.bedside_types import RegulatorSet as RegulatorSet
from o2sim.scenario.types.bedside_types import Splitters as Splitters
from o2sim.scenario.types.law_type import Law as Law
from o2sim.scenario.types.manifold_types import Manifold as Manifold
from o2sim.scenario.types.power_types import Battery as Battery
from o2sim.scenario.types.power_types import Concentrators as Concentrators
from o2sim.scenario.types.power_types import Generator as Generator
from o2sim.scenario.types.power_types import Grid as Grid
from o2sim.scenario.types.power_types import Power as Power
from o2sim.scenario.types.power_types import Refuel as Refuel
from o2sim.scenario.types.power_types import Solar as Solar
from o2sim.scenario.types.power_types import Voltage as Voltage
from o2sim.scenario.types.power_types import Window as Window
from o2sim.scenario.types.uncertain_type import Uncertain
from o2sim.scenario.types.ward_types import AT_HAND
from o2sim.scenario.types.ward_types import StoreAccess as StoreAccess
from o2sim.scenario.types.ward_types import Ward as Ward
from o2sim.shown import Shown

Source = Literal["concentrator", "cylinder", "manifold"]
Figures = Literal["example", "ours"]  # whose the figures of a scenario are
EXAMPLE: Figures = "example"
OURS: Figures = "ours"
DAY_S = 86_400
YEAR_DAYS = 365  # a "year" in rates, lives and units; the season alone turns in 365.25 days


@dataclass(frozen=True)
class Season:
    """Factors on the yearly mean rate: a cosine (peak date, peak over trough) or twelve monthly steps.

    Exactly one of the two forms is set. monthly holds the factors as loaded, already day-weighted to mean 1.
    """

    peak: dt.date | None = None
    ratio: float = 1.0
    monthly: tuple[float, ...] = ()


@dataclass(frozen=True)
class Surge:
    """Admissions multiplied (more than 1) for a time, from midnight of a date on."""

    start: dt.date
    length_s: Law
    multiplier: float


@dataclass(frozen=True)
class Recorded:
    """Admissions of one class from a register; one entry a patient, in order of arrival.

    arrival_s counts from midnight of the register's first day, which is day first_day of the horizon (from 0, may
    be negative). days is the length of the whole register, all classes.
    """

    resample: bool  # whole recorded days drawn at random for the days of the run; else replayed as they were
    first_day: int
    days: int
    arrival_s: tuple[int, ...]
    flow_ml_min: tuple[int, ...]
    need_s: tuple[int, ...]


@dataclass(frozen=True)
class FlowStep:
    """From after_s of the stay on, the flow is this share (0-1) of the first."""

    after_s: int
    share: float


@dataclass(frozen=True)
class PatientClass:
    """One class of patients needing oxygen.

    admissions_per_day is the yearly mean of all admissions of the class; times hypoxaemic (a share, 0-1)
    it is the rate of those who need oxygen. flow is in mL/min, duration in s.
    """

    name: str
    admissions_per_day: float
    hypoxaemic: float
    flow_ml_min: Law
    duration_s: Law
    priority: int = 1
    season: Season | None = None
    if_unserved: Literal["wait", "transfer"] = "wait"
    recognised: float = 1.0  # the share of those in need who are found and given oxygen
    given_without_need: float = 0.0  # the share of the others who are given oxygen all the same
    weaned_late_s: Law | None = None  # how much longer than needed oxygen is given
    surges: tuple[Surge, ...] = ()
    overdispersion: float = 1.0  # variance over mean of the daily number of admissions; 1 is Poisson
    ward: str = ""  # empty where no wards are named
    flow_steps: tuple[FlowStep, ...] = ()  # in order of time, none above the one before
    transfer: Transfer | Literal["never"] | None = None  # None: as the hospital's
    size: str | None = None  # of prongs, catheters and masks; for the list of equipment alone
    recorded: Recorded | None = None  # in place of rate, season, flow and duration, which then sum it up
    delivery: str | None = None  # the device


@dataclass(frozen=True)
class Cylinders:
    """The cylinders of a facility, all of one type; gas counts are above gauge zero, in 1/60 mL.

    full_gas, residual_gas and lost_gas are the content when full, at the residual pressure and at the pressure
    where flow is lost. The pressures and the water capacity are kept for reports.
    """

    fleet: int
    full_at_start: int
    full_gas: int
    residual_gas: int
    lost_gas: int
    regulators: int
    leak_ml_min: int
    gauge_check_s: int  # 0: watched
    change_time_s: int
    filling_pressure_kpa: float
    residual_pressure_kpa: float
    flow_lost_below_kpa: float
    fill_temperature_c: float
    water_capacity_l: float | None  # None where the content was stated
    check_times_s: tuple[int, ...] = ()  # seconds of the day, in place of gauge_check_s
    missed_by_day: float = 0.0  # the chance that a check of one gauge is not made
    missed_by_night: float = 0.0
    gauge_error_gas: int = 0  # one standard deviation of a reading, as content
    change_when: Literal["residual", "will_not_last"] = "residual"
    left_open: float = 0.0  # the share of part-used cylinders whose valve is left open
    unusable: float = 0.0  # share of delivered cylinders that give nothing, found out on opening
    underfilled: Underfilled | None = None
    refused: float = 0.0  # share of empties that are condemned instead of filled
    losses_per_day: float = 0.0  # of the whole fleet
    valve: str | None = None
    regulator_sets: tuple[RegulatorSet, ...] = ()  # of all kinds, `regulators` together; one kind where empty
    splitters: Splitters | None = None

    @property
    def usable_sets(self) -> tuple[RegulatorSet, ...]:
        """Return the regulator sets that fit the cylinders' valve."""
        listed = self.regulator_sets or (RegulatorSet(self.regulators),)
        return tuple(each for each in listed if each.fits(self.valve))


@dataclass(frozen=True)
class Underfilled:
    """Delivered cylinders that hold less than a full one: which share of those that work, and how much of it."""

    share: float
    content: Law  # as a share of a full one


@dataclass(frozen=True)
class RoadClosure:
    """Days on which no delivery arrives.

    start and end are dates (end inclusive), or None for the whole run. Without chance_per_day the whole spell is
    closed; with it a closure starts on each of its days with that chance and lasts length_s.
    """

    start: dt.date | None
    end: dt.date | None
    chance_per_day: float | None = None
    length_s: Law | None = None


@dataclass(frozen=True)
class PartDelivery:
    """With this chance the supplier brings only a share (0-1, drawn) of an order; the rest is cancelled."""

    chance: float
    share: Law


@dataclass(frozen=True)
class Emergency:
    """An order outside the rule, placed when the stock is low; exactly one of the three triggers is set.

    below: full, part-used and in an emergency order; cover_s: how long the shelf lasts at the present flow;
    days_of_cover_s: how long all on hand lasts at the greater of the last 7 days' use and the season's mean need.
    """

    up_to: int  # level of full cylinders that it restores
    lead_time_s: Law
    below: int | None = None
    cover_s: int | None = None
    days_of_cover_s: int | None = None
    vehicle_capacity: int | None = None
    minimum_order: int = 1


@dataclass(frozen=True)
class Resupply:
    """The reorder rule, the supplier and the road. review_s is None where review is continuous."""

    review_s: int | None
    reorder_point: int
    order_up_to: int
    lead_time_s: Law
    vehicle_capacity: int | None = None
    minimum_order: int = 1
    overtaking: bool = False
    road_closures: tuple[RoadClosure, ...] = ()
    own_cylinders: bool = False  # empties leave with the order and come back filled; else exchanged at the door
    part_delivery: PartDelivery | None = None
    supplier_outages: tuple[RoadClosure, ...] = ()  # spells in which no order is taken up
    no_delivery: tuple[int, ...] = ()  # days of the week, Monday 0
    emergency: Emergency | None = None


@dataclass(frozen=True)
class Equipment:
    """Money for one kind of durable thing: price each, life in years, salvage at the end of life."""

    price: float = 0.0
    life_years: float = 10.0
    salvage: float = 0.0


@dataclass(frozen=True)
class Costs:
    """Prices in one currency; rates as named."""

    currency: str
    discount_rate: float = 0.03  # a share a year
    cylinder: Equipment = Equipment()
    cylinder_rent_per_year: float = 0.0  # each
    refill: float = 0.0  # each cylinder filled
    regulator: Equipment = Equipment()
    splitter: Equipment = Equipment()
    humidifier: Equipment = Equipment()
    concentrator: Equipment = Equipment()
    concentrator_service_per_year: float = 0.0  # each unit
    repair: float = 0.0  # each failure
    oxygen_monitor: Equipment = Equipment()  # of each unit
    analyser: Equipment = Equipment()
    trip: float = 0.0  # each delivery
    transport_per_cylinder: float = 0.0  # each cylinder delivered
    emergency_trip: float = 0.0  # on top, each delivery of an emergency order
    emergency_cylinder: float = 0.0  # on top, each cylinder of an emergency order
    electricity_per_kwh: float = 0.0
    fuel_per_litre: float = 0.0
    generator: Equipment = Equipment()
    generator_service_per_year: float = 0.0
    battery: Equipment = Equipment()
    solar: Equipment = Equipment()
    stabiliser: Equipment = Equipment()
    manifold: Equipment = Equipment()  # with its pipework and outlets
    manifold_service_per_year: float = 0.0
    consumables_per_patient: float = 0.0
    per_transfer: float = 0.0


@dataclass(frozen=True)
class DayHours:
    """The seconds of the day at which the day's staffing begins and ends; the rest is night."""

    from_s: int = 7 * 3600
    to_s: int = 19 * 3600

    def is_day(self, second_of_day: int) -> bool:
        """Return True by day."""
        return self.from_s <= second_of_day < self.to_s


@dataclass(frozen=True)
class Staff:
    """How many are there to connect and change by day and by night."""

    day: int
    night: int
    connect_s: int = 0  # to connect one who waits, or to move one back to a unit


UnitChoice = Literal["lowest number", "least loaded", "most loaded"]
ReducedFlow = Literal["above rated flow", "never", "any"]


@dataclass(frozen=True)
class Allocation:
    """Who gives way to whom, and which unit with room comes first."""

    preempt: bool = False  # a higher priority may take a source from the lowest when none is free
    reserve: int = 0  # the last cylinders on hand, kept for reserve_priority and higher ones (lower numbers)
    reserve_priority: int = 1
    first_unit: UnitChoice = "lowest number"
    reduced_flow: ReducedFlow = "above rated flow"  # whose prescribed flow may be given in part
    two_units: bool = False  # a flow above the rated flow may come from two units


@dataclass(frozen=True)
class Strategy:
    """A named change to the scenario: which sources, in which order. The other changes are already applied."""

    name: str
    sources: tuple[Source, ...]
    return_to_concentrator: bool = True


@dataclass(frozen=True)
class Transfer:
    """Patients unserved for after_s are sent on; without oxygen on board they are unserved on the way as well."""

    after_s: int
    travel_s: int
    oxygen_on_board: bool = True


@dataclass(frozen=True)
class Hospital:
    """A scenario as one strategy sees it: the strategy's changes applied, parts it does not use left out."""

    strategy: Strategy
    start: dt.date  # the first day of the horizon, at midnight; the warm-up runs before it
    horizon_s: int
    warm_up_s: int
    tolerated_gap_s: int
    response_time_s: int
    patients: tuple[PatientClass, ...]
    cylinders: Cylinders | None = None
    resupply: Resupply | None = None
    concentrators: Concentrators | None = None
    grid: Grid | None = None  # None: always up
    power: Power | None = None  # None: nothing but the grid
    costs: Costs | None = None
    staff: Staff | None = None  # None: always somebody free
    transfer: Transfer | None = None
    day_hours: DayHours = DayHours()
    allocation: Allocation = Allocation()
    wards: tuple[Ward, ...] = ()  # empty: one ward, everything is shared
    store: StoreAccess = AT_HAND
    moving_s: int | None = None  # None: units stay where they are
    bedside: Bedside = UNLIMITED

    def transfer_of(self, class_index: int) -> Transfer | None:
        """Return when the patients of a class are sent on, by its own rule or the hospital's; None for never."""
        own = self.patients[class_index].transfer
        if own is None:
            return self.transfer
        return None if own == "never" else own

    manifold: Manifold | None = None

    @property
    def end_s(self) -> int:
        """Return the last second of the run, counted from the start of the warm-up."""
        return self.warm_up_s + self.horizon_s


@dataclass(frozen=True)
class Options:
    """What might be bought: a strategy with every combination of some choices, each a Hospital of its own.

    keys are the rows of choices as the file has them, choices what each option takes of each row.
    """

    of: str
    keys: tuple[str, ...]
    choices: dict[str, tuple[str, ...]] = field(hash=False)  # by option
    hospitals: dict[str, Hospital] = field(hash=False)  # by option


@dataclass(frozen=True)
class Scenario(Shown):
    """A loaded scenario file: one Hospital for each strategy, in the order of the file.

    hash is the SHA-256 (first 16 hex digits) of the canonical content, so comments and layout do not count; ranges
    of uncertain numbers do. figures says whose the figures are; it is part of no result, nor of the hash.
    lines says on which line of the file each dotted path stands, for warnings. text is what was loaded, beside
    where the files it names lie: by these some of it can be changed (whatif, size); "" where it was changed
    already.
    """

    name: str
    about: str
    file: str
    hash: str
    hospitals: dict[str, Hospital] = field(hash=False)  # by strategy name
    options: Options | None = field(default=None, hash=False)
    lines: dict[str, int] = field(default_factory=dict, repr=False, compare=False)
    uncertain: tuple[Uncertain, ...] = ()  # numbers that have a range; hospitals hold the likely ones
    text: str = field(default="", repr=False, compare=False)
    beside: Any = field(default=None, repr=False, compare=False)  # a folder, a Given, or None
    figures: Figures = EXAMPLE

    @property
    def strategies(self) -> tuple[str, ...]:
        """Return the names of the strategies in the order of the file."""
        return tuple(self.hospitals)
