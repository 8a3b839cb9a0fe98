"""What a scenario says, as frozen dataclasses in the units used inside (s, mL/min, 1/60 mL), with its keys."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

from o2sim.scenario.keys.field import COMMON, CONVENTION, NEVER, NONE, Section
from o2sim.scenario.keys.field import DAY_S as DAY_S
from o2sim.scenario.keys.field import YEAR_DAYS as YEAR_DAYS
from o2sim.scenario.keys.record import NEEDED, Key, key, of_file, section_of, time_key, worked_out
from o2sim.scenario.types.bedside import UNLIMITED
from o2sim.scenario.types.bedside import Bedside as Bedside
from o2sim.scenario.types.bedside import RegulatorSet as RegulatorSet
from o2sim.scenario.types.bedside import Splitters as Splitters
from o2sim.scenario.types.costs import Costs as Costs
from o2sim.scenario.types.costs import Equipment as Equipment
from o2sim.scenario.types.cylinders import Cylinders as Cylinders
from o2sim.scenario.types.cylinders import Underfilled as Underfilled
from o2sim.scenario.types.law import Law as Law
from o2sim.scenario.types.manifold import Manifold as Manifold
from o2sim.scenario.types.patients import IF_UNSERVED
from o2sim.scenario.types.patients import FlowStep as FlowStep
from o2sim.scenario.types.patients import PatientClass as PatientClass
from o2sim.scenario.types.patients import Recorded as Recorded
from o2sim.scenario.types.patients import Season as Season
from o2sim.scenario.types.patients import Surge as Surge
from o2sim.scenario.types.patients import Transfer as Transfer
from o2sim.scenario.types.power import Battery as Battery
from o2sim.scenario.types.power import Concentrators as Concentrators
from o2sim.scenario.types.power import Generator as Generator
from o2sim.scenario.types.power import Grid as Grid
from o2sim.scenario.types.power import Power as Power
from o2sim.scenario.types.power import Refuel as Refuel
from o2sim.scenario.types.power import Solar as Solar
from o2sim.scenario.types.power import Voltage as Voltage
from o2sim.scenario.types.power import Window as Window
from o2sim.scenario.types.resupply import Emergency as Emergency
from o2sim.scenario.types.resupply import PartDelivery as PartDelivery
from o2sim.scenario.types.resupply import Resupply as Resupply
from o2sim.scenario.types.resupply import RoadClosure as RoadClosure
from o2sim.scenario.types.shortfall import AS_NOW
from o2sim.scenario.types.shortfall import Shortfall as Shortfall
from o2sim.scenario.types.staff import Allocation as Allocation
from o2sim.scenario.types.staff import DayHours as DayHours
from o2sim.scenario.types.staff import ReducedFlow as ReducedFlow
from o2sim.scenario.types.staff import Staff as Staff
from o2sim.scenario.types.staff import UnitChoice as UnitChoice
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.scenario.types.wards import AT_HAND, MOST_WARDS, Moving
from o2sim.scenario.types.wards import StoreAccess as StoreAccess
from o2sim.scenario.types.wards import Ward as Ward
from o2sim.shown import Shown

Source = Literal["concentrator", "cylinder", "manifold"]
Figures = Literal["example", "ours"]  # whose the figures of a scenario are
EXAMPLE: Figures = "example"
OURS: Figures = "ours"


@dataclass(frozen=True)
class General:
    """What all strategies share. The defaults in the code stand in for what a file says wrongly."""

    name: str | None = key("text", "what the facility is called", otherwise="the name of the file")
    about: str = key("text", "a line about it", "")
    figures: Figures = key(
        "word", "`ours` once every figure here is the hospital's own: sheets to hang up need it", EXAMPLE,
        CONVENTION, words=((EXAMPLE, EXAMPLE), (OURS, OURS)),
    )  # fmt: skip
    start: dt.date = key("date", "first day of the horizon", "2027-01-01", CONVENTION, value=dt.date(2027, 1, 1))
    horizon_s: int = time_key("how long is counted", "365 days", CONVENTION, "1 min", value=0)
    warm_up_s: int = time_key("run before the horizon, not counted", "0 days", CONVENTION)
    tolerated_gap_s: int = time_key(
        "a longer gap is an interruption; for counting, not a safe time", "10 min", CONVENTION, value=0
    )
    shortfall: Shortfall = key(
        "section", "when a patient counts as short of oxygen", of=Shortfall, value=AS_NOW,
        otherwise="less than half of the flow, until 5 min of service, by the supply clock",
    )  # fmt: skip
    altitude_m: float = key(
        "length", "above the sea; concentrators give less above 2000 m", "0 m", CONVENTION, most="6000 m"
    )


@dataclass(frozen=True)
class Strategy:
    """A named change to the scenario: which sources, in which order. The other changes are already applied."""

    name: str
    sources: tuple[Source, ...] = key("sources", "where oxygen comes from, the first choice first", required=True)
    return_to_concentrator: bool = True


@dataclass(frozen=True)
class Hospital:
    """A scenario as one strategy sees it: the strategy's changes applied, parts it does not use left out.

    Its keys are those that a strategy may change: laid over the scenario key by key, for that strategy alone.
    """

    strategy: Strategy
    start: dt.date  # the first day of the horizon, at midnight; the warm-up runs before it
    horizon_s: int
    warm_up_s: int
    tolerated_gap_s: int
    response_time_s: int = time_key(
        "staff connect another source after a loss of supply", "5 min", COMMON, value=NEEDED
    )
    if_unserved: ClassVar[Key] = of_file(
        key("word", "what a patient who cannot be served on arrival does", "wait", CONVENTION, words=IF_UNSERVED)
    )
    transfer: Transfer | None = key(
        "section", "patients who wait too long are sent on", of=Transfer, words=NONE,
        otherwise="nobody is sent on", kw_only=True,
    )  # fmt: skip
    return_to_concentrator: ClassVar[Key] = of_file(  # of the strategy
        key("true or false", "patients go back from cylinders when one has room", "true", CONVENTION)
    )
    patients: tuple[PatientClass, ...] = key(
        "named sections", "classes of patients", of=PatientClass, required=True, most="50"
    )
    cylinders: Cylinders | None = key(
        "section", "cylinders, all of one type", of=Cylinders, otherwise="no cylinders",
        used_by=("cylinder", "manifold"),
    )  # fmt: skip
    resupply: Resupply | None = key(
        "section", "the reorder rule and the road", of=Resupply, words=NONE, otherwise="no resupply",
        used_by=("cylinder", "manifold"),
    )  # fmt: skip
    manifold: Manifold | None = key(
        "section", "two banks of cylinders that feed piped outlets", of=Manifold, otherwise="no manifold",
        used_by=("manifold",),
    )  # fmt: skip
    concentrators: Concentrators | None = key(
        "section", "a number of like units", of=Concentrators, otherwise="no concentrators",
        used_by=("concentrator",),
    )  # fmt: skip
    grid: Grid | None = None  # None: always up
    power: Power | None = key(  # None: nothing but the grid
        "section", "the grid and what stands behind it", of=Power, otherwise="the grid is always up"
    )
    staff: Staff | None = key(
        "section", "hands to connect and change; others wait their turn", of=Staff,
        otherwise="somebody is always free",
    )  # fmt: skip
    day_hours: DayHours = key(
        "section", "what counts as day for staff and checks", of=DayHours, otherwise="07:00 to 19:00",
        value=DayHours(),
    )  # fmt: skip
    allocation: Allocation = key(
        "section", "who gives way to whom, and which unit comes first", of=Allocation, value=Allocation(),
        otherwise="no pre-emption, no reserve, the lowest-numbered unit, reduced flow above the rated flow",
    )  # fmt: skip
    wards: tuple[Ward, ...] = key(  # empty: one ward
        "named sections", "sources are shared within a ward only", of=Ward, most=MOST_WARDS, words=NONE,
        otherwise="one ward, everything is shared", value=(),
    )  # fmt: skip
    store: StoreAccess = key(
        "section", "the central store, from where cylinders are fetched", of=StoreAccess,
        otherwise="cylinders are at hand", value=AT_HAND,
    )  # fmt: skip
    moving_s: int | None = key(  # None: units stay where they are
        "section", "an idle unit is moved to another ward where somebody waits", name="moving", of=Moving,
        words=NEVER, otherwise="units stay on their ward", turned=lambda moving: moving.time_s,
    )  # fmt: skip
    shortfall: Shortfall = Shortfall()  # of the scenario
    bedside: Bedside = key(
        "section", "humidifiers and delivery sets, whatever the source", of=Bedside, otherwise="unlimited",
        value=UNLIMITED,
    )  # fmt: skip
    costs: Costs | None = key("section", "prices", of=Costs, otherwise="no costs are worked out")

    def transfer_of(self, class_index: int) -> Transfer | None:
        """Return when the patients of a class are sent on, by its own rule or the hospital's; None for never."""
        own = self.patients[class_index].transfer
        if own is None:
            return self.transfer
        return None if own == "never" else own

    @property
    def end_s(self) -> int:
        """Return the last second of the run, counted from the start of the warm-up."""
        return self.warm_up_s + self.horizon_s


