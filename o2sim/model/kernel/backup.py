"""What stands behind the grid: battery, panels and generator, each as among the reference's steps."""

from __future__ import annotations

import math

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.laws import quantile_at, rounded, whole_draw
from o2sim.draws.philox import stable_hash, uniform
from o2sim.model.kernel import codes
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.layout import NONE, note, note_code, rules, spell_at
from o2sim.model.kernel.queues import leave_line, line_up
from o2sim.model.kernel.supply import (
    FAILED,
    OFF,
    RUNNING,
    STARTING,
    battery_full,
    credit_chain,
    generator_starts_at,
    generator_wanted,
    level_at,
    switch_supply,
)
from o2sim.model.power import FUEL_PER_ML
from o2sim.model.rules import BATTERY, GENERATOR, GENERATOR_FIRST, HOURS, SOLAR, SUN_STEP_S, WORKSHOP, Rank
from o2sim.scenario.types.types import DAY_S

GENERATOR_SLOT = NONE  # in the line of calls
_LOST, _RESTORED, _REPAIR_DONE, _DELIVERY = (
    int(rank) for rank in (Rank.POWER_LOST, Rank.POWER_RESTORED, Rank.REPAIR_DONE, Rank.DELIVERY)
)
_START, _FAILURE, _REPAIR, _FUEL_LEAD, _CLEARNESS = (
    np.uint64(stable_hash(stream))
    for stream in ("generator start", "generator failure", "generator repair", "fuel lead time", "clearness")
)
(
    _BATTERY_EMPTY,
    _BATTERY_LOW,
    _RUNS,
    _STOPS,
    _DOES_NOT_START,
    _FAILS,
    _REPAIRED,
    _FUEL_ORDERED,
    _FUEL_CAME,
    _FUEL_OUT,
) = (
    note_code(step)
    for step in (
        "battery empty",
        "battery low",
        "generator runs",
        "generator stops",
        "generator does not start",
        "generator fails",
        "generator repaired",
        "fuel ordered",
        "fuel delivered",
        "fuel runs out",
    )
)


