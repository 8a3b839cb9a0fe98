"""What a scenario says of the power chain, in whole W, s, mL and per mille, with its keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from o2sim.scenario.keys.field import ASSUMED, COMMON, CONVENTION
from o2sim.scenario.keys.record import (
    NEEDED,
    Key,
    key,
    lasting,
    of_file,
    part,
    part_or_none,
    permille,
    several,
    time_key,
)
from o2sim.scenario.keys.sources import FUEL_CHARTS, RUNS_ON, STARTS
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.owned import age_of_owned, one_owned
from o2sim.scenario.types.period import REPLAY, USES, Use, kept
from o2sim.scenario.types.tables import DIALECT_KEYS, Dialect
from o2sim.scenario.types.units import HIGHEST_POWER

OF_RECORD = ("from", "to", "use", "scale")  # keys of recorded cuts beside their file
EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)  # Monday is 0


@dataclass(frozen=True)
class Grid:
    """Up-times and down-times in turn, starting with a fresh up-time; never_on where there is no grid.

    cuts are recorded spells [start, end) in s from midnight of the start date, apart and in order, as scaled. The
    record was kept for `days` days, first_day of the horizon (from 0, may be negative) the first of them; stated:
    as the file says, else from the first row to the last.
    """

    instead: ClassVar = (
        ("file", ("up", "down", "from", "to", *DIALECT_KEYS)),
        ("up", ("file", *OF_RECORD, *DIALECT_KEYS)),
        ("down", ("file", *OF_RECORD, *DIALECT_KEYS)),
    )
    up_s: Law | None = lasting("time with power", otherwise="file instead")
    down_s: Law | None = lasting("length of a power cut", otherwise="file instead")
    file: ClassVar[Key] = of_file(
        key(
            "text",
            "recorded cuts: a CSV file with columns start,end or start,hours; an empty end is a cut that "
            "lasted to the end of the record",
            otherwise="up and down",
        )
    )
    kept_from: ClassVar[Key] = of_file(kept("from", "first day on which cuts were recorded"))
    kept_to: ClassVar[Key] = of_file(kept("to", "last day on which they were, days without a cut included"))
    use: Use = key(
        "word", "cuts as they were, those of whole recorded days drawn at random, or the days outside the period "
        "as those of the same date in the latest recorded year", REPLAY, words=USES,
    )  # fmt: skip
    scale: float = key(
        "number",
        "every recorded cut lasts so many times as long, from when it began",
        "1",
        least="0.01",
        most="100",
    )
    written: ClassVar = Dialect
    never_on: bool = False
    cuts: tuple[tuple[int, int], ...] = ()
    first_day: int = 0
    days: int = 0
    stated: bool = True


@dataclass(frozen=True)
class Window:
    """A time of each day (s from midnight), past midnight where to_s is not after from_s."""

    from_s: int = key("clock", "when it begins", required=True)
    to_s: int = key("clock", "when it ends; past midnight where it is not after `from`", required=True)
    days: tuple[int, ...] = key(  # on which it begins
        "weekdays", "days on which it begins", otherwise="every day", value=EVERY_DAY
    )

    @property
    def length_s(self) -> int:
        """Return how long it lasts."""
        return (self.to_s - self.from_s - 1) % 86_400 + 1


DAILY = ("from", "to")  # of a window that is the same on all days


@dataclass(frozen=True)
class Voltage:
    """Times with a usable and an unusable voltage in turn, starting with a usable one."""

    good_s: Law = lasting("time with a usable voltage", required=True)
    bad_s: Law = lasting("time with a voltage no unit can use", required=True)


@dataclass(frozen=True)
class Refuel:
    """Fuel is ordered at or below a level and fills the tank after a lead time."""

    reorder_ml: int = key(
        "volume", "fuel is ordered when the tank holds this or less", name="reorder_at", required=True,
        most="1000000 L", turned=round,
    )  # fmt: skip
    lead_time_s: Law = lasting("from order to a full tank", required=True)


@dataclass(frozen=True)
class Derating:
    """The power that a generator loses with altitude."""

    lost: float = key("share", "share of the stated power lost for each 1,000 m", required=True, most="50 %")
    above_m: float = key("length", "above this height", "300 m", COMMON, most="6000 m")


@dataclass(frozen=True)
class Generator:
    """Starts after a delay when the grid is lost; None stands for no limit or never."""

    started_by_staff: bool = key(  # start_delay_s is then a job that waits for free hands
        "word", "who starts it: for staff it is a job, before all others", "operator", name="started_by",
        words={"operator": False, "staff": True}, kw_only=True,
    )  # fmt: skip
    start_when: ClassVar[Key] = of_file(
        key("word", "started when the grid fails, or later, when the battery is low", mark=CONVENTION,
            words={"grid fails": False, "battery low": True}, otherwise="grid fails")
    )  # fmt: skip
    start_below_permille: int | None = key(  # started at this charge of the battery; None: when the grid fails
        "share", "the battery is low at or below this charge; needs start_when: battery low", mark=ASSUMED,
        name="start_below", otherwise="30 % where it starts when the battery is low", needs="start_when",
        kw_only=True,
    )  # fmt: skip
    start_delay_s: int = time_key(
        "from the loss of the grid, or a low battery, to power; or the staff's job", "5 min", ASSUMED, value=NEEDED
    )
    night_delay_s: int = time_key("the same at night, for an operator", like="start_delay", value=NEEDED)
    night: Window = part(Window, "when night_delay holds", "from 20:00 to 06:00", only=DAILY, value=NEEDED)
    start_chance: float = key(
        "share", "chance that it starts; else it stays failed until repaired", "100 %", f"state your own; {STARTS}"
    )
    owned: ClassVar[Key] = one_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    running_failure_s: Law | None = lasting(
        "running time to a failure", words="never", mark=f"state your own; {RUNS_ON}", otherwise="never fails"
    )
    repair_s: Law | None = lasting("failed for so long", "2 days", value=None)
    hours: tuple[Window, ...] = several(  # empty: at any time
        Window, "times of day when it may run", "at any time", only=DAILY
    )
    power_w: int | None = key(
        "power", "the most it gives", least="1 W", most=HIGHEST_POWER, words="no limit", otherwise="no limit"
    )
    derating: ClassVar[Key] = of_file(
        key("section", "the power that is lost with altitude; needs a power", of=Derating, words="none",
            otherwise="none: the stated power holds at any altitude", needs="power")
    )  # fmt: skip
    base_load_w: int = key("power", "power of all else that it feeds", "0 W", most=HIGHEST_POWER, turned=round)
    fuel: ClassVar[Key] = of_file(key("section", "fuel used"))
    idle_ml_h: int = key(
        "fuel rate", "used without load", mark=FUEL_CHARTS, most="1000 L/h", within="fuel", value=0,
        otherwise="0.046 L/h for each kW of power; 0.95 L/h, that of a set of 20 kW, where no power is stated",
    )  # fmt: skip
    per_kw_ml_h: int = key(
        "fuel rate", "more for each kW of load", "0.26 L/h", FUEL_CHARTS, most="10 L/h", name="per_kW",
        within="fuel", value=0,
    )  # fmt: skip
    tank_ml: int | None = key(
        "volume", "fuel it holds, full at first", least="0.1 L", most="1000000 L", words="no limit", turned=round,
        otherwise="fuel without end",
    )  # fmt: skip
    refuel: Refuel | None = part(
        Refuel, "how the tank is filled again", "the tank is never filled again", needs="tank"
    )
    peak_w: int | None = key(
        "power", "the most it gives for a moment, as a unit with a start_surge starts", name="peak", least="1 W",
        most=HIGHEST_POWER, turned=round, otherwise="a start is limited by its power alone", kw_only=True,
    )  # fmt: skip

    @property
    def start_limit_w(self) -> int | None:
        """Return what it gives for a moment beside its base load; None for no more than its power."""
        return None if self.peak_w is None else max(0, self.peak_w - self.base_load_w)


def _watt_seconds(watt_hours: float) -> int:
    return round(watt_hours * 3_600)


@dataclass(frozen=True)
class Battery:
    """A battery with its charger and inverter; usable_ws is what it gives from full to empty."""

    usable_ws: int = key(
        "energy", "what it gives from full to empty, full at first", name="usable", required=True, most="100 MWh",
        turned=_watt_seconds,
    )  # fmt: skip
    owned: ClassVar[Key] = one_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    charge_w: int = key("power", "the most it takes while charged", required=True, most="10 MW", turned=round)
    charge_permille: int = key(
        "share", "stored of what it takes", "85 %", "lead-acid, common practice", name="charge_efficiency",
        least="1 %", turned=permille, value=1_000,
    )  # fmt: skip
    inverter_w: int | None = key(
        "power", "the most the inverter gives", least="1 W", most="10 MW", words="no limit", turned=round,
        otherwise="no limit",
    )  # fmt: skip
    inverter_permille: int = key(
        "share", "given of what the inverter takes", "90 %", COMMON, name="inverter_efficiency", least="1 %",
        turned=permille, value=1_000,
    )  # fmt: skip
    reconnect_permille: int = key(
        "share", "once empty in a cut it serves again from this charge on", "20 %", ASSUMED, name="reconnect",
        least="1 %", turned=permille,
    )  # fmt: skip
    gather: bool = key(
        "true or false", "while it carries the units, patients are moved to as few as will do", "false"
    )
    peak_w: int | None = key(
        "power", "the most the inverter gives for a moment, as a unit with a start_surge starts", name="peak",
        least="1 W", most="10 MW", turned=round, otherwise="twice the inverter (assumption of o2sim)",
    )  # fmt: skip

    @property
    def start_limit_w(self) -> int | None:
        """Return what it gives for a moment, twice the inverter unless stated; None for no limit."""
        if self.peak_w is not None or self.inverter_w is None:
            return self.peak_w
        return 2 * self.inverter_w


@dataclass(frozen=True)
class Solar:
    """Panels: peak_w x the day's clearness x a half sine from sunrise to sunset."""

    peak_w: int = key("power", "panels at full sun", required=True, most="10 MW", turned=round)
    owned: ClassVar[Key] = one_owned()
    owned_age: ClassVar[Key] = age_of_owned()
    clearness: Law = key(
        "law of share", "what a day gives of a full day's sun, drawn for each day", "60 %", ASSUMED, value=NEEDED
    )
    sunrise_s: int = key("clock", "a half sine from here", "06:00", ASSUMED, value=NEEDED)
    sunset_s: int = key("clock", "to here", "18:00", ASSUMED, value=NEEDED)


