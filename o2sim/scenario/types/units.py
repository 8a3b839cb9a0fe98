"""What a scenario says of concentrators: like units, models of them, and which of them are there already."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import ClassVar, Literal

from o2sim.scenario.keys.field import ASSUMED, COMMON, Section
from o2sim.scenario.keys.record import (
    NEEDED,
    Key,
    key,
    lasting,
    of_file,
    permille,
    section_of,
    time_key,
    whole_key,
    worked_out,
)
from o2sim.scenario.keys.sources import WARMING_UP, WHO_2019
from o2sim.scenario.types.costing import years
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.owned import ALL_NEW, age_of_owned, count_owned, one_owned

HIGHEST_POWER = "1000 kW"
MOST_MODELS, MOST_ROWS = "20", "100"


@dataclass(frozen=True)
class UnitRules:
    """What holds for like units; failure is None where they never fail, and so on for what is switched off."""

    count: int = whole_key("units at the facility", None, 0, 1_000, required=True, summed=True)
    owned: ClassVar[Key] = count_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    rated_flow_ml_min: int = key("flow", "flow one unit can give", required=True, summed=True, least="0.01 L/min")
    outlets: int = whole_key("patients one unit can serve at once", "1", 1, 100, value=NEEDED)
    power_w: float = key(
        "power", "drawn while running, whatever the flow", mark=WHO_2019, most=HIGHEST_POWER, value=NEEDED,
        otherwise="70 W per L/min of rated flow",
    )  # fmt: skip
    failure_s: Law | None = lasting("time to failure", words="never", otherwise="never fails")
    failure_clock: Literal["running", "calendar"] = key(
        "word", "what wears a unit: running hours or calendar time", mark=COMMON, value="running",
        words=("running", "calendar"), otherwise="running",
    )  # fmt: skip
    repair_s: Law | None = lasting(
        "out of service; without a crew the wait for the technician included",
        otherwise="needed with failure, cut_damage or drift",
    )  # fmt: skip
    never_repaired: float = key("share", "share of failures after which a unit is written off", "0 %")
    cut_damage: float = key(
        "share", "chance that a unit fails as the grid comes back, without a stabiliser", "0 %"
    )
    crew: int | None = whole_key(
        "technicians: as many units can be under repair at once", None, 1, 1_000, words="unlimited",
        otherwise="unlimited, each unit its own",
    )  # fmt: skip
    travel_s: Law | None = lasting(
        "a technician's way to the facility, before a repair; needs a crew", least="0 s", otherwise="no time"
    )
    start_up_s: int = time_key("low concentration for so long after each start", "5 min", WARMING_UP, value=0)
    drift_s: Law | None = lasting(
        "running time in which a unit falls from 93 % to 82 % oxygen", words="never", otherwise="never drifts"
    )
    oxygen_monitor: bool = key(  # each unit has one; without drift it never alarms
        "true or false", "units with a monitor are taken out at the alarm level", "false"
    )
    monitors_owned: ClassVar[Key] = count_owned()
    monitors_owned_age: ClassVar[Key] = age_of_owned()
    alarm_level: ClassVar[Key] = of_file(
        key("share", "oxygen at which the monitor alarms", "82 %", WHO_2019, least="50 %", most="92.9 %")
    )
    alarm_permille: int | None = None  # None without an oxygen monitor
    analyser_check_s: int | None = time_key(
        "time between checks with an analyser, from midnight on; finds units below 82 %", least="1 min",
        words="never", otherwise="never",
    )  # fmt: skip
    analyser_owned: ClassVar[Key] = one_owned()
    analyser_owned_age: ClassVar[Key] = age_of_owned()
    service_every_s: int | None = time_key(
        "running time between preventive services, which undo drift", least="1 h", words="never", otherwise="never"
    )
    service_time_s: int = time_key("out of service for a preventive service", "4 h", ASSUMED, value=0)
    repaired_as: Literal["new", "old"] = key(
        "word", "a repaired unit fails by its law as a new one does, or its clock goes on where it stood",
        "new", words=("new", "old"),
    )  # fmt: skip
    start_surge_permille: int | None = key(
        "number", "power drawn as it starts, in times of its power; only where battery or generator have a peak",
        least="1", most="20", name="start_surge", turned=permille, otherwise="a start takes no more than running",
    )  # fmt: skip


@dataclass(frozen=True)
class ModelPrices:
    """What a model costs, in place of what `costs` say of concentrators."""

    price: float | None = key("money", "to buy one", otherwise="that of costs.concentrators")
    life_years: float | None = time_key(
        "years it lasts", least="1 day", name="life", turned=years, otherwise="that of costs.concentrators"
    )
    service_per_year: float | None = key(
        "money a year", "upkeep of each", name="service_price", otherwise="costs.concentrators.service"
    )
    repair_price: float | None = key("money", "each failure", otherwise="costs.concentrators.repair")


OF_ALL = ("count", "crew")  # one number for all models
OWNED_KEYS = ("owned", "owned_age", "monitors_owned", "monitors_owned_age", "analyser_owned", "analyser_owned_age")
RULES = tuple(each for each in section_of(UnitRules).fields if each.name not in (*OF_ALL, *OWNED_KEYS))
MODEL = Section((*RULES, *section_of(ModelPrices).fields))


@dataclass(frozen=True, kw_only=True)
class UnitRow:
    """Some units alike in model, age and place, as a file lists them."""

    model: str | None = key("text", "one of models", otherwise="there are no models")
    count: int = whole_key("how many", None, 1, 1_000, required=True)
    owned: bool = key("true or false", "they are there already: they are not bought", "false")
    age_s: int = time_key(
        "how long they have worked: since they were new, or of failure_clock running their hours", ALL_NEW,
        "convention of o2sim: as new",
    )  # fmt: skip
    working: int = whole_key("of these, how many work at the start; the others wait for a repair", like="count")
    ward: str | None = key("text", "the ward on which they stand", otherwise="by wards.*.concentrators")


@dataclass(frozen=True)
class UnitGroup:
    """Units of one row: numbers `first` to `first + count - 1`, of which the first `working` work at the start.

    rules: all that holds for them, count that of the row; model: "" without models. age_s: how long they have
    worked by the clock of their failures. ward: None where the wards say how many units stand on each.
    """

    model: str
    rules: Concentrators
    first: int
    count: int
    owned: bool = False
    age_s: int = 0
    working: int = 0
    ward: str | None = None

    @property
    def numbers(self) -> range:
        """Return the numbers of its units."""
        return range(self.first, self.first + self.count)


@dataclass(frozen=True)
class Concentrators(UnitRules):
    """All units. With models the fields are those of the first unit's, but for count and crew: ask `groups`."""

    instead: ClassVar = (("count", ("units",)), ("units", ("count", "owned", "owned_age")))
    models: ClassVar[Key] = of_file(
        key("named sections", "models by name: any key above but count, crew and what is owned, in place of what "
            "holds for all, and prices", of=MODEL, most=MOST_MODELS, otherwise="like units", needs="units",
            needs_hint="write how many of each, such as units: [{model: NAME, count: 3}]")
    )  # fmt: skip
    units: ClassVar[Key] = of_file(
        key("list of sections", "which units there are, in order of their numbers, in place of count", of=UnitRow,
            most=MOST_ROWS, otherwise="count, all new")
    )  # fmt: skip
    listed: tuple[UnitGroup, ...] = worked_out(default=())  # of `units`
    price: float | None = None  # of the model, as those that follow; None: by `costs`
    life_years: float | None = None
    service_per_year: float | None = None
    repair_price: float | None = None

    @cached_property
    def groups(self) -> tuple[UnitGroup, ...]:
        """Return the units by rows of like ones, in order of their numbers; all of them where none is listed."""
        return self.listed or (UnitGroup("", self, 0, self.count, working=self.count),)

    @cached_property
    def _group_of(self) -> tuple[UnitGroup, ...]:
        return tuple(group for group in self.groups for _ in group.numbers)

    def group_of(self, number: int) -> UnitGroup:
        """Return the group of a unit."""
        return self._group_of[number]

    def rules_of(self, number: int) -> Concentrators:
        """Return all that holds for a unit."""
        return self._group_of[number].rules

    @property
    def mixed(self) -> bool:
        """Return True where units differ in what they give, draw or suffer."""
        return len({replace(group.rules, count=0) for group in self.groups}) > 1

    @cached_property
    def items(self) -> tuple[int | str, ...]:
        """Return by what each unit is known to the draws: its number, or its place in what is owned of a model.

        So one more unit that is bought shifts nobody.
        """
        before: dict[tuple[str, bool], int] = {}
        found: list[int | str] = []
        for number, group in enumerate(self._group_of):
            kind = group.model, group.owned
            place = before[kind] = before.get(kind, -1) + 1
            whose = "owned" if group.owned else "bought"
            found.append(f"{group.model}, {whose}, {place}" if group.model else number)
        return tuple(found)