CHANGEABLE = section_of(Hospital).fields
STRATEGY = Section((*section_of(Strategy).fields, *CHANGEABLE))
MOST_STRATEGIES = "20"


@dataclass(frozen=True)
class Options:
    """What might be bought: a strategy with every combination of some choices, each a Hospital of its own.

    keys are the rows of choices as the file has them, choices what each option takes of each row.
    """

    of: str = key("text", "the strategy that is varied", required=True)
    vary: ClassVar[Key] = of_file(
        key("choices", "what is varied, in every combination: a dotted key of a strategy with a list of values, "
            "or a name with named sets of changes", required=True)
    )  # fmt: skip
    keys: tuple[str, ...] = worked_out()
    choices: dict[str, tuple[str, ...]] = worked_out(hash=False)  # by option
    hospitals: dict[str, Hospital] = worked_out(hash=False)  # by option


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
    strategies_: ClassVar[Key] = of_file(
        key("named sections", "named changes to the scenario to compare", name="strategies", of=STRATEGY,
            most=MOST_STRATEGIES, otherwise="one for each source there is, and mixed where there are several")
    )  # fmt: skip
    options: Options | None = key(
        "section", "what might be bought, for `o2sim compare --options`", of=Options, otherwise="no options",
        unhashed=True,
    )  # fmt: skip
    lines: dict[str, int] = field(default_factory=dict, repr=False, compare=False)
    uncertain: tuple[Uncertain, ...] = ()  # numbers that have a range; hospitals hold the likely ones
    text: str = field(default="", repr=False, compare=False)
    beside: Any = field(default=None, repr=False, compare=False)  # a folder, a Given, or None
    figures: Figures = EXAMPLE

    @property
    def strategies(self) -> tuple[str, ...]:
        """Return the names of the strategies in the order of the file."""
        return tuple(self.hospitals)
