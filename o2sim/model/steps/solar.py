"""Panels: what the sun gives, in steps of an hour."""

from __future__ import annotations

import math

from o2sim.model.rules import SOLAR, SUN_STEP_S, Rank
from o2sim.model.state import State
from o2sim.model.steps.supply import credit_chain
from o2sim.scenario.types.hospital import DAY_S, Solar


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