@dataclass(frozen=True)
class Power:
    """What stands beside and behind the grid."""

    grid: ClassVar[Key] = of_file(
        key("section", "times with and without power, in turn, or recorded", of=Grid,
            words=("always", "none"), otherwise="always")
    )  # fmt: skip
    load_shedding: tuple[Window, ...] = several(
        Window, "cuts by time of day, beside those of the grid", "no load shedding"
    )
    voltage: Voltage | None = part_or_none(
        Voltage, "the grid is on, but its voltage unusable by turns", "always usable"
    )
    stabiliser: bool = key(
        "true or false", "units stand behind a voltage stabiliser: bad voltage and surges are kept from them",
        "false",
    )  # fmt: skip
    stabiliser_owned: ClassVar[Key] = one_owned()
    stabiliser_owned_age: ClassVar[Key] = age_of_owned()
    generator: Generator | None = part_or_none(Generator, "starts when the grid is lost", "no generator")
    battery: Battery | None = part_or_none(
        Battery, "battery with inverter: carries the units without a break", "no battery"
    )
    solar: Solar | None = part_or_none(
        Solar, "panels that charge the battery and feed its inverter", "no panels", needs="battery",
        needs_hint="panels work through the battery's inverter; such as battery: {usable: 3 kWh, charge: 1 kW}",
    )  # fmt: skip
    shed_first: Literal["number", "patients"] = key(
        "word", "which unit stops when the power cannot carry all", "highest number",
        words={"highest number": "number", "fewest patients": "patients"},
    )  # fmt: skip
