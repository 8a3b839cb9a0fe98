"""The generator: it starts after a delay when the grid is lost, fails, burns fuel and is refuelled."""

from __future__ import annotations

import datetime as dt

from o2sim.model.power import FUEL_PER_ML, GeneratorState
from o2sim.model.rules import GENERATOR, HOURS, WORKSHOP, Rank
from o2sim.model.state import State
from o2sim.model.steps.funds import keep_for_fuel, pay_for_fuel
from o2sim.model.steps.staff import call_for_generator, call_off_task
from o2sim.model.steps.supply import credit_chain, switch_supply
from o2sim.scenario.types.hospital import DAY_S
from o2sim.scenario.types.spells import gaps, in_window, window_spells


def _generator(state: State) -> GeneratorState:
    assert state.chain.generator is not None
    return state.chain.generator


def begin_generator(state: State) -> None:
    """Schedule the times of day when the generator may not run, and draw its first life."""
    generator = state.chain.generator
    if generator is None:
        return
    _new_life(generator)
    if generator.rules.hours:
        rules = state.rules
        spells = window_spells(generator.rules.hours, rules.start, rules.warm_up_s, rules.end_s)
        for start_s, end_s in gaps(spells, rules.end_s):
            state.clock.at(start_s, Rank.POWER_LOST, HOURS, hours_change, False)
            state.clock.at(end_s, Rank.POWER_RESTORED, HOURS, hours_change, True)


def hours_change(state: State, permitted: bool) -> None:
    """The time of day when the generator may run begins or ends."""
    _generator(state).permitted = permitted
    run_generator(state)
    switch_supply(state)


def run_generator(state: State) -> None:
    """Have the generator started if it is wanted, stopped if it is not."""
    generator = state.chain.generator
    if generator is None:
        return
    credit_chain(state)
    wanted = state.chain.generator_wanted()
    if wanted and generator.status == "off":
        generator.status = "starting"
        rules = generator.rules
        if rules.started_by_staff:
            generator.start_event = call_for_generator(state, rules.start_delay_s, generator_starts)
            return
        night = in_window(rules.night, (state.now - state.midnight_s) % DAY_S)
        due_s = state.now + (rules.night_delay_s if night else rules.start_delay_s)
        generator.start_event = state.clock.at(due_s, Rank.POWER_RESTORED, GENERATOR, generator_starts)
    elif not wanted and generator.status == "starting":
        if generator.rules.started_by_staff:
            call_off_task(state, generator.start_event)
        else:
            generator.start_event.cancel()
        generator.status = "off"
    elif not wanted and generator.status == "running":
        _stop(state, "off")
        state.note("generator stops")


def generator_starts(state: State, _job: None = None) -> None:
    """Somebody starts the generator: it runs, or fails until it is repaired."""
    generator = _generator(state)
    if generator.attempts_since_s != state.chain.unusable_since_s:
        generator.attempts_since_s, generator.attempts = state.chain.unusable_since_s, 0
    luck = state.draws.draw("generator start", state.chain.unusable_since_s, generator.attempts)
    generator.attempts += 1
    if luck > generator.rules.start_chance:
        state.note("generator does not start")
        _fail(state)
        return
    credit_chain(state)
    state.note("generator runs")
    generator.status, generator.running_since_s = "running", state.now
    if generator.failures is not None:
        due_s = state.now + generator.remaining_s
        generator.failure_event = state.clock.at(due_s, Rank.POWER_LOST, GENERATOR, generator_fails)
    switch_supply(state)


def generator_fails(state: State) -> None:
    """The generator breaks down while running."""
    generator = _generator(state)
    state.note("generator fails")
    _stop(state, "failed")
    generator.breakdowns += 1
    _new_life(generator)
    _fail(state)
    switch_supply(state)


def _new_life(generator: GeneratorState) -> None:
    if generator.failures is not None:
        generator.remaining_s = generator.failures[generator.breakdowns]


def _stop(state: State, status: str) -> None:
    generator = _generator(state)
    credit_chain(state)
    generator.status = status
    if generator.failure_event is not None:
        generator.remaining_s -= state.now - generator.running_since_s
        generator.failure_event.cancel()
        generator.failure_event = None


def _fail(state: State) -> None:
    generator = _generator(state)
    assert generator.repairs is not None
    generator.status = "failed"
    state.ledger.generator_failures += 1
    due_s = state.now + generator.repairs[generator.failed]
    generator.failed += 1
    state.clock.at(due_s, Rank.REPAIR_DONE, WORKSHOP, generator_repaired)


def generator_repaired(state: State) -> None:
    """The generator is in order again, and is started if it is wanted."""
    state.note("generator repaired")
    _generator(state).status = "off"
    run_generator(state)


def follow_fuel(state: State) -> None:
    """Schedule the moment at which the tank, at the present rate, is empty or low enough to order."""
    chain, generator = state.chain, state.chain.generator
    if generator is None or generator.fuel is None:
        return
    if chain.fuel_event is not None:
        chain.fuel_event.cancel()
        chain.fuel_event = None
    if generator.rate == 0:
        return
    seconds, step = generator.fuel // generator.rate, fuel_runs_out
    refuel = generator.rules.refuel
    waits = state.purse is not None and state.purse.fuel_waits
    if refuel is not None and not generator.on_order and not waits:
        to_reorder = max(0, generator.fuel - refuel.reorder_ml * FUEL_PER_ML)
        if -(-to_reorder // generator.rate) <= seconds:
            seconds, step = -(-to_reorder // generator.rate), fuel_ordered
    chain.fuel_event = state.clock.at(state.now + seconds, Rank.POWER_LOST, GENERATOR + 1, step)


def fuel_ordered(state: State) -> None:
    """The tank is down to the reorder level, or money has come since: fuel is ordered if it can be paid."""
    generator = _generator(state)
    assert generator.rules.refuel is not None
    state.chain.seen = ()
    if not keep_for_fuel(state):
        return
    day = state.rules.start + dt.timedelta(days=(state.now - state.midnight_s) // DAY_S)
    due_s = state.now + state.draws.fuel_lead_time_s(generator.rules.refuel.lead_time_s, day)
    state.note("fuel ordered", -1, -1, due_s)
    generator.on_order = True
    state.clock.at(due_s, Rank.DELIVERY, WORKSHOP, fuel_delivered)


def fuel_delivered(state: State) -> None:
    """The tank is filled."""
    generator = _generator(state)
    assert generator.fuel is not None
    assert generator.rules.tank_ml is not None
    credit_chain(state)
    received = generator.rules.tank_ml * FUEL_PER_ML - generator.fuel
    state.note("fuel delivered", -1, -1, received // FUEL_PER_ML)
    generator.fuel += received
    state.chain.fuel_received += received
    state.ledger.fuel_received += received
    pay_for_fuel(state, received // FUEL_PER_ML)
    generator.on_order = generator.dry = False
    state.chain.seen = ()
    run_generator(state)


def fuel_runs_out(state: State) -> None:
    """The tank holds no whole second more: the generator stops until it is refuelled."""
    state.note("fuel runs out")
    _generator(state).dry = True
    _stop(state, "off")
    switch_supply(state)
