"""Reduced flow: one who needs more than a unit can give takes the best flow on offer rather than nothing."""

from __future__ import annotations

from o2sim import jit
from o2sim.jit import Record, Whole
from o2sim.model.kernel.given_flow import give
from o2sim.model.kernel.layout import NONE, note, note_code, on_unit, patient_at, rules, unit_at
from o2sim.model.kernel.two_units import ANY, BY_UNIT, NEVER, give_up_second, may_take_two
from o2sim.model.kernel.units import join, join_second, most_spare, spare_ml_min, unit_with_room

BY_REDUCED = 2  # a source, as allocation.py names them
_REDUCED, _LOWERED, _RAISED = (note_code(step) for step in ("reduced flow", "flow lowered", "flow raised"))


@jit.compiled
def takes_reduced(k: Record, p: Record) -> Whole:
    """Return True if a patient may be given a part of the prescribed flow."""
    r = rules(k)
    if not k.has_bank or r.allocation_reduced_flow == NEVER:
        return False
    return r.allocation_reduced_flow == ANY or p.flow_ml_min > r.concentrators_rated_flow_ml_min


@jit.compiled
def shared_source(k: Record, p: Record) -> Whole:
    """Return how to connect one whom no source has room for: for a part of the flow, or where others give way.

    For one who would get nothing those on reduced flow are turned down, but never below half the rated flow, and
    who has two units gives up the second.
    """
    if not k.has_bank:
        return NONE
    rated, flow = rules(k).concentrators_rated_flow_ml_min, p.flow_ml_min
    if flow <= rated and (_others_give_way(k, flow) or give_up_second(k, flow)):
        return BY_UNIT
    if not takes_reduced(k, p):
        return NONE
    half = max(1, min(flow, rated // 2))
    if most_spare(k) != NONE or _others_give_way(k, half) or give_up_second(k, half):
        return BY_REDUCED
    return NONE


@jit.compiled
def _others_give_way(k: Record, flow_ml_min: Whole) -> Whole:
    """Turn one on reduced flow down on the first unit where that makes room; True if there is one."""
    if k.reduced_count == 0:
        return False
    r = rules(k)
    half = r.concentrators_rated_flow_ml_min // 2
    for number in range(k.unit_count):
        u = unit_at(k, number)
        slot = _has_more_than(k, u, half)
        if slot == NONE or u.patient_count >= r.concentrators_outlets:
            continue
        other = patient_at(k, slot)
        less = flow_ml_min - spare_ml_min(k, u)
        if less <= other.given_ml_min - half:
            u.load_ml_min -= less
            give(k, other, other.given_ml_min - less)
            note(k, _LOWERED, other.number, u.number, other.given_ml_min)
            return True
    return False


@jit.compiled
def _has_more_than(k: Record, u: Record, half: Whole) -> Whole:
    """Return who on a unit is on reduced flow of more than half of it, NONE if nobody is."""
    for place in range(u.patient_count):
        slot = on_unit(k, u.number, place).value
        if patient_at(k, slot).reduced and patient_at(k, slot).given_ml_min > half:
            return slot
    return NONE


@jit.compiled
def connect_reduced(k: Record, slot: Whole, p: Record) -> None:
    """Put a patient on the unit with the most flow to spare, for as much of it as is prescribed."""
    u = unit_at(k, most_spare(k))
    join(k, slot, p, u, min(p.flow_ml_min, spare_ml_min(k, u)))
    note(k, _REDUCED, p.number, u.number, p.given_ml_min)


@jit.compiled
def raise_flow(k: Record, slot: Whole, p: Record) -> None:
    """Give one on reduced flow what has come free on the unit, or the rest from a second one."""
    u = unit_at(k, p.unit)
    missing = p.flow_ml_min - p.given_ml_min
    more = min(missing, rules(k).concentrators_rated_flow_ml_min - u.load_ml_min)
    if more > 0:
        u.load_ml_min += more
        give(k, p, p.given_ml_min + more)
        note(k, _RAISED, p.number, u.number, p.given_ml_min)
    if may_take_two(k, p):  # one unit is never enough
        second = unit_with_room(k, missing - more, u.number)
        if second != NONE:
            join_second(k, slot, p, unit_at(k, second), missing - more)
