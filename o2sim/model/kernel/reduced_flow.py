"""Reduced flow: a patient who needs more than a unit can give takes the most there is rather than nothing."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.bank import most_spare, unit_with_room
from o2sim.model.kernel.codes import LOG
from o2sim.model.kernel.given_flow import give
from o2sim.model.kernel.layout import NONE, note, on_unit, patient_at, unit_at
from o2sim.model.kernel.spare import reckon_spare, spare_ml_min
from o2sim.model.kernel.two_units import ANY, NEVER, give_up_second, may_take_two, whose_second
from o2sim.model.kernel.units import join, join_second


def takes_reduced(k: Record, p: Record) -> Whole:
    """Return True if a patient may be given a part of the prescribed flow."""
    r = k.rules
    if not k.has_bank or r.allocation_reduced_flow == NEVER:
        return False
    return r.allocation_reduced_flow == ANY or p.flow_ml_min > r.concentrators_rated_flow_ml_min


def shared_source(k: Record, p: Record) -> Whole:
    """Return how to connect a patient no source has room for: for a part of the flow, or where others give way.

    So that nobody goes without, patients on reduced flow are turned down, but never below half the rated flow,
    and a patient on two units gives up the second.
    """
    if not k.has_bank:
        return NONE
    rated, flow = k.rules.concentrators_rated_flow_ml_min, p.flow_ml_min
    if flow <= rated and _make_room(k, p.ward, flow):
        return codes.BY_UNIT
    if not takes_reduced(k, p):
        return NONE
    half = max(1, min(flow, rated // 2))
    if most_spare(k, p.ward) != NONE or _make_room(k, p.ward, half):
        return codes.BY_REDUCED
    return NONE


def may_share(k: Record, p: Record) -> Whole:
    """Return True if shared_source would find something, which others have to give way for or not."""
    if not k.has_bank:
        return False
    rated, flow = k.rules.concentrators_rated_flow_ml_min, p.flow_ml_min
    if flow <= rated and _could_make_room(k, p.ward, flow):
        return True
    if not takes_reduced(k, p):
        return False
    return most_spare(k, p.ward) != NONE or _could_make_room(k, p.ward, max(1, min(flow, rated // 2)))


def _could_make_room(k: Record, ward: Whole, flow_ml_min: Whole) -> Whole:
    return _where_one_gives_way(k, ward, flow_ml_min) != NONE or whose_second(k, ward, flow_ml_min) != NONE


def _make_room(k: Record, ward: Whole, flow_ml_min: Whole) -> Whole:
    """Turn a patient on reduced flow down, or take the second unit of one on two; True if that makes room."""
    number = _where_one_gives_way(k, ward, flow_ml_min)
    if number == NONE:
        return give_up_second(k, ward, flow_ml_min)
    u = unit_at(k, number)
    other = patient_at(k, _has_more_than(k, u, k.rules.concentrators_rated_flow_ml_min // 2))
    less = flow_ml_min - spare_ml_min(k, u)
    u.load_ml_min -= less
    reckon_spare(k, u)
    give(k, other, other.given_ml_min - less)
    note(k, LOG.FLOW_LOWERED, other.number, u.number, other.given_ml_min)
    return True


def _where_one_gives_way(k: Record, ward: Whole, flow_ml_min: Whole) -> Whole:
    """Return the first unit of a ward where turning one on reduced flow down makes room, NONE if there is none."""
    if k.reduced_count == 0:
        return NONE
    r = k.rules
    half = r.concentrators_rated_flow_ml_min // 2
    for number in range(k.unit_count):
        u = unit_at(k, number)
        slot = _has_more_than(k, u, half) if u.ward == ward else NONE
        if slot == NONE or u.patient_count + u.expected_count >= r.concentrators_outlets:
            continue
        if flow_ml_min - spare_ml_min(k, u) <= patient_at(k, slot).given_ml_min - half:
            return number
    return NONE


def _has_more_than(k: Record, u: Record, half: Whole) -> Whole:
    """Return who on a unit is on reduced flow of more than half of it, NONE if nobody is."""
    for place in range(u.patient_count):
        slot = on_unit(k, u.number, place).value
        if patient_at(k, slot).reduced and patient_at(k, slot).given_ml_min > half:
            return slot
    return NONE


def connect_reduced(k: Record, slot: Whole, p: Record) -> None:
    """Put a patient on the unit with the most flow to spare, for as much of it as is prescribed."""
    u = unit_at(k, most_spare(k, p.ward))
    join(k, slot, p, u, min(p.flow_ml_min, spare_ml_min(k, u)))
    note(k, LOG.REDUCED_FLOW, p.number, u.number, p.given_ml_min)


def raise_flow(k: Record, slot: Whole, p: Record) -> None:
    """Give a patient on reduced flow what has come free on the unit, or the rest from a second one."""
    u = unit_at(k, p.unit)
    missing = p.flow_ml_min - p.given_ml_min
    more = min(missing, k.rules.concentrators_rated_flow_ml_min - u.load_ml_min - u.expected_ml_min)
    if more > 0:
        u.load_ml_min += more
        reckon_spare(k, u)
        give(k, p, p.given_ml_min + more)
        note(k, LOG.FLOW_RAISED, p.number, u.number, p.given_ml_min)
    if may_take_two(k, p):  # one unit is never enough
        second = unit_with_room(k, missing - more, p.ward, u.number)
        if second != NONE:
            join_second(k, slot, p, unit_at(k, second), missing - more)


jit.compile_file(globals())
