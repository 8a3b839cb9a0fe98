"""The power chain without events: what carries the units, how full battery and tank are; see PowerChain."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.bank import NO_POWER, UNLIMITED
from o2sim.model.kernel.layout import NONE
from o2sim.model.power import FUEL_PER_ML, MW_S_PER_W_S, Supply

GRID, GENERATOR, BATTERY, NO_SUPPLY = (int(supply) for supply in Supply)
OFF, STARTING, RUNNING, FAILED = range(4)  # a generator's status


def backed(k: Record) -> Whole:
    """Return True if something stands behind the grid."""
    return k.chain.generator.present or k.chain.battery.present


def grid_usable(k: Record) -> Whole:
    """Return True if the grid is up with a voltage that the units can use."""
    return k.chain.grid_up and (k.chain.voltage_good or k.rules.power_stabiliser)


def can_serve(k: Record) -> Whole:
    """Return True if the battery has something to give."""
    return k.chain.battery.level > 0 and not k.chain.battery.tripped


def best_supply(k: Record) -> Whole:
    """Return what carries the units now: grid, else generator, else battery."""
    if grid_usable(k):
        return GRID
    if k.chain.generator.present and k.chain.generator.status == RUNNING:
        return GENERATOR
    if k.chain.battery.present and can_serve(k):
        return BATTERY
    return NO_SUPPLY


def generator_wanted(k: Record) -> Whole:
    """Return True if the generator is to run: the grid is lost and, where that is the rule, the battery low.

    Once called for a low battery it runs until the grid is back or the battery is full.
    """
    generator, battery, r = k.chain.generator, k.chain.battery, k.rules
    if not generator.present:
        return False
    below = r.power_generator_start_below_permille
    if grid_usable(k) or below == NONE or not battery.present:
        generator.called = not grid_usable(k)
    elif battery.level <= low_at(r, below) or not can_serve(k):
        generator.called = True
    elif battery.level == battery_full(r):
        generator.called = False
    return generator.called and generator.permitted and not generator.dry


def begin_with(k: Record, battery_permille: Whole, fuel_ml: Whole) -> None:
    """Begin with the charge and the fuel that were counted; -1: not known, as at any start."""
    c = k.chain
    if c.battery.present and battery_permille >= 0:
        c.battery.level = c.opening_level = low_at(k.rules, battery_permille)
    if c.generator.present and c.generator.fuel != NONE and fuel_ml >= 0:
        c.generator.fuel = c.opening_fuel = fuel_ml * FUEL_PER_ML
        c.generator.dry = fuel_ml == 0


def low_at(r: Record, permille: Whole) -> Whole:
    """Return the level of a battery charged to so much."""
    return r.power_battery_usable_ws * permille


def generator_starts_at(k: Record) -> Whole:
    """Return the level of the battery at which the generator is called for, NONE if it is not now by that."""
    generator, r = k.chain.generator, k.rules
    if not generator.present or not k.chain.battery.present or generator.called or grid_usable(k):
        return NONE
    below = r.power_generator_start_below_permille
    return NONE if below == NONE else low_at(r, below)


def room_w(k: Record, load_w: Whole) -> Whole:
    """Return the generator's power left beside a load of the units, for charging."""
    r = k.rules
    if r.power_generator_power_w == NONE:
        return UNLIMITED
    return max(0, r.power_generator_power_w - r.power_generator_base_load_w - load_w)


def rate_at(r: Record, load_w: Whole) -> Whole:
    """Return the fuel a second takes at a load."""
    return r.power_generator_idle_ml_h * 1_000 + r.power_generator_per_kw_ml_h * load_w


def limit_w(k: Record) -> Whole:
    """Return the power that the units may draw from the present supply."""
    chain, found = k.chain, NONE
    if chain.supply == NO_SUPPLY:
        return NO_POWER
    if chain.supply == GENERATOR and chain.generator.present:
        found = room_w(k, 0)
    elif chain.supply == BATTERY and chain.battery.present:
        found = k.rules.power_battery_inverter_w
    return UNLIMITED if found == NONE else found


def peak_w(k: Record) -> Whole:
    """Return the power that the units may draw for a moment; NONE where nothing but `limit_w` holds."""
    chain, r = k.chain, k.rules
    if chain.supply == GENERATOR and chain.generator.present and r.power_generator_peak_w != NONE:
        return max(0, r.power_generator_peak_w - r.power_generator_base_load_w)
    if chain.supply == BATTERY and chain.battery.present:
        if r.power_battery_peak_w == NONE and r.power_battery_inverter_w != NONE:
            return 2 * r.power_battery_inverter_w
        return r.power_battery_peak_w
    return NONE


def set_rates(k: Record, running: Whole, load_w: Whole) -> None:
    """Work out what flows from now on with so many units running, which draw so much."""
    chain, r = k.chain, k.rules
    chain.running, chain.load_w = running, load_w
    if chain.battery.present:
        _battery_rates(k, load_w)
    if chain.generator.present:
        carried_w = 0
        if chain.supply == GENERATOR:
            carried_w = load_w + (chain.battery.mains_w if chain.battery.present else 0)
        on = chain.generator.status == RUNNING
        chain.generator.rate = rate_at(r, r.power_generator_base_load_w + carried_w) if on else 0


def battery_full(r: Record) -> Whole:
    """Return the level of a full battery."""
    return r.power_battery_usable_ws * MW_S_PER_W_S


def _battery_rates(k: Record, load_w: Whole) -> None:
    """Work out what goes into the battery and out of it: the sun first, then grid or generator."""
    chain, battery, r, needed = k.chain, k.chain.battery, k.rules, 0
    if chain.supply == BATTERY:
        needed = -(-load_w * 1_000 * MW_S_PER_W_S // r.power_battery_inverter_permille)  # rounded up
    surplus = chain.solar_w * MW_S_PER_W_S - needed
    battery.drain = max(0, -surplus)
    sun_w = min(r.power_battery_charge_w, max(0, surplus) // MW_S_PER_W_S)
    battery.mains_w = 0
    if chain.supply == GRID:
        battery.mains_w = r.power_battery_charge_w - sun_w
    elif chain.supply == GENERATOR and chain.generator.present:
        battery.mains_w = min(r.power_battery_charge_w - sun_w, room_w(k, load_w))
    battery.charge = (sun_w + battery.mains_w) * r.power_battery_charge_permille
    room = battery_full(r) - battery.level
    if battery.charge > room:  # the last second of charging takes what is still missing
        battery.charge = room
        battery.mains_w = min(battery.mains_w, -(-room // r.power_battery_charge_permille))


def chain_balances(k: Record) -> Whole:
    """Return True if energy in the battery and fuel in the tank are what came less what went."""
    chain, fits = k.chain, True
    if chain.battery.present:
        level = chain.battery.level
        fits = chain.opening_level + chain.stored - chain.drained == level and 0 <= level <= battery_full(k.rules)
    if chain.generator.present and chain.generator.fuel != NONE:
        left = chain.opening_fuel + chain.fuel_received - chain.fuel_used
        fits = fits and left == chain.generator.fuel and left >= 0
    return fits


compile_file(globals())
