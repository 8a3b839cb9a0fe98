"""What a scenario says of concentrators and of the power chain, in whole W, s, mL and per mille."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from o2sim.scenario.types.law_type import Law

EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)  # Monday is 0


@dataclass(frozen=True)
class Concentrators:
    """A number of like units; failure is None where they never fail, and so on for what is switched off."""

    count: int
    rated_flow_ml_min: int
    outlets: int
    power_w: float
    failure_s: Law | None = None
    failure_clock: Literal["running", "calendar"] = "running"
    repair_s: Law | None = None
    never_repaired: float = 0.0  # share of failures
    cut_damage: float = 0.0  # chance of a failure as the grid comes back
    crew: int | None = None
    travel_s: Law | None = None
    start_up_s: int = 0
    drift_s: Law | None = None
    alarm_permille: int | None = None  # None without an oxygen monitor
    analyser_check_s: int | None = None
    service_every_s: int | None = None
    service_time_s: int = 0
    oxygen_monitor: bool = False  # each unit has one; without drift it never alarms


@dataclass(frozen=True)
class Grid:
    """Up-times and down-times in turn, starting with a fresh up-time; never_on where there is no grid.

    cuts are recorded spells [start, end) in s from midnight of the start date, apart and in order.
    """

    up_s: Law | None = None
    down_s: Law | None = None
    never_on: bool = False
    cuts: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class Window:
    """A time of each day (s from midnight), past midnight where to_s is not after from_s."""

    from_s: int
    to_s: int
    days: tuple[int, ...] = EVERY_DAY  # on which it begins

    @property
    def length_s(self) -> int:
        """Return how long it lasts."""
        return (self.to_s - self.from_s - 1) % 86_400 + 1


@dataclass(frozen=True)
class Voltage:
    """Times with a usable and an unusable voltage in turn, starting with a usable one."""

    good_s: Law
    bad_s: Law


@dataclass(frozen=True)
class Refuel:
    """Fuel is ordered at or below a level and fills the tank after a lead time."""

    reorder_ml: int
    lead_time_s: Law


@dataclass(frozen=True)
class Generator:
    """Starts after a delay when the grid is lost; None stands for no limit or never."""

    start_delay_s: int
    night_delay_s: int
    night: Window
    start_chance: float = 1.0
    running_failure_s: Law | None = None
    repair_s: Law | None = None
    hours: tuple[Window, ...] = ()  # empty: at any time
    power_w: int | None = None
    base_load_w: int = 0
    idle_ml_h: int = 0
    per_kw_ml_h: int = 0
    tank_ml: int | None = None
    refuel: Refuel | None = None
    started_by_staff: bool = False  # start_delay_s is then a job that waits for free hands
    start_below_permille: int | None = None  # started at this charge of the battery; None: when the grid fails


@dataclass(frozen=True)
class Battery:
    """A battery with its charger and inverter; usable_ws is what it gives from full to empty."""

    usable_ws: int
    charge_w: int
    charge_permille: int = 1_000
    inverter_w: int | None = None
    inverter_permille: int = 1_000
    reconnect_permille: int = 200
    gather: bool = False  # patients are moved to fewer units while it carries them


@dataclass(frozen=True)
class Solar:
    """Panels: peak_w x the day's clearness x a half sine from sunrise to sunset."""

    peak_w: int
    clearness: Law
    sunrise_s: int
    sunset_s: int


@dataclass(frozen=True)
class Power:
    """What stands beside and behind the grid."""

    load_shedding: tuple[Window, ...] = ()
    voltage: Voltage | None = None
    stabiliser: bool = False
    generator: Generator | None = None
    battery: Battery | None = None
    solar: Solar | None = None
    shed_first: Literal["number", "patients"] = "number"
