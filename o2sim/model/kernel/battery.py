"""The battery: it empties in a cut, is charged by mains or sun, and serves again; what the sun gives."""

from __future__ import annotations

import math

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import quantile_at, rounded
from o2sim.draws.philox import uniform
from o2sim.model.kernel.chain import RUNNING, STARTING, battery_full, generator_starts_at, generator_wanted, low_at
from o2sim.model.kernel.codes import LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.generator import run_generator
from o2sim.model.kernel.layout import NONE, note
from o2sim.model.kernel.supply import credit_chain, switch_supply
from o2sim.model.rules import BATTERY, SOLAR, SUN_STEP_S
from o2sim.scenario.types.hospital import DAY_S


def follow_battery(k: Record) -> None:
    """Schedule the moment at which the battery, at its present rates, is empty, charged, or fit to serve again."""
    chain, battery = k.chain, k.chain.battery
    if not battery.present:
        return
    chain.battery_event = call_off(k, chain.battery_event)
    if battery.drain > 0:
        seconds, step, low = battery.level // battery.drain, STEP.BATTERY_EMPTY, generator_starts_at(k)
        if low != NONE and -(-(battery.level - low) // battery.drain) <= seconds:
            seconds, step = -(-(battery.level - low) // battery.drain), STEP.BATTERY_LOW
        chain.battery_event = schedule(k, k.now + seconds, RANK.POWER_LOST, BATTERY, step, NONE, 0)
    elif battery.charge > 0:
        seconds = (battery_full(k) - battery.level) // battery.charge
        again = _reconnects_at(k)
        if battery.tripped and battery.level < again:
            seconds = min(seconds, -(-(again - battery.level) // battery.charge))
        due_s = k.now + seconds
        chain.battery_event = schedule(k, due_s, RANK.POWER_RESTORED, BATTERY, STEP.BATTERY_CHARGED, NONE, 0)


def _reconnects_at(k: Record) -> Whole:
    return low_at(k, k.rules.power_battery_reconnect_permille)


def battery_empty(k: Record) -> None:
    """The battery has no whole second left in it: the inverter cuts out."""
    credit_chain(k)
    note(k, LOG.BATTERY_EMPTY, -1, -1, -1)
    k.chain.seen = False
    k.chain.battery.tripped = True
    run_generator(k)
    switch_supply(k)


def battery_low(k: Record) -> None:
    """The battery is down to the charge at which the generator is called for."""
    note(k, LOG.BATTERY_LOW, -1, -1, -1)
    k.chain.seen = False
    run_generator(k)


def battery_charged(k: Record) -> None:
    """The battery is full, or in a cut has enough from the sun to serve again."""
    battery = k.chain.battery
    credit_chain(k)
    k.chain.seen = False
    if battery.tripped and battery.level >= _reconnects_at(k):
        battery.tripped = False
        switch_supply(k)
    generator = k.chain.generator
    called = generator.present and (generator.status == STARTING or generator.status == RUNNING)
    if called and not generator_wanted(k):  # it was called for a low battery, and stops
        run_generator(k)
        switch_supply(k)


def begin_solar(k: Record) -> None:
    """Schedule the first hour of the run."""
    if k.chain.battery.present and k.rules.has_power_solar:
        schedule(k, k.midnight_s % SUN_STEP_S, RANK.POWER_RESTORED, SOLAR, STEP.SUN_MOVES, NONE, 0)


def sun_moves(k: Record) -> None:
    """Take the power of this hour, which is that of its middle."""
    r, since_s = k.rules, k.now - k.midnight_s
    day, second = since_s // DAY_S, since_s % DAY_S
    u = uniform(k.seed, k.replication, STREAM.CLEARNESS, np.uint64(r.start + day), 0)
    clearness = min(1_000, rounded(1_000 * quantile_at(r.power_solar_clearness, u), 0))
    credit_chain(k)
    k.chain.solar_w = solar_power_w(r, second + SUN_STEP_S // 2, clearness)
    schedule(k, k.now + SUN_STEP_S, RANK.POWER_RESTORED, SOLAR, STEP.SUN_MOVES, NONE, 0)


def solar_power_w(r: Record, second: Whole, clearness_permille: Whole) -> Whole:
    """Return the power (whole W) at a second of the day: peak x clearness x a half sine of the daylight."""
    rise_s, set_s = r.power_solar_sunrise_s, r.power_solar_sunset_s
    if not rise_s < second < set_s:
        return 0
    height = math.sin(math.pi * (second - rise_s) / (set_s - rise_s))
    return np.int64(np.rint(r.power_solar_peak_w * clearness_permille * height / 1_000))


compile_file(globals())
