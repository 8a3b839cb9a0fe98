"""The power chain of a facility: which source carries the load, how full battery and tank are. No events here.

Energy is counted in mW x s and fuel in 1/3600 microlitre, so that every rate is a whole number a second and the
balances hold exactly. The chain has two answers for the bank: how much power the units may draw (`limit_w`), and
for a moment as one starts (`peak_w`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any

from o2sim.draws import Series
from o2sim.model.bank import NO_POWER, UNLIMITED
from o2sim.scenario.types.hospital import Battery, Generator, Power

FUEL_PER_ML = 3_600_000
MW_S_PER_W_S = 1_000


class Supply(IntEnum):
    """What carries the units, the first choice first."""

    GRID = 0
    GENERATOR = 1
    BATTERY = 2  # with the sun, where there are panels
    NONE = 3


@dataclass(slots=True)
class GeneratorState:
    """off, starting, running or failed; the fuel in its tank (None: without end)."""

    rules: Generator
    failures: Series | None
    repairs: Series | None
    status: str = "off"
    permitted: bool = True  # by the time of day
    dry: bool = False  # ran out of fuel
    called: bool = False  # the battery was low in this loss of the grid and has not been full since
    fuel: int | None = None
    on_order: bool = False
    failed: int = 0  # failures so far, to start or while running
    breakdowns: int = 0  # failures while running
    remaining_s: int = 0  # running time left to the next of them
    rate: int = 0  # fuel a second at present
    attempts: int = 0  # starts tried since the grid was lost
    attempts_since_s: int = -1  # in the loss of the grid at this second
    running_since_s: int = 0
    start_event: Any = None
    failure_event: Any = None

    def rate_at(self, load_w: int) -> int:
        """Return the fuel a second takes at a load."""
        return self.rules.idle_ml_h * 1_000 + self.rules.per_kw_ml_h * load_w

    @property
    def rate_of_others(self) -> int:
        """Return the fuel a second that would be used without any unit: none if it carries nothing else."""
        return self.rate_at(self.rules.base_load_w) if self.rules.base_load_w else 0

    def room_w(self, load_w: int) -> int:
        """Return the power left beside a load of the units, for charging."""
        if self.rules.power_w is None:
            return UNLIMITED
        return max(0, self.rules.power_w - self.rules.base_load_w - load_w)


@dataclass(slots=True)
class BatteryState:
    """How full the battery is, and what flows in and out a second (mW)."""

    rules: Battery
    level: int
    tripped: bool = False  # emptied in this cut, and not charged to the reconnection level since
    charge: int = 0  # stored a second
    mains_w: int = 0  # of it, what the charger takes from grid or generator
    drain: int = 0

    @property
    def full(self) -> int:
        """Return the level of a full battery."""
        return self.rules.usable_ws * MW_S_PER_W_S

    @property
    def reconnects_at(self) -> int:
        """Return the level from which an emptied battery serves again."""
        return self.low_at(self.rules.reconnect_permille)

    def low_at(self, permille: int) -> int:
        """Return the level of a battery charged to so much."""
        return self.rules.usable_ws * permille

    @property
    def can_serve(self) -> bool:
        """Return True if it has something to give."""
        return self.level > 0 and not self.tripped


@dataclass(slots=True)
class PowerChain:
    """Grid, generator, battery and panels of one run, and the units they carry."""

    rules: Power
    generator: GeneratorState | None
    battery: BatteryState | None
    grid_up: bool = True
    voltage_good: bool = True
    supply: Supply = Supply.GRID
    solar_w: int = 0
    unusable_since_s: int = 0  # when the grid was last lost, which names the starts of the generator
    running: int = 0  # units
    load_w: int = 0  # that they draw
    since_s: int = 0  # credited up to here
    stored: int = 0  # totals of the whole run, for the balances
    drained: int = 0
    fuel_used: int = 0
    fuel_received: int = 0
    opening_level: int = 0
    opening_fuel: int = 0
    seen: tuple[object, ...] = field(default=())  # what the present rates were worked out from
    battery_event: Any = None
    fuel_event: Any = None

    @property
    def backed(self) -> bool:
        """Return True if something stands behind the grid."""
        return self.generator is not None or self.battery is not None

    @property
    def grid_usable(self) -> bool:
        """Return True if the grid is up with a voltage that the units can use."""
        return self.grid_up and (self.voltage_good or self.rules.stabiliser)

    def best_supply(self) -> Supply:
        """Return what carries the units now: grid, else generator, else battery."""
        if self.grid_usable:
            return Supply.GRID
        if self.generator is not None and self.generator.status == "running":
            return Supply.GENERATOR
        if self.battery is not None and self.battery.can_serve:
            return Supply.BATTERY
        return Supply.NONE

    def generator_wanted(self) -> bool:
        """Return True if the generator is to run: the grid is lost and, where that is the rule, the battery low.

        Once called for a low battery it runs until the grid is back or the battery is full.
        """
        generator, battery = self.generator, self.battery
        if generator is None:
            return False
        below = generator.rules.start_below_permille
        if self.grid_usable or below is None or battery is None:
            generator.called = not self.grid_usable
        elif battery.level <= battery.low_at(below) or not battery.can_serve:
            generator.called = True
        elif battery.level == battery.full:
            generator.called = False
        return generator.called and generator.permitted and not generator.dry

    @property
    def generator_starts_at(self) -> int | None:
        """Return the level of the battery at which the generator is called for, None if it is not now by that."""
        generator, battery = self.generator, self.battery
        if generator is None or battery is None or generator.called or self.grid_usable:
            return None
        below = generator.rules.start_below_permille
        return None if below is None else battery.low_at(below)

    def limit_w(self) -> int:
        """Return the power that the units may draw from the present supply."""
        if self.supply == Supply.NONE:
            return NO_POWER
        limit_w: int | None = None
        if self.supply == Supply.GENERATOR and self.generator is not None:
            limit_w = self.generator.room_w(0)
        elif self.supply == Supply.BATTERY and self.battery is not None:
            limit_w = self.battery.rules.inverter_w
        return UNLIMITED if limit_w is None else limit_w

    def peak_w(self) -> int | None:
        """Return the power that the units may draw for a moment; None where nothing but `limit_w` holds."""
        if self.supply == Supply.GENERATOR and self.generator is not None:
            return self.generator.rules.start_limit_w
        if self.supply == Supply.BATTERY and self.battery is not None:
            return self.battery.rules.start_limit_w
        return None

    def set_rates(self, running: int, load_w: int) -> None:
        """Work out what flows from now on with so many units running, which draw so much."""
        self.running, self.load_w = running, load_w
        if self.battery is not None:
            self._battery_rates(self.battery, load_w)
        if self.generator is not None:
            carried_w = 0
            if self.supply == Supply.GENERATOR:
                carried_w = load_w + (self.battery.mains_w if self.battery else 0)
            on = self.generator.status == "running"
            self.generator.rate = self.generator.rate_at(self.generator.rules.base_load_w + carried_w) if on else 0

    def _battery_rates(self, battery: BatteryState, load_w: int) -> None:
        """Work out what goes into the battery and out of it: the sun first, then grid or generator."""
        rules, needed = battery.rules, 0
        if self.supply == Supply.BATTERY:
            needed = -(-load_w * 1_000 * MW_S_PER_W_S // rules.inverter_permille)  # rounded up
        surplus = self.solar_w * MW_S_PER_W_S - needed
        battery.drain = max(0, -surplus)
        sun_w = min(rules.charge_w, max(0, surplus) // MW_S_PER_W_S)
        battery.mains_w = 0
        if self.supply == Supply.GRID:
            battery.mains_w = rules.charge_w - sun_w
        elif self.supply == Supply.GENERATOR and self.generator is not None:
            battery.mains_w = min(rules.charge_w - sun_w, self.generator.room_w(load_w))
        battery.charge = (sun_w + battery.mains_w) * rules.charge_permille
        room = battery.full - battery.level
        if battery.charge > room:  # the last second of charging takes what is still missing
            battery.charge = room
            battery.mains_w = min(battery.mains_w, -(-room // rules.charge_permille))

    def credit(self, now_s: int) -> int:
        """Bring battery and tank up to this second; return the seconds credited."""
        seconds, self.since_s = now_s - self.since_s, now_s
        if self.battery is not None:
            self.stored += self.battery.charge * seconds
            self.drained += self.battery.drain * seconds
            self.battery.level += (self.battery.charge - self.battery.drain) * seconds
        if self.generator is not None:
            self.fuel_used += self.generator.rate * seconds
            if self.generator.fuel is not None:
                self.generator.fuel -= self.generator.rate * seconds
        return seconds

    def begin_with(self, battery_permille: int, fuel_ml: int) -> None:
        """Begin with the charge and the fuel that were counted; -1: not known, as at any start."""
        if self.battery is not None and battery_permille >= 0:
            self.battery.level = self.opening_level = self.battery.low_at(battery_permille)
        if self.generator is not None and self.generator.fuel is not None and fuel_ml >= 0:
            self.generator.fuel = self.opening_fuel = fuel_ml * FUEL_PER_ML
            self.generator.dry = fuel_ml == 0

    def balances(self) -> bool:
        """Return True if energy in the battery and fuel in the tank are what came less what went."""
        fits = True
        if self.battery is not None:
            level = self.battery.level
            fits = self.opening_level + self.stored - self.drained == level and 0 <= level <= self.battery.full
        if self.generator is not None and self.generator.fuel is not None:
            fuel = self.generator.fuel
            fits = fits and self.opening_fuel + self.fuel_received - self.fuel_used == fuel >= 0
        return fits


def power_chain(rules: Power, failures: Series | None, repairs: Series | None) -> PowerChain:
    """Return the chain at the start of a run: grid up, battery and tank full, generator in order."""
    generator = battery = None
    if rules.generator is not None:
        tank_ml = rules.generator.tank_ml
        fuel = None if tank_ml is None else tank_ml * FUEL_PER_ML
        generator = GeneratorState(rules.generator, failures, repairs, fuel=fuel, dry=fuel == 0)
    if rules.battery is not None:
        battery = BatteryState(rules.battery, rules.battery.usable_ws * MW_S_PER_W_S)
    chain = PowerChain(rules, generator, battery)
    chain.opening_level = battery.level if battery else 0
    chain.opening_fuel = (generator.fuel or 0) if generator else 0
    return chain
