"""What a scenario says, as frozen dataclasses in the units used inside (s, mL/min, 1/60 mL), with its keys."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

from o2sim.scenario.keys.field import COMMON, DAY_S, YEAR_DAYS, Section
from o2sim.scenario.keys.record import (
    NEEDED,
    Key,
    key,
    of_file,
    part,
    part_or_none,
    section_of,
    time_key,
    worked_out,
)
from o2sim.scenario.types.battery import Battery, Fade
from o2sim.scenario.types.bedside import UNLIMITED, Bedside, RegulatorSet, Splitters
from o2sim.scenario.types.costs import Costs, Equipment
from o2sim.scenario.types.cylinder_size import CylinderSize, SizeUse, Underfilled
from o2sim.scenario.types.cylinders import Backups, Cylinders, Manifold, SendPartUsed, Timed
from o2sim.scenario.types.funds import Allotment, Fees, Funds, Supplier
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.listed import COUNTS, Stated
from o2sim.scenario.types.noticed import ByOximeter, ByRelatives, Noticed
from o2sim.scenario.types.now import Now
from o2sim.scenario.types.now_keys import NowStated
from o2sim.scenario.types.owned import Owned
from o2sim.scenario.types.patients import IF_UNSERVED, FlowStep, PatientClass, Recorded, Season, Surge, Transfer
from o2sim.scenario.types.power import (
    Generator,
    Grid,
    Power,
    Refuel,
    Solar,
    Voltage,
    Window,
)
from o2sim.scenario.types.resupply import Emergency, PartDelivery, Resupply, RoadClosure, SizeLevels
from o2sim.scenario.types.shocks import Shock, ShockPatients
from o2sim.scenario.types.shortfall import Shortfall
from o2sim.scenario.types.times import AS_BY_DAY, Night, Time, handling_time, high_s, takes_any
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.scenario.types.units import Concentrators, UnitGroup
from o2sim.scenario.types.wards import (
    AT_HAND,
    MOST_WARDS,
    Allocation,
    DayHours,
    Moving,
    Staff,
    StoreAccess,
    UnitChoice,
    Ward,
)
from o2sim.shown import Shown

__all__ = [  # all records, wherever they are declared
    "CHANGEABLE", "DAY_S", "EXAMPLE", "OURS", "STRATEGY", "YEAR_DAYS", "Allocation", "Allotment", "Backups",
    "Battery", "Bedside", "ByOximeter", "ByRelatives", "Concentrators", "Costs", "CylinderSize", "Cylinders",
    "DayHours", "Emergency", "Equipment", "Fade", "Fees", "Figures", "FlowStep", "Funds", "General",
    "Generator", "Grid", "Hospital", "Law", "Manifold", "Night", "Noticed", "Options", "Owned", "PartDelivery",
    "PatientClass", "Power", "Recorded", "Refuel", "RegulatorSet", "Resupply", "RoadClosure", "Scenario",
    "Season", "SendPartUsed", "Shock", "ShockPatients", "Shortfall", "SizeLevels", "SizeUse", "Solar", "Source",
    "Splitters", "Staff", "StoreAccess", "Strategy", "Supplier", "Surge", "Timed", "Transfer", "Underfilled",
    "UnitChoice", "UnitGroup", "Voltage",
    "Ward", "Window",
]  # fmt: skip
Source = Literal["concentrator", "cylinder", "manifold"]
Figures = Literal["example", "ours"]  # whose the figures of a scenario are
EXAMPLE: Figures = "example"
OURS: Figures = "ours"


@dataclass(frozen=True)
class General:
    """What all strategies share. The defaults in the code stand in for what a file says wrongly."""

    name: str | None = key("text", "what the facility is called", otherwise="the name of the file")
    about: str = key("text", "a line about it", "", "")
    figures: Figures = key(
        "word", "`ours` once every figure here is the hospital's own: sheets to hang up need it", EXAMPLE,
        words=(EXAMPLE, OURS),
    )  # fmt: skip
    start: dt.date = key("date", "first day of the horizon", "2027-01-01", value=dt.date(2027, 1, 1))
    horizon_s: int = time_key("how long is counted", "365 days", least="1 min", value=0)
    warm_up_s: int = time_key("run before the horizon, not counted", "0 days")
    tolerated_gap_s: int = time_key(
        "a longer gap is an interruption; for counting, not a safe time", "10 min", value=0
    )
    shortfall: Shortfall = part(Shortfall, "when a patient counts as short of oxygen", value=Shortfall())
    altitude_m: float = key("length", "above the sea; concentrators give less above 2000 m", "0 m", most="6000 m")
    reviewed_from: dt.date | None = None  # the file's start, where a run begins from a count instead
    units_there: int | None = None  # concentrators of the scenario; a strategy that has more adds new ones


@dataclass(frozen=True)
class Strategy:
    """A named change to the scenario: which sources, in which order. The other changes are already applied."""

    name: str
    sources: tuple[Source, ...] = key("sources", "where oxygen comes from, the first choice first", required=True)
    return_to_concentrator: bool = True

    def place(self, source: Source) -> int:
        """Return the place of a source in the order, one after all for a source that is none of the strategy's."""
        return self.sources.index(source) if source in self.sources else len(self.sources)


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
    response_time_s: Time = handling_time(
        "staff connect another source after a loss of supply", "5 min", COMMON, value=NEEDED
    )
    if_unserved: ClassVar[Key] = of_file(
        key("word", "what a patient who cannot be served on arrival does", "wait", words=IF_UNSERVED)
    )
    transfer: Transfer | None = part_or_none(
        Transfer, "patients who wait too long are sent on", "nobody is sent on", kw_only=True
    )
    return_to_concentrator: ClassVar[Key] = of_file(  # of the strategy
        key("true or false", "patients go back from cylinders when one has room", "true")
    )
    patients: tuple[PatientClass, ...] = key(
        "named sections", "classes of patients", of=PatientClass, required=True, most="50"
    )
    cylinders: Cylinders | None = part(
        Cylinders, "cylinders, of one type or of several sizes", "no cylinders", used_by=("cylinder", "manifold")
    )
    resupply: Resupply | None = part_or_none(
        Resupply, "the reorder rule and the road", "no resupply", used_by=("cylinder", "manifold")
    )
    manifold: Manifold | None = part(
        Manifold, "two banks of cylinders that feed piped outlets", "no manifold", used_by=("manifold",)
    )
    concentrators: Concentrators | None = part(
        Concentrators, "a number of like units, or several models", "no concentrators", used_by=("concentrator",)
    )
    grid: Grid | None = None  # None: always up
    power: Power | None = part(  # None: nothing but the grid
        Power, "the grid and what stands behind it", "the grid is always up"
    )
    staff: Staff | None = part(
        Staff, "hands to connect and change; others wait their turn", "somebody is always free"
    )
    day_hours: DayHours = part(
        DayHours, "what counts as day for staff and checks", "07:00 to 19:00", value=DayHours()
    )
    night: Night = part(
        Night, "times that differ by night, which is what day_hours leaves", "as by day", words="none",
        value=AS_BY_DAY,
    )  # fmt: skip
    allocation: Allocation = part(
        Allocation, "who gives way to whom, and which unit comes first",
        "no pre-emption, no reserve, the lowest-numbered unit, reduced flow above the rated flow",
        value=Allocation(),
    )  # fmt: skip
    wards: tuple[Ward, ...] = key(  # empty: one ward
        "named sections", "sources are shared within a ward only", of=Ward, most=MOST_WARDS, words="none",
        otherwise="one ward, everything is shared", value=(),
    )  # fmt: skip
    store: StoreAccess = part(
        StoreAccess, "the central store, from where cylinders are fetched", "cylinders are at hand", value=AT_HAND
    )
    moving_s: int | None = key(  # None: units stay where they are
        "section", "an idle unit is moved to another ward where somebody waits", name="moving", of=Moving,
        words="never", otherwise="units stay on their ward", turned=lambda moving: moving.time_s,
    )  # fmt: skip
    shortfall: Shortfall = Shortfall()  # of the scenario
    bedside: Bedside = part(Bedside, "humidifiers and delivery sets, whatever the source", value=UNLIMITED)
    noticed: Noticed | None = part_or_none(
        Noticed, "who notices between looks at the gauges that a cylinder has lost its flow",
        "it is found at the next look",
    )  # fmt: skip
    equipment: tuple[Stated, ...] = part(
        COUNTS, "lines of `o2sim equipment` that no other section counts: how many, and what is there already",
        "by the rule of each line, none owned", value=(),
    )  # fmt: skip
    costs: Costs | None = part(Costs, "prices", "no costs are worked out")
    owned: tuple[Owned, ...] = ()  # what is there already, by item of the costs; no part of any run
    now: Now | None = None  # what the run begins from; None: an empty hospital and its warm-up
    shocks: tuple[Shock, ...] = key(
        "named sections", "events, such as storms, that hit road, power, supplier and patients at once", of=Shock,
        most="20", otherwise="no shocks", value=(),
    )  # fmt: skip
    funds: Funds | None = part_or_none(
        Funds, "the purse that pays for gas, fuel and repairs, in the currency of `costs`",
        "there is always money",
    )  # fmt: skip

    def transfer_of(self, class_index: int) -> Transfer | None:
        """Return when the patients of a class are sent on, by its own rule or the hospital's; None for never."""
        own = self.patients[class_index].transfer
        if own is None:
            return self.transfer
        return None if own == "never" else own

    @property
    def hands_connect(self) -> bool:
        """Return True if staff connect those who wait: by day or by night it takes them some time."""
        return self.staff is not None and takes_any(self.staff.connect_s, self.night.connect_s)

    @property
    def takes_time(self) -> bool:
        """Return True if a source may have to be fetched, or connected by staff."""
        return self.hands_connect or bool(self.store.fetch_by_day_s or self.store.fetch_by_night_s)

    @property
    def longest_change_s(self) -> int:
        """Return the time allowed for a change, by day or night the longer; of a law one in twenty is longer."""
        by_day = high_s(self.cylinders.change_time_s) if self.cylinders is not None else 0
        return by_day if self.night.change_time_s is None else max(by_day, high_s(self.night.change_time_s))

    @property
    def has_backups(self) -> bool:
        """Return True where patients on concentrators may be given a back-up at the bed."""
        stock = self.cylinders
        return self.concentrators is not None and stock is not None and stock.backup is not None

    @property
    def fading_battery(self) -> Battery | None:
        """Return the battery behind the concentrators, None where there is none that fades."""
        battery = self.power.battery if self.power is not None and self.concentrators is not None else None
        return battery if battery is not None and battery.fade is not None and battery.usable_ws > 0 else None

    @property
    def unit_wards(self) -> tuple[int, ...]:
        """Return the number of the ward of each concentrator: that of its row, else ward by ward."""
        if self.concentrators is None or not self.wards:
            return (0,) * (self.concentrators.count if self.concentrators is not None else 0)
        names, groups = [ward.name for ward in self.wards], self.concentrators.groups
        if any(group.ward is not None for group in groups):
            return tuple(names.index(group.ward or "") for group in groups for _ in group.numbers)
        return tuple(number for number, ward in enumerate(self.wards) for _ in range(ward.concentrators))

    @property
    def end_s(self) -> int:
        """Return the last second of the run, counted from its beginning."""
        return self.counted_from_s + self.horizon_s

    @property
    def counted_from_s(self) -> int:
        """Return the second of the run from which all is counted: after the warm-up, or at once from a count.

        A run from a count begins within a day, so that the midnight before it lies `-warm_up_s` back.
        """
        return max(0, self.warm_up_s)


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
    now_: ClassVar[Key] = of_file(
        part(NowStated, "what was counted: the run begins from it, not from an empty hospital and its warm-up",
             "the run begins with an empty hospital", name="now")
    )  # fmt: skip
    strategies_: ClassVar[Key] = of_file(
        key("named sections", "named changes to the scenario to compare", name="strategies", of=STRATEGY,
            most=MOST_STRATEGIES, otherwise="one for each source there is, and mixed where there are several")
    )  # fmt: skip
    options: Options | None = part(
        Options, "what might be bought, for `o2sim compare --options`", "no options", unhashed=True
    )
    lines: dict[str, int] = field(default_factory=dict, repr=False, compare=False)
    uncertain: tuple[Uncertain, ...] = ()  # numbers that have a range; hospitals hold the likely ones
    text: str = field(default="", repr=False, compare=False)
    beside: Any = field(default=None, repr=False, compare=False)  # a folder, a Given, or None
    tree: Any = field(default=None, repr=False, compare=False)  # text.nodes.Mapping: what is stated, for warnings
    figures: Figures = EXAMPLE

    @property
    def strategies(self) -> tuple[str, ...]:
        """Return the names of the strategies in the order of the file."""
        return tuple(self.hospitals)
