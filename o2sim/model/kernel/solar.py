"""Panels: what the sun gives, in steps of an hour."""

from __future__ import annotations

import math

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.laws import quantile_at, rounded
from o2sim.draws.philox import uniform
from o2sim.model.kernel import codes
from o2sim.model.kernel.codes import RANK, STREAM
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.layout import NONE
from o2sim.model.kernel.supply import credit_chain
from o2sim.model.rules import SOLAR, SUN_STEP_S
from o2sim.scenario.types.hospital import DAY_S


def begin_solar(k: Record) -> None:
    """Schedule the first hour of the run."""
    if k.chain.battery.present and k.rules.has_power_solar:
        schedule(k.calendar, k.midnight_s % SUN_STEP_S, RANK.POWER_RESTORED, SOLAR, codes.SUN_MOVES, NONE, 0)


def sun_moves(k: Record) -> None:
    """Take the power of this hour, which is that of its middle."""
    r, since_s = k.rules, k.now - k.midnight_s
    day, second = since_s // DAY_S, since_s % DAY_S
    u = uniform(k.seed, k.replication, STREAM.CLEARNESS, np.uint64(r.start + day), 0)
    clearness = min(1_000, rounded(1_000 * quantile_at(r.power_solar_clearness, u), 0))
    credit_chain(k)
    k.chain.solar_w = solar_power_w(r, second + SUN_STEP_S // 2, clearness)
    schedule(k.calendar, k.now + SUN_STEP_S, RANK.POWER_RESTORED, SOLAR, codes.SUN_MOVES, NONE, 0)


def solar_power_w(r: Record, second: Whole, clearness_permille: Whole) -> Whole:
    """Return the power (whole W) at a second of the day: peak x clearness x a half sine of the daylight."""
    rise_s, set_s = r.power_solar_sunrise_s, r.power_solar_sunset_s
    if not rise_s < second < set_s:
        return 0
    height = math.sin(math.pi * (second - rise_s) / (set_s - rise_s))
    return np.int64(np.rint(r.power_solar_peak_w * clearness_permille * height / 1_000))


jit.compile_file(globals())
