"""Looking at the gauge: when somebody does, whether the look is missed, and what the gauge shows."""

from __future__ import annotations

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.philox import uniform
from o2sim.model.kernel.codes import STREAM
from o2sim.model.kernel.fetching import is_day
from o2sim.model.kernel.layout import NONE, number_at
from o2sim.model.kernel.packing import code
from o2sim.model.rules import MOST_MISSED
from o2sim.scenario.types.hospital import DAY_S, Cylinders

WILL_NOT_LAST = code(Cylinders, "change_when", "will_not_last")


def is_watched(r: Record) -> Whole:
    """Return True if somebody always sees the gauge."""
    return r.cylinders_gauge_check_s == 0 and r.cylinders_check_times_s_count == 0


def next_look_s(k: Record, now_s: Whole) -> Whole:
    """Return the first gauge check at or after now: at clock times, or at multiples of the interval."""
    r, times = k.rules, k.rules.cylinders_check_times_s
    if r.cylinders_check_times_s_count > 0:
        since_s = now_s - k.midnight_s
        midnight_s, second = k.midnight_s + since_s // DAY_S * DAY_S, since_s % DAY_S
        for place in range(r.cylinders_check_times_s_count):
            if number_at(times, place).value >= second:
                return midnight_s + number_at(times, place).value
        return midnight_s + DAY_S + number_at(times, 0).value
    if r.cylinders_gauge_check_s == 0:
        return now_s
    return now_s + (k.midnight_s - now_s) % r.cylinders_gauge_check_s


def last_look_s(k: Record, now_s: Whole) -> Whole:
    """Return the last gauge check at or before now."""
    r, times = k.rules, k.rules.cylinders_check_times_s
    if r.cylinders_check_times_s_count > 0:
        since_s = now_s - k.midnight_s
        midnight_s, second = k.midnight_s + since_s // DAY_S * DAY_S, since_s % DAY_S
        for place in range(r.cylinders_check_times_s_count - 1, -1, -1):
            if number_at(times, place).value <= second:
                return midnight_s + number_at(times, place).value
        return midnight_s + number_at(times, r.cylinders_check_times_s_count - 1).value - DAY_S
    if r.cylinders_gauge_check_s == 0:
        return now_s
    return now_s - (now_s - k.midnight_s) % r.cylinders_gauge_check_s


def first_look_s(k: Record, p: Record, from_s: Whole, last_s: Whole) -> Whole:
    """Return the first look at or after from_s that is not missed, or one after last_s (NONE: no end)."""
    look_s = next_look_s(k, from_s)
    for _ in range(MOST_MISSED):
        if (last_s != NONE and look_s > last_s) or not _missed(k, p, look_s):
            break
        look_s = next_look_s(k, look_s + 1)
    return look_s


def _missed(k: Record, p: Record, look_s: Whole) -> Whole:
    """Return True if nobody looks at this patient's gauge at this check; the same under every strategy."""
    r = k.rules
    chance = r.cylinders_missed_by_day if is_day(k, look_s) else r.cylinders_missed_by_night
    return chance > 0 and uniform(k.seed, k.replication, STREAM.MISSED_CHECK, p.luck, look_s) < chance


def gauge_error(k: Record, p: Record) -> Whole:
    """Return how much too low the gauge of the next cylinder reads, as content."""
    spread = k.rules.cylinders_gauge_error_gas
    if spread == 0:
        return 0
    luck = uniform(k.seed, k.replication, STREAM.GAUGE_ERROR, p.luck, p.cylinders)
    return np.int64(np.rint(spread * jit.ndtri(luck)))


def enough_gas(k: Record, flow_ml_min: Whole) -> Whole:
    """Return the content that gives a flow until the next look, where one is asked for; else 0."""
    r = k.rules
    if r.cylinders_change_when != WILL_NOT_LAST:
        return 0
    seconds = next_look_s(k, k.now + 1) - k.now + r.cylinders_change_time_s
    return r.cylinders_lost_gas + seconds * (flow_ml_min + r.cylinders_leak_ml_min)


jit.compile_file(globals())
