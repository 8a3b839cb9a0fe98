"""Supply: what carries the units at present, who is shed when it cannot carry all, and what it takes."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.chain import (
    GRID,
    NO_SUPPLY,
    RUNNING,
    backed,
    best_supply,
    rate_at,
    set_rates,
    units_carried,
)
from o2sim.model.kernel.codes import LOG
from o2sim.model.kernel.layout import NONE, note, unit_at
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.units import cut_off, resume
from o2sim.scenario.types.hospital import Power

_BY_PATIENTS = code(Power, "shed_first", "patients")


def switch_supply(k: Record) -> None:
    """Let the best supply there is carry the units; those it cannot carry stop, others run again."""
    chain = k.chain
    credit_chain(k)
    before = chain.supply
    chain.supply = best_supply(k)
    if chain.battery.present:
        # Once it has nothing to give in a cut it must be charged to the reconnection level, or the cut must end.
        chain.battery.tripped = chain.supply == NO_SUPPLY
    if backed(k) and chain.supply != before:
        note(k, LOG.POWER_FROM, -1, chain.supply, before)
    if k.has_bank:
        k.most_running = units_carried(k)
        _carry(k)


def _carry(k: Record) -> None:
    if k.most_running <= 0:
        for number in range(k.unit_count):
            cut_off(k, unit_at(k, number), False)
        return
    while k.running > k.most_running:
        cut_off(k, unit_at(k, _first_to_shed(k)), False)
    for number in range(k.unit_count):
        resume(k, unit_at(k, number))


def _first_to_shed(k: Record) -> Whole:
    """Return the running unit that stops first when the power cannot carry all."""
    best, fewest = NONE, 0
    for number in range(k.unit_count - 1, -1, -1):
        count = unit_at(k, number).patient_count
        if count > 0 and (best == NONE or count < fewest):
            best, fewest = number, count
            if k.rules.power_shed_first != _BY_PATIENTS:
                break
    return best


def credit_chain(k: Record) -> None:
    """Bring battery, tank and the totals of the chain up to this second."""
    chain, ledger, r = k.chain, k.ledger, k.rules
    battery, generator = chain.battery, chain.generator
    seconds = k.now - chain.since_s
    chain.since_s = k.now
    if battery.present:
        chain.stored += battery.charge * seconds
        chain.drained += battery.drain * seconds
        battery.level += (battery.charge - battery.drain) * seconds
    if generator.present:
        chain.fuel_used += generator.rate * seconds
        if generator.fuel != NONE:
            generator.fuel -= generator.rate * seconds
    if chain.supply == NO_SUPPLY:
        ledger.without_power_s += seconds
    elif chain.supply != GRID:
        ledger.off_grid_running_s += chain.running * seconds
    elif battery.present:
        ledger.grid_charging_ws += battery.mains_w * seconds
    if generator.present and generator.status == RUNNING:
        ledger.generator_running_s += seconds
        ledger.fuel_used += generator.rate * seconds
        others = rate_at(r, r.power_generator_base_load_w) if r.power_generator_base_load_w > 0 else 0
        ledger.fuel_for_oxygen += (generator.rate - others) * seconds


def shift_load(k: Record) -> Whole:
    """Work out afresh what the chain gives, if load or sources have changed; return True if they have."""
    chain = k.chain
    generator_on = chain.generator.present and chain.generator.status == RUNNING
    running = k.running if k.has_bank else 0
    if (
        chain.seen
        and chain.seen_supply == chain.supply
        and chain.seen_running == running
        and chain.seen_solar_w == chain.solar_w
        and chain.seen_generator == generator_on
    ):
        return False
    credit_chain(k)
    set_rates(k, running)
    chain.seen, chain.seen_generator = True, generator_on
    chain.seen_supply, chain.seen_running, chain.seen_solar_w = chain.supply, running, chain.solar_w
    return True


jit.compile_file(globals())
