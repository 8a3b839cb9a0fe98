"""Supply: what carries the units at present, who is shed when it cannot carry all, and what it takes."""

from __future__ import annotations

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.power import Supply
from o2sim.model.state import State
from o2sim.model.steps.units import cut_off, resume


def switch_supply(state: State) -> None:
    """Let the best supply there is carry the units; those it cannot carry stop, others run again."""
    chain = state.chain
    credit_chain(state)
    before, chain.supply = chain.supply, chain.best_supply()
    if chain.battery is not None:
        # Once it has nothing to give in a cut it must be charged to the reconnection level, or the cut must end.
        chain.battery.tripped = chain.supply == Supply.NONE
    if chain.backed and chain.supply != before:
        state.note("power from", -1, int(chain.supply), int(before))
    if state.bank is not None:
        state.bank.most_running = chain.most_running()
        _carry(state, state.bank)


def _carry(state: State, bank: ConcentratorBank) -> None:
    if not bank.powered:
        for unit in bank.units:
            cut_off(state, unit)
        return
    while bank.running > bank.most_running:
        cut_off(state, _first_to_shed(state, bank))
    for unit in bank.units:
        resume(state, unit)


def _first_to_shed(state: State, bank: ConcentratorBank) -> Unit:
    """Return the running unit that stops first when the power cannot carry all."""
    running = [unit for unit in bank.units if unit.patients]
    if state.chain.rules.shed_first == "patients":
        return min(running, key=lambda unit: (len(unit.patients), -unit.number))
    return running[-1]


def credit_chain(state: State) -> None:
    """Bring battery, tank and the totals of the chain up to this second."""
    chain, ledger = state.chain, state.ledger
    seconds = chain.credit(state.now)
    if chain.supply == Supply.NONE:
        ledger.without_power_s += seconds
    elif chain.supply != Supply.GRID:
        ledger.off_grid_running_s += chain.running * seconds
    elif chain.battery is not None:
        ledger.grid_charging_ws += chain.battery.mains_w * seconds
    generator = chain.generator
    if generator is not None and generator.status == "running":
        ledger.generator_running_s += seconds
        ledger.fuel_used += generator.rate * seconds
        ledger.fuel_for_oxygen += (generator.rate - generator.rate_of_others) * seconds


def shift_load(state: State) -> bool:
    """Work out afresh what the chain gives, if load or sources have changed; return True if they have."""
    chain = state.chain
    generator_on = chain.generator is not None and chain.generator.status == "running"
    running = 0 if state.bank is None else state.bank.running
    seen = (chain.supply, running, chain.solar_w, generator_on)
    if seen == chain.seen:
        return False
    credit_chain(state)
    chain.set_rates(running)
    chain.seen = seen
    return True
