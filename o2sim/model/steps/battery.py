"""The battery: it empties in a cut, is charged by mains or sun, and serves again; what the sun gives."""

from __future__ import annotations

import math

from o2sim.model.rules import BATTERY, SOLAR, SUN_STEP_S, Rank
from o2sim.model.state import State
from o2sim.model.steps.generator import run_generator
from o2sim.model.steps.supply import credit_chain, switch_supply
from o2sim.scenario.types.hospital import DAY_S, Solar


def follow_battery(state: State) -> None:
    """Schedule the moment at which the battery, at its present rates, is empty, charged, or fit to serve again."""
    chain, battery = state.chain, state.chain.battery
    if battery is None:
        return
    if chain.battery_event is not None:
        chain.battery_event.cancel()
        chain.battery_event = None
    if battery.drain > 0:
        seconds, step = battery.level // battery.drain, battery_empty
        low = chain.generator_starts_at
        if low is not None and -(-(battery.level - low) // battery.drain) <= seconds:
            seconds, step = -(-(battery.level - low) // battery.drain), battery_low
        chain.battery_event = state.clock.at(state.now + seconds, Rank.POWER_LOST, BATTERY, step)
    elif battery.charge > 0:
        seconds = (battery.full - battery.level) // battery.charge
        if battery.tripped and battery.level < battery.reconnects_at:
            seconds = min(seconds, -(-(battery.reconnects_at - battery.level) // battery.charge))
        due_s = state.now + seconds
        chain.battery_event = state.clock.at(due_s, Rank.POWER_RESTORED, BATTERY, battery_charged)


def battery_empty(state: State) -> None:
    """The battery has no whole second left in it: the inverter cuts out."""
    assert state.chain.battery is not None
    credit_chain(state)
    state.note("battery empty")
    state.chain.seen = ()
    state.chain.battery.tripped = True
    run_generator(state)
    switch_supply(state)


def battery_low(state: State) -> None:
    """The battery is down to the charge at which the generator is called for."""
    state.note("battery low")
    state.chain.seen = ()
    run_generator(state)


def battery_charged(state: State) -> None:
    """The battery is full, or in a cut has enough from the sun to serve again."""
    battery = state.chain.battery
    assert battery is not None
    credit_chain(state)
    state.chain.seen = ()
    if battery.tripped and battery.level >= battery.reconnects_at:
        battery.tripped = False
        switch_supply(state)
    generator = state.chain.generator
    called = generator is not None and generator.status in ("starting", "running")
    if called and not state.chain.generator_wanted():  # it was called for a low battery, and stops
        run_generator(state)
        switch_supply(state)


def begin_solar(state: State) -> None:
    """Schedule the first hour of the run."""
    if state.chain.battery is not None and state.chain.rules.solar is not None:
        state.clock.at((state.midnight_s % SUN_STEP_S), Rank.POWER_RESTORED, SOLAR, sun_moves)


def sun_moves(state: State) -> None:
    """Take the power of this hour, which is that of its middle."""
    solar = state.chain.rules.solar
    assert solar is not None
    since_s = state.now - state.midnight_s
    day, second = divmod(since_s, DAY_S)
    clearness = state.draws.clearness_permille(solar.clearness, state.rules.start.toordinal() + day)
    credit_chain(state)
    state.chain.solar_w = solar_power_w(solar, second + SUN_STEP_S // 2, clearness)
    state.clock.at(state.now + SUN_STEP_S, Rank.POWER_RESTORED, SOLAR, sun_moves)


def solar_power_w(solar: Solar, second: int, clearness_permille: int) -> int:
    """Return the power (whole W) at a second of the day: peak x clearness x a half sine of the daylight."""
    if not solar.sunrise_s < second < solar.sunset_s:
        return 0
    height = math.sin(math.pi * (second - solar.sunrise_s) / (solar.sunset_s - solar.sunrise_s))
    return round(solar.peak_w * clearness_permille * height / 1_000)