@jit.compiled
def follow_battery(k: Record) -> None:
    """Schedule the moment at which the battery, at its present rates, is empty, charged, or fit to serve again."""
    chain, battery, r = k.chain, k.chain.battery, rules(k)
    if not battery.present:
        return
    chain.battery_event = call_off(k.calendar, chain.battery_event)
    if battery.drain > 0:
        seconds, step, low = battery.level // battery.drain, codes.BATTERY_EMPTY, generator_starts_at(k)
        if low != NONE and -(-(battery.level - low) // battery.drain) <= seconds:
            seconds, step = -(-(battery.level - low) // battery.drain), codes.BATTERY_LOW
        chain.battery_event = schedule(k.calendar, k.now + seconds, _LOST, BATTERY, step, NONE, 0)
    elif battery.charge > 0:
        seconds = (battery_full(r) - battery.level) // battery.charge
        again = _reconnects_at(r)
        if battery.tripped and battery.level < again:
            seconds = min(seconds, -(-(again - battery.level) // battery.charge))
        due_s = k.now + seconds
        chain.battery_event = schedule(k.calendar, due_s, _RESTORED, BATTERY, codes.BATTERY_CHARGED, NONE, 0)


@jit.compiled
def _reconnects_at(r: Record) -> Whole:
    return level_at(r, r.power_battery_reconnect_permille)


@jit.compiled
def battery_empty(k: Record) -> None:
    """The battery has no whole second left in it: the inverter cuts out."""
    credit_chain(k)
    note(k, _BATTERY_EMPTY, -1, -1, -1)
    k.chain.seen = False
    k.chain.battery.tripped = True
    run_generator(k)
    switch_supply(k)


@jit.compiled
def battery_low(k: Record) -> None:
    """The battery is down to the charge at which the generator is called for."""
    note(k, _BATTERY_LOW, -1, -1, -1)
    k.chain.seen = False
    run_generator(k)


@jit.compiled
def battery_charged(k: Record) -> None:
    """The battery is full, or in a cut has enough from the sun to serve again."""
    battery = k.chain.battery
    credit_chain(k)
    k.chain.seen = False
    if battery.tripped and battery.level >= _reconnects_at(rules(k)):
        battery.tripped = False
        switch_supply(k)
    generator = k.chain.generator
    called = generator.present and (generator.status == STARTING or generator.status == RUNNING)
    if called and not generator_wanted(k):  # it was called for a low battery, and stops
        run_generator(k)
        switch_supply(k)


@jit.compiled
def begin_solar(k: Record) -> None:
    """Schedule the first hour of the run."""
    if k.chain.battery.present and rules(k).has_power_solar:
        schedule(k.calendar, k.midnight_s % SUN_STEP_S, _RESTORED, SOLAR, codes.SUN_MOVES, NONE, 0)


@jit.compiled
def sun_moves(k: Record) -> None:
    """Take the power of this hour, which is that of its middle."""
    r, since_s = rules(k), k.now - k.midnight_s
    day, second = since_s // DAY_S, since_s % DAY_S
    u = uniform(k.seed, k.replication, _CLEARNESS, np.uint64(r.start + day), 0)
    clearness = min(1_000, rounded(1_000 * quantile_at(r.power_solar_clearness, u), 0))
    credit_chain(k)
    k.chain.solar_w = _solar_power_w(r, second + SUN_STEP_S // 2, clearness)
    schedule(k.calendar, k.now + SUN_STEP_S, _RESTORED, SOLAR, codes.SUN_MOVES, NONE, 0)


@jit.compiled
def _solar_power_w(r: Record, second: Whole, clearness_permille: Whole) -> Whole:
    """Return the power (whole W) at a second of the day: peak x clearness x a half sine of the daylight."""
    rise_s, set_s = r.power_solar_sunrise_s, r.power_solar_sunset_s
    if not rise_s < second < set_s:
        return 0
    height = math.sin(math.pi * (second - rise_s) / (set_s - rise_s))
    return np.int64(np.rint(r.power_solar_peak_w * clearness_permille * height / 1_000))


@jit.compiled
def begin_generator(k: Record) -> None:
    """Schedule the times of day when the generator may not run, and draw its first life."""
    if not k.chain.generator.present:
        return
    _new_life(k)
    for place in range(k.generator_gap_count):
        gap = spell_at(k.generator_gaps, place)
        schedule(k.calendar, gap.start_s, _LOST, HOURS, codes.HOURS_CHANGE, NONE, 0)
        schedule(k.calendar, gap.end_s, _RESTORED, HOURS, codes.HOURS_CHANGE, NONE, 1)


@jit.compiled
def hours_change(k: Record, permitted: Whole) -> None:
    """The time of day when the generator may run begins or ends."""
    k.chain.generator.permitted = permitted
    run_generator(k)
    switch_supply(k)


@jit.compiled
def run_generator(k: Record) -> None:
    """Have the generator started if it is wanted, stopped if it is not."""
    generator, r = k.chain.generator, rules(k)
    if not generator.present:
        return
    credit_chain(k)
    wanted = generator_wanted(k)
    if wanted and generator.status == OFF:
        generator.status, generator.start_event = STARTING, NONE
        if r.power_generator_started_by_staff:
            first = GENERATOR_FIRST
            k.call_count = line_up(k.calls, k.call_count, first[0], first[1], GENERATOR_SLOT)
            return
        second = (k.now - k.midnight_s) % DAY_S
        length_s = (r.power_generator_night_to_s - r.power_generator_night_from_s - 1) % DAY_S + 1
        night = (second - r.power_generator_night_from_s) % DAY_S < length_s
        due_s = k.now + (r.power_generator_night_delay_s if night else r.power_generator_start_delay_s)
        generator.start_event = schedule(k.calendar, due_s, _RESTORED, GENERATOR, codes.GENERATOR_STARTS, NONE, 0)
    elif not wanted and generator.status == STARTING:
        if generator.start_event == NONE:  # nobody has come yet
            k.call_count = leave_line(k.calls, k.call_count, GENERATOR_SLOT)
        else:
            generator.start_event = call_off(k.calendar, generator.start_event)
            k.busy -= r.power_generator_started_by_staff
        generator.status = OFF
    elif not wanted and generator.status == RUNNING:
        _stop(k, OFF)
        note(k, _STOPS, -1, -1, -1)


@jit.compiled
def begin_to_start(k: Record) -> None:
    """Somebody is there to start the generator: it takes its time, or is done."""
    duration_s = rules(k).power_generator_start_delay_s
    if duration_s == 0:
        generator_starts(k)
        return
    k.busy += 1
    step = codes.GENERATOR_STARTED
    k.chain.generator.start_event = schedule(k.calendar, k.now + duration_s, _RESTORED, GENERATOR, step, NONE, 0)


@jit.compiled
def generator_starts(k: Record) -> None:
    """Somebody starts the generator: it runs, or fails until it is repaired."""
    generator, since_s = k.chain.generator, k.chain.unusable_since_s
    if generator.attempts_since_s != since_s:
        generator.attempts_since_s, generator.attempts = since_s, 0
    luck = uniform(k.seed, k.replication, _START, np.uint64(since_s), generator.attempts)
    generator.attempts += 1
    if luck > rules(k).power_generator_start_chance:
        note(k, _DOES_NOT_START, -1, -1, -1)
        _fail(k)
        return
    credit_chain(k)
    note(k, _RUNS, -1, -1, -1)
    generator.status, generator.running_since_s = RUNNING, k.now
    if rules(k).power_generator_running_failure_s.kind >= 0:
        due_s = k.now + generator.remaining_s
        generator.failure_event = schedule(k.calendar, due_s, _LOST, GENERATOR, codes.GENERATOR_FAILS, NONE, 0)
    switch_supply(k)


@jit.compiled
def generator_fails(k: Record) -> None:
    """The generator breaks down while running."""
    note(k, _FAILS, -1, -1, -1)
    _stop(k, FAILED)
    k.chain.generator.breakdowns += 1
    _new_life(k)
    _fail(k)
    switch_supply(k)


@jit.compiled
def _new_life(k: Record) -> None:
    law, generator = rules(k).power_generator_running_failure_s, k.chain.generator
    if law.kind >= 0:
        generator.remaining_s = whole_draw(
            law, 1, k.seed, k.replication, _FAILURE, np.uint64(0), generator.breakdowns
        )


@jit.compiled
def _stop(k: Record, status: Whole) -> None:
    generator = k.chain.generator
    credit_chain(k)
    generator.status = status
    if generator.failure_event != NONE:
        generator.remaining_s -= k.now - generator.running_since_s
        generator.failure_event = call_off(k.calendar, generator.failure_event)


@jit.compiled
def _fail(k: Record) -> None:
    generator = k.chain.generator
    generator.status = FAILED
    k.ledger.generator_failures += 1
    law = rules(k).power_generator_repair_s
    due_s = k.now + whole_draw(law, 1, k.seed, k.replication, _REPAIR, np.uint64(0), generator.failed)
    generator.failed += 1
    schedule(k.calendar, due_s, _REPAIR_DONE, WORKSHOP, codes.GENERATOR_REPAIRED, NONE, 0)


@jit.compiled
def generator_repaired(k: Record) -> None:
    """The generator is in order again, and is started if it is wanted."""
    note(k, _REPAIRED, -1, -1, -1)
    k.chain.generator.status = OFF
    run_generator(k)


@jit.compiled
def follow_fuel(k: Record) -> None:
    """Schedule the moment at which the tank, at the present rate, is empty or low enough to order."""
    chain, generator, r = k.chain, k.chain.generator, rules(k)
    if not generator.present or generator.fuel == NONE:
        return
    chain.fuel_event = call_off(k.calendar, chain.fuel_event)
    if generator.rate == 0:
        return
    seconds, step = generator.fuel // generator.rate, codes.FUEL_RUNS_OUT
    if r.has_power_generator_refuel and not generator.on_order:
        to_reorder = max(0, generator.fuel - r.power_generator_refuel_reorder_ml * FUEL_PER_ML)
        if -(-to_reorder // generator.rate) <= seconds:
            seconds, step = -(-to_reorder // generator.rate), codes.FUEL_ORDERED
    chain.fuel_event = schedule(k.calendar, k.now + seconds, _LOST, GENERATOR + 1, step, NONE, 0)


@jit.compiled
def fuel_ordered(k: Record) -> None:
    """The tank is down to the reorder level: fuel is ordered."""
    r = rules(k)
    day = np.uint64(r.start + (k.now - k.midnight_s) // DAY_S)
    law = r.power_generator_refuel_lead_time_s
    due_s = k.now + whole_draw(law, 1, k.seed, k.replication, _FUEL_LEAD, day, 0)
    note(k, _FUEL_ORDERED, -1, -1, due_s)
    k.chain.generator.on_order = True
    k.chain.seen = False
    schedule(k.calendar, due_s, _DELIVERY, WORKSHOP, codes.FUEL_DELIVERED, NONE, 0)


@jit.compiled
def fuel_delivered(k: Record) -> None:
    """The tank is filled."""
    generator = k.chain.generator
    credit_chain(k)
    received = rules(k).power_generator_tank_ml * FUEL_PER_ML - generator.fuel
    note(k, _FUEL_CAME, -1, -1, received // FUEL_PER_ML)
    generator.fuel += received
    k.chain.fuel_received += received
    k.ledger.fuel_received += received
    generator.on_order = generator.dry = False
    k.chain.seen = False
    run_generator(k)


@jit.compiled
def fuel_runs_out(k: Record) -> None:
    """The tank holds no whole second more: the generator stops until it is refuelled."""
    note(k, _FUEL_OUT, -1, -1, -1)
    k.chain.generator.dry = True
    _stop(k, OFF)
    switch_supply(k)
