"""The generator: it starts after a delay when the grid is lost, fails, burns fuel and is refuelled."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import whole_draw
from o2sim.draws.philox import uniform
from o2sim.model.kernel.chain import FAILED, OFF, RUNNING, STARTING, generator_wanted
from o2sim.model.kernel.codes import LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.funds import keep_for_fuel, pay_for_fuel
from o2sim.model.kernel.layout import NONE, note, spell_at
from o2sim.model.kernel.queues import leave_line, line_up
from o2sim.model.kernel.supply import credit_chain, switch_supply
from o2sim.model.power import FUEL_PER_ML
from o2sim.model.rules import GENERATOR, GENERATOR_FIRST, HOURS, WORKSHOP
from o2sim.scenario.types.hospital import DAY_S

GENERATOR_SLOT = NONE  # in the line of calls


def begin_generator(k: Record) -> None:
    """Schedule the times of day when the generator may not run, and draw its first life."""
    if not k.chain.generator.present:
        return
    _new_life(k)
    for place in range(k.generator_gap_count):
        gap = spell_at(k.generator_gaps, place)
        schedule(k, gap.start_s, RANK.POWER_LOST, HOURS, STEP.HOURS_CHANGE, NONE, 0)
        schedule(k, gap.end_s, RANK.POWER_RESTORED, HOURS, STEP.HOURS_CHANGE, NONE, 1)


def hours_change(k: Record, permitted: Whole) -> None:
    """The time of day when the generator may run begins or ends."""
    k.chain.generator.permitted = permitted
    run_generator(k)
    switch_supply(k)


def run_generator(k: Record) -> None:
    """Have the generator started if it is wanted, stopped if it is not."""
    generator, r = k.chain.generator, k.rules
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
        generator.start_event = schedule(k, due_s, RANK.POWER_RESTORED, GENERATOR, STEP.GENERATOR_STARTS, NONE, 0)
    elif not wanted and generator.status == STARTING:
        if generator.start_event == NONE:  # nobody has come yet
            k.call_count = leave_line(k.calls, k.call_count, GENERATOR_SLOT)
        else:
            generator.start_event = call_off(k, generator.start_event)
            k.busy -= r.power_generator_started_by_staff
        generator.status = OFF
    elif not wanted and generator.status == RUNNING:
        _stop(k, OFF)
        note(k, LOG.GENERATOR_STOPS, -1, -1, -1)


def begin_to_start(k: Record) -> None:
    """Somebody is there to start the generator: it takes its time, or is done."""
    duration_s = k.rules.power_generator_start_delay_s
    if duration_s == 0:
        generator_starts(k)
        return
    k.busy += 1
    step = STEP.GENERATOR_STARTED
    k.chain.generator.start_event = schedule(k, k.now + duration_s, RANK.POWER_RESTORED, GENERATOR, step, NONE, 0)


def generator_starts(k: Record) -> None:
    """Somebody starts the generator: it runs, or fails until it is repaired."""
    generator, since_s = k.chain.generator, k.chain.unusable_since_s
    if generator.attempts_since_s != since_s:
        generator.attempts_since_s, generator.attempts = since_s, 0
    luck = uniform(k.seed, k.replication, STREAM.GENERATOR_START, np.uint64(since_s), generator.attempts)
    generator.attempts += 1
    if luck > k.rules.power_generator_start_chance:
        note(k, LOG.GENERATOR_DOES_NOT_START, -1, -1, -1)
        _fail(k)
        return
    credit_chain(k)
    note(k, LOG.GENERATOR_RUNS, -1, -1, -1)
    generator.status, generator.running_since_s = RUNNING, k.now
    if k.rules.power_generator_running_failure_s.kind >= 0:
        due_s = k.now + generator.remaining_s
        generator.failure_event = schedule(k, due_s, RANK.POWER_LOST, GENERATOR, STEP.GENERATOR_FAILS, NONE, 0)
    switch_supply(k)


def generator_fails(k: Record) -> None:
    """The generator breaks down while running."""
    note(k, LOG.GENERATOR_FAILS, -1, -1, -1)
    _stop(k, FAILED)
    k.chain.generator.breakdowns += 1
    _new_life(k)
    _fail(k)
    switch_supply(k)


def _new_life(k: Record) -> None:
    law, generator = k.rules.power_generator_running_failure_s, k.chain.generator
    if law.kind >= 0:
        generator.remaining_s = whole_draw(
            law, 1, k.seed, k.replication, STREAM.GENERATOR_FAILURE, np.uint64(0), generator.breakdowns
        )


def _stop(k: Record, status: Whole) -> None:
    generator = k.chain.generator
    credit_chain(k)
    generator.status = status
    if generator.failure_event != NONE:
        generator.remaining_s -= k.now - generator.running_since_s
        generator.failure_event = call_off(k, generator.failure_event)


def _fail(k: Record) -> None:
    generator = k.chain.generator
    generator.status = FAILED
    k.ledger.generator_failures += 1
    law = k.rules.power_generator_repair_s
    due_s = k.now + whole_draw(
        law, 1, k.seed, k.replication, STREAM.GENERATOR_REPAIR, np.uint64(0), generator.failed
    )
    generator.failed += 1
    schedule(k, due_s, RANK.REPAIR_DONE, WORKSHOP, STEP.GENERATOR_REPAIRED, NONE, 0)


def generator_repaired(k: Record) -> None:
    """The generator is in order again, and is started if it is wanted."""
    note(k, LOG.GENERATOR_REPAIRED, -1, -1, -1)
    k.chain.generator.status = OFF
    run_generator(k)


def follow_fuel(k: Record) -> None:
    """Schedule the moment at which the tank, at the present rate, is empty or low enough to order."""
    chain, generator, r = k.chain, k.chain.generator, k.rules
    if not generator.present or generator.fuel == NONE:
        return
    chain.fuel_event = call_off(k, chain.fuel_event)
    if generator.rate == 0:
        return
    seconds, step = generator.fuel // generator.rate, STEP.FUEL_RUNS_OUT
    if r.has_power_generator_refuel and not generator.on_order and not k.purse.fuel_waits:
        to_reorder = max(0, generator.fuel - r.power_generator_refuel_reorder_ml * FUEL_PER_ML)
        if -(-to_reorder // generator.rate) <= seconds:
            seconds, step = -(-to_reorder // generator.rate), STEP.FUEL_ORDERED
    chain.fuel_event = schedule(k, k.now + seconds, RANK.POWER_LOST, GENERATOR + 1, step, NONE, 0)


def fuel_ordered(k: Record) -> None:
    """The tank is down to the reorder level, or money has come since: fuel is ordered if it can be paid."""
    r = k.rules
    k.chain.seen = False
    if not keep_for_fuel(k):
        return
    day = np.uint64(r.start + (k.now - k.midnight_s) // DAY_S)
    law = r.power_generator_refuel_lead_time_s
    due_s = k.now + whole_draw(law, 1, k.seed, k.replication, STREAM.FUEL_LEAD_TIME, day, 0)
    note(k, LOG.FUEL_ORDERED, -1, -1, due_s)
    k.chain.generator.on_order = True
    schedule(k, due_s, RANK.DELIVERY, WORKSHOP, STEP.FUEL_DELIVERED, NONE, 0)


def fuel_delivered(k: Record) -> None:
    """The tank is filled."""
    generator = k.chain.generator
    credit_chain(k)
    received = k.rules.power_generator_tank_ml * FUEL_PER_ML - generator.fuel
    note(k, LOG.FUEL_DELIVERED, -1, -1, received // FUEL_PER_ML)
    generator.fuel += received
    k.chain.fuel_received += received
    k.ledger.fuel_received += received
    pay_for_fuel(k, received // FUEL_PER_ML)
    generator.on_order = generator.dry = False
    k.chain.seen = False
    run_generator(k)


def fuel_runs_out(k: Record) -> None:
    """The tank holds no whole second more: the generator stops until it is refuelled."""
    note(k, LOG.FUEL_RUNS_OUT, -1, -1, -1)
    k.chain.generator.dry = True
    _stop(k, OFF)
    switch_supply(k)


compile_file(globals())
