"""The concentrators: who is on which unit, which have room and power; ConcentratorBank in the reference."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.layout import NONE, on_unit, unit_at
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.spare import first_with, reckon_spare, ward_spare
from o2sim.scenario.types.hospital import Allocation

_LOWEST = code(Allocation, "first_unit", "lowest number")
_MOST_LOADED = code(Allocation, "first_unit", "most loaded")


def has_room(k: Record, u: Record, flow_ml_min: Whole) -> Whole:
    """Return True if the unit works and has an outlet and the flow to spare."""
    r = k.rules
    return (
        u.working
        and not u.on_the_move
        and u.patient_count + u.expected_count < r.concentrators_outlets
        and u.load_ml_min + u.expected_ml_min + flow_ml_min <= r.concentrators_rated_flow_ml_min
    )


def set_working(k: Record, u: Record, working: Whole) -> None:
    """Note whether a unit works."""
    if u.working != working:
        k.out_of_order += -1 if working else 1
    u.working = working
    reckon_spare(k, u)


def flow_from(p: Record, number: Whole) -> Whole:
    """Return what one of the units gives a patient."""
    return p.second_ml_min if number == p.second_unit else p.given_ml_min - p.second_ml_min


def attach(k: Record, slot: Whole, u: Record, flow_ml_min: Whole) -> None:
    """Put a patient on the unit, for a flow."""
    on_unit(k, u.number, u.patient_count).value = slot
    k.running += u.patient_count == 0
    u.patient_count += 1
    k.outlets_used += 1
    u.load_ml_min += flow_ml_min
    reckon_spare(k, u)


def detach(k: Record, slot: Whole, u: Record, flow_ml_min: Whole) -> None:
    """Take a patient off the unit, who had a flow."""
    place = 0
    while on_unit(k, u.number, place).value != slot:
        place += 1
    u.patient_count -= 1
    k.outlets_used -= 1
    for later in range(place, u.patient_count):
        on_unit(k, u.number, later).value = on_unit(k, u.number, later + 1).value
    k.running -= u.patient_count == 0
    u.load_ml_min -= flow_ml_min
    reckon_spare(k, u)


def can_start(k: Record) -> Whole:
    """Return True if there is power for one more running unit."""
    return k.most_running >= k.unit_count > 0 or k.running < k.most_running


def has_power(k: Record, u: Record) -> Whole:
    """Return True if there is power for a unit: one that runs has it, another if one more can be carried."""
    return u.patient_count > 0 or can_start(k)


def all_down(k: Record, ward: Whole) -> Whole:
    """Return True if a ward has units and all of them are under repair."""
    here = 0
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if u.ward == ward and not u.on_the_move:
            here += 1
            if u.working:
                return False
    return here > 0


def unit_with_room(k: Record, flow_ml_min: Whole, ward: Whole, beside: Whole) -> Whole:
    """Return the powered, working unit of a ward with room for a flow that comes first, NONE if none has.

    beside: a unit left out, for it gives the rest of the flow already.
    """
    if not k.has_bank or k.most_running <= 0:
        return NONE
    only_running, first = not can_start(k), k.rules.allocation_first_unit
    best, best_load = NONE, 0
    number = first_with(k, ward, flow_ml_min, only_running, 0)
    while number != NONE:
        if number != beside:
            if first == _LOWEST:
                return number
            u = unit_at(k, number)
            load = u.load_ml_min if first == _MOST_LOADED else -u.load_ml_min
            if best == NONE or load > best_load:
                best, best_load = number, load
        number = first_with(k, ward, flow_ml_min, only_running, number + 1)
    return best


def most_spare(k: Record, ward: Whole) -> Whole:
    """Return the powered, working unit of a ward with most flow to spare, the lowest number in ties, or NONE."""
    most = most_spare_ml_min(k, ward)
    return first_with(k, ward, most, not can_start(k), 0) if most > 0 else NONE


def most_spare_ml_min(k: Record, ward: Whole) -> Whole:
    """Return the most flow that a powered, working unit of a ward has to spare."""
    if not k.has_bank or k.most_running <= 0:
        return 0
    return ward_spare(k, ward, not can_start(k))


def lacks_power(k: Record, flow_ml_min: Whole, ward: Whole) -> Whole:
    """Return True if nothing but power keeps a flow from being served on a ward."""
    if k.most_running <= 0:
        return True
    if can_start(k):
        return False
    return ward_spare(k, ward, False) >= flow_ml_min


jit.compile_file(globals())
