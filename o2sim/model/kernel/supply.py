"""Supply: what carries the units, who is shed if it cannot carry all, who is moved to fewer units on battery."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import can_carry, powered
from o2sim.model.kernel.chain import (
    GRID,
    NO_SUPPLY,
    RUNNING,
    backed,
    best_supply,
    limit_w,
    peak_w,
    rate_at,
    set_rates,
)
from o2sim.model.kernel.codes import LOG
from o2sim.model.kernel.layout import NONE, note, number_at, on_unit, patient_at, unit_at
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.units import cut_off, move_unit, resume
from o2sim.model.power import Supply
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
    k.power_came |= before == NO_SUPPLY and chain.supply != NO_SUPPLY
    if k.has_bank:
        k.limit_w, k.peak_w = limit_w(k), peak_w(k) if k.surges else NONE
        _carry(k, chain.supply != before)


def _carry(k: Record, changed: Whole) -> None:
    """Stop units until the supply carries the others; after a change of supply these start one by one."""
    if not powered(k):
        for number in range(k.unit_count):
            cut_off(k, unit_at(k, number), False)
        return
    while not can_carry(k, changed):
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
    running, load_w = k.running, k.running_w
    if (
        chain.seen
        and chain.seen_supply == chain.supply
        and chain.seen_running == running
        and chain.seen_load_w == load_w
        and chain.seen_solar_w == chain.solar_w
        and chain.seen_generator == generator_on
    ):
        return False
    credit_chain(k)
    set_rates(k, running, load_w)
    chain.seen, chain.seen_generator = True, generator_on
    chain.seen_supply, chain.seen_running, chain.seen_load_w = chain.supply, running, load_w
    chain.seen_solar_w = chain.solar_w
    return True


_BATTERY = int(Supply.BATTERY)


def gather(k: Record) -> Whole:
    """Empty the running unit with the least flow whose patients all fit on others of the ward; True if one was.

    Done by plan while the battery carries the units: nobody goes without for it, and no hands are counted. The
    patients with the largest flow are placed first, each on the lowest-numbered unit with room. Of units with the
    same flow the highest number is emptied. When the battery no longer carries them patients stay where they are.
    """
    if not k.gathers or k.chain.supply != _BATTERY:
        return False
    count = _running_by_load(k)
    for nth in range(count):
        u = unit_at(k, number_at(k.gathering, nth).value)
        moved = _places(k, u) if u.expected_count == 0 else NONE
        if moved >= 0:
            note(k, LOG.UNIT_EMPTIED, u.number, moved, -1)
            for place in range(moved):
                slot, target = number_at(k.movers, 2 * place).value, number_at(k.movers, 2 * place + 1).value
                move_unit(k, patient_at(k, slot), unit_at(k, target))
            for number in range(k.unit_count):  # one that was shed may have power again
                resume(k, unit_at(k, number))
            return True
    return False


def _running_by_load(k: Record) -> Whole:
    """Write the units that run to the first part of `gathering`, the least flow first; return how many."""
    count = 0
    for number in range(k.unit_count - 1, -1, -1):
        u = unit_at(k, number)
        if u.patient_count == 0:
            continue
        place = count
        while place > 0 and unit_at(k, number_at(k.gathering, place - 1).value).load_ml_min > u.load_ml_min:
            number_at(k.gathering, place).value = number_at(k.gathering, place - 1).value
            place -= 1
        number_at(k.gathering, place).value = number
        count += 1
    return count


def _places(k: Record, u: Record) -> Whole:
    """Write (slot, where to) for everybody on a unit to `movers`; return how many, NONE if somebody does not fit.

    A patient on two units is not moved; one on reduced flow is, with what is given.
    """
    count = u.patient_count
    for nth in range(count):
        slot = on_unit(k, u.number, nth).value
        if patient_at(k, slot).second_unit != NONE:
            return NONE
        place = nth
        while place > 0 and _larger(k, slot, number_at(k.movers, 2 * (place - 1)).value):
            number_at(k.movers, 2 * place).value = number_at(k.movers, 2 * (place - 1)).value
            place -= 1
        number_at(k.movers, 2 * place).value = slot
    for number in range(k.unit_count):  # what has been placed on each: patients, flow
        number_at(k.gathering, k.unit_count + number).value = 0
        number_at(k.gathering, 2 * k.unit_count + number).value = 0
    for place in range(count):
        flow_ml_min = patient_at(k, number_at(k.movers, 2 * place).value).given_ml_min
        target = _first_fit(k, u, flow_ml_min)
        if target == NONE:
            return NONE
        number_at(k.gathering, k.unit_count + target).value += 1
        number_at(k.gathering, 2 * k.unit_count + target).value += flow_ml_min
        number_at(k.movers, 2 * place + 1).value = target
    return count


def _larger(k: Record, slot: Whole, other: Whole) -> Whole:
    p, q = patient_at(k, slot), patient_at(k, other)
    return p.given_ml_min > q.given_ml_min or (p.given_ml_min == q.given_ml_min and p.number < q.number)


def _first_fit(k: Record, u: Record, flow_ml_min: Whole) -> Whole:
    """Return the lowest-numbered running unit beside one with room for a flow beside those placed."""
    for number in range(k.unit_count):
        other = unit_at(k, number)
        if number == u.number or other.patient_count == 0 or other.ward != u.ward:
            continue
        patients = other.patient_count + other.expected_count + number_at(k.gathering, k.unit_count + number).value
        load = other.load_ml_min + other.expected_ml_min + number_at(k.gathering, 2 * k.unit_count + number).value
        if patients < other.outlets and load + flow_ml_min <= other.rated_ml_min:
            return number
    return NONE


compile_file(globals())
