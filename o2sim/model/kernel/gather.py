"""Gathering: on the battery patients are moved to fewer units, for a unit takes its watts whatever the flow."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.codes import LOG
from o2sim.model.kernel.layout import NONE, note, number_at, on_unit, patient_at, unit_at
from o2sim.model.kernel.units import move_unit, resume
from o2sim.model.power import Supply

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
                move_unit(k, slot, patient_at(k, slot), unit_at(k, target))
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
    r = k.rules
    for number in range(k.unit_count):
        other = unit_at(k, number)
        if number == u.number or other.patient_count == 0 or other.ward != u.ward:
            continue
        patients = other.patient_count + other.expected_count + number_at(k.gathering, k.unit_count + number).value
        load = other.load_ml_min + other.expected_ml_min + number_at(k.gathering, 2 * k.unit_count + number).value
        if patients < r.concentrators_outlets and load + flow_ml_min <= r.concentrators_rated_flow_ml_min:
            return number
    return NONE


jit.compile_file(globals())
