"""Supply: what carries the units, who is shed if it cannot carry all, who is moved to fewer units on battery."""

from __future__ import annotations

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.power import Supply
from o2sim.model.state import State
from o2sim.model.steps.units import cut_off, move_unit, resume


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
    state.power_came |= before == Supply.NONE != chain.supply
    if state.bank is not None:
        state.bank.limit_w, state.bank.peak_w = chain.limit_w(), chain.peak_w()
        _carry(state, state.bank, changed=chain.supply != before)


def _carry(state: State, bank: ConcentratorBank, *, changed: bool) -> None:
    """Stop units until the supply carries the others; after a change of supply these start one by one."""
    if not bank.powered:
        for unit in bank.units:
            cut_off(state, unit)
        return
    while not bank.can_carry(from_the_start=changed):
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
    running, load_w = (0, 0) if state.bank is None else (state.bank.running, state.bank.running_w)
    seen = (chain.supply, running, load_w, chain.solar_w, generator_on)
    if seen == chain.seen:
        return False
    credit_chain(state)
    chain.set_rates(running, load_w)
    chain.seen = seen
    return True


def gather(state: State) -> bool:
    """Empty the running unit with the least flow whose patients all fit on others of the ward; True if one was.

    Done by plan while the battery carries the units: nobody goes without for it, and no hands are counted. The
    patients with the largest flow are placed first, each on the lowest-numbered unit with room. Of units with the
    same flow the highest number is emptied. When the battery no longer carries them patients stay where they are.
    """
    battery, bank = state.chain.battery, state.bank
    if battery is None or bank is None or not battery.rules.gather or state.chain.supply != Supply.BATTERY:
        return False
    running = [unit for unit in bank.units if unit.patients]
    for unit in sorted(running, key=lambda unit: (unit.load_ml_min, -unit.number)):
        others = [other for other in running if other is not unit and other.ward == unit.ward]
        places = None if unit.expected else _places(unit, others)
        if places is not None:
            state.note("unit emptied", unit.number, len(places))
            for number, place in places:
                move_unit(state, state.present[number], place)
            for other in bank.units:  # one that was shed may have power again
                resume(state, other)
            return True
    return False


def _places(unit: Unit, others: list[Unit]) -> list[tuple[int, Unit]] | None:
    """Return (patient number, where to) for everybody on a unit, None if somebody does not fit.

    A patient on two units is not moved; one on reduced flow is, with what is given.
    """
    if any(patient.second_unit is not None for patient in unit.patients):
        return None
    outlets = [other.rules.outlets - len(other.patients) - len(other.expected) for other in others]
    room = [other.rules.rated_flow_ml_min - other.load_ml_min - other.expected_ml_min for other in others]
    places = []
    for patient in sorted(unit.patients, key=lambda patient: (-patient.given_ml_min, patient.number)):
        fits = [i for i in range(len(others)) if outlets[i] > 0 and room[i] >= patient.given_ml_min]
        if not fits:
            return None
        outlets[fits[0]] -= 1
        room[fits[0]] -= patient.given_ml_min
        places.append((patient.number, others[fits[0]]))
    return places
