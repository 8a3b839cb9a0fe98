"""Reduced flow and two units: who needs more than a unit can give takes the most there is, or is given by two."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import (
    NOBODY,
    SOME,
    can_start,
    first_with,
    flow_from,
    keeps_power,
    most_spare,
    rated_ml_min,
    reckon_spare,
    spare_ml_min,
    unit_with_room,
    who_can_start,
)
from o2sim.model.kernel.codes import LOG, WAY
from o2sim.model.kernel.layout import NONE, note, on_unit, patient_at, unit_at
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.queues import before
from o2sim.model.kernel.units import connect_unit, give, join, join_second, leave_second
from o2sim.scenario.types.hospital import Allocation


def takes_reduced(k: Record, p: Record) -> Whole:
    """Return True if a patient may be given a part of the prescribed flow."""
    r = k.rules
    if not k.has_bank or r.allocation_reduced_flow == NEVER:
        return False
    return r.allocation_reduced_flow == ANY or p.flow_ml_min > rated_ml_min(k, p.ward)


def shared_source(k: Record, p: Record) -> Whole:
    """Return how to connect a patient no source has room for: for a part of the flow, or where others give way.

    So that nobody goes without, patients on reduced flow are turned down, but never below half the rated flow,
    and a patient on two units gives up the second.
    """
    if not k.has_bank:
        return NONE
    if p.flow_ml_min <= rated_ml_min(k, p.ward) and _make_room(k, p, True):
        return WAY.BY_UNIT
    if not takes_reduced(k, p):
        return NONE
    if most_spare(k, p.ward) != NONE or _make_room(k, p, False):
        return WAY.BY_REDUCED
    return NONE


def may_share(k: Record, p: Record) -> Whole:
    """Return True if shared_source would find something, which others have to give way for or not."""
    if not k.has_bank:
        return False
    if p.flow_ml_min <= rated_ml_min(k, p.ward) and _could_make_room(k, p, True):
        return True
    if not takes_reduced(k, p):
        return False
    return most_spare(k, p.ward) != NONE or _could_make_room(k, p, False)


def _could_make_room(k: Record, p: Record, whole: Whole) -> Whole:
    return _where_one_gives_way(k, p, whole) != NONE or whose_second(k, p, whole) != NONE


def asked_of(u: Record, p: Record, whole: Whole) -> Whole:
    """Return the room that a patient needs on a unit: for the whole flow, or in part for half of what it gives."""
    return p.flow_ml_min if whole else max(1, min(p.flow_ml_min, u.rated_ml_min // 2))


def _make_room(k: Record, p: Record, whole: Whole) -> Whole:
    """Turn a patient on reduced flow down, or take the second unit of one on two; True if that makes room."""
    number = _where_one_gives_way(k, p, whole)
    if number == NONE:
        return give_up_second(k, p, whole)
    u = unit_at(k, number)
    other = patient_at(k, _has_more_than(k, u, u.rated_ml_min // 2))
    less = asked_of(u, p, whole) - spare_ml_min(u)
    u.load_ml_min -= less
    reckon_spare(k, u)
    give(k, other, other.given_ml_min - less)
    note(k, LOG.FLOW_LOWERED, other.number, u.number, other.given_ml_min)
    return True


def _where_one_gives_way(k: Record, p: Record, whole: Whole) -> Whole:
    """Return the first unit of the ward where turning one on reduced flow down makes room, NONE if none is."""
    if k.reduced_count == 0:
        return NONE
    for number in range(k.unit_count):
        u = unit_at(k, number)
        half = u.rated_ml_min // 2
        slot = _has_more_than(k, u, half) if u.ward == p.ward else NONE
        if slot == NONE or u.patient_count + u.expected_count >= u.outlets:
            continue
        if asked_of(u, p, whole) - spare_ml_min(u) <= patient_at(k, slot).given_ml_min - half:
            return number
    return NONE


def _has_more_than(k: Record, u: Record, half: Whole) -> Whole:
    """Return who on a unit is on reduced flow of more than half of it, NONE if nobody is."""
    for place in range(u.patient_count):
        slot = on_unit(k, u.number, place).value
        if patient_at(k, slot).reduced and patient_at(k, slot).given_ml_min > half:
            return slot
    return NONE


def connect_reduced(k: Record, p: Record) -> None:
    """Put a patient on the unit with the most flow to spare, for as much of it as is prescribed."""
    u = unit_at(k, most_spare(k, p.ward))
    join(k, p, u, min(p.flow_ml_min, spare_ml_min(u)))
    note(k, LOG.REDUCED_FLOW, p.number, u.number, p.given_ml_min)


def raise_flow(k: Record, p: Record) -> None:
    """Give a patient on reduced flow what has come free on the unit, or the rest from a second one."""
    u = unit_at(k, p.unit)
    missing = p.flow_ml_min - p.given_ml_min
    more = min(missing, u.rated_ml_min - u.load_ml_min - u.expected_ml_min)
    if more > 0:
        u.load_ml_min += more
        reckon_spare(k, u)
        give(k, p, p.given_ml_min + more)
        note(k, LOG.FLOW_RAISED, p.number, u.number, p.given_ml_min)
    if may_take_two(k, p):  # one unit is never enough
        second = unit_with_room(k, missing - more, p.ward, u.number)
        if second != NONE:
            join_second(k, p, unit_at(k, second), missing - more)


NEVER, ANY = (code(Allocation, "reduced_flow", word) for word in ("never", "any"))


def may_take_two(k: Record, p: Record) -> Whole:
    """Return True if a patient may be served by two units."""
    return k.has_bank and k.rules.allocation_two_units and p.flow_ml_min > rated_ml_min(k, p.ward)


def on_units(k: Record, p: Record) -> Whole:
    """Return how units give a patient the full flow: one, or two where that is allowed; NONE if they cannot."""
    if not k.has_bank:
        return NONE
    if unit_with_room(k, p.flow_ml_min, p.ward, NONE) != NONE:
        return WAY.BY_UNIT
    if may_take_two(k, p):
        first = most_spare(k, p.ward)
        if first != NONE and other_for(k, first, p.flow_ml_min) != NONE:
            return WAY.BY_TWO
    return NONE


def connect_on_units(k: Record, p: Record, source: Whole) -> None:
    """Connect a patient as `on_units` has found."""
    if source == WAY.BY_UNIT:
        connect_unit(k, p)
    else:
        connect_two(k, p)


def connect_two(k: Record, p: Record) -> None:
    """Let the unit with the most flow to spare give that, and another the rest."""
    first = most_spare(k, p.ward)
    second = other_for(k, first, p.flow_ml_min)
    u = unit_at(k, first)
    join(k, p, u, spare_ml_min(u))
    join_second(k, p, unit_at(k, second), p.flow_ml_min - p.given_ml_min)


def other_for(k: Record, first: Whole, flow_ml_min: Whole) -> Whole:
    """Return the lowest-numbered unit beside one that has room for the rest of a flow, NONE if there is none."""
    u = unit_at(k, first)
    rest, load_w = flow_ml_min - spare_ml_min(u), k.running_w + (u.watts if u.patient_count == 0 else 0)
    starting = who_can_start(k, load_w)
    number = first_with(k, u.ward, rest, starting == NOBODY, 0)
    while number != NONE:
        other = unit_at(k, number)
        if number != first and (starting != SOME or other.patient_count > 0 or can_start(k, other, load_w)):
            return number
        number = first_with(k, u.ward, rest, starting == NOBODY, number + 1)
    return NONE


def give_up_second(k: Record, p: Record, whole: Whole) -> Whole:
    """Take the second unit from the last in line of those with two, where that makes room; True if it does."""
    slot = whose_second(k, p, whole)
    if slot == NONE:
        return False
    other = patient_at(k, slot)
    leave_second(k, other)
    note(k, LOG.REDUCED_FLOW, other.number, other.unit, other.given_ml_min)
    return True


def whose_second(k: Record, p: Record, whole: Whole) -> Whole:
    """Return the last in line of those with two units whose second makes room for another, NONE if none does."""
    r = k.rules
    if not r.allocation_two_units or r.allocation_reduced_flow == NEVER:
        return NONE
    best, slot = NONE, k.first_present
    while slot != NONE:
        other = patient_at(k, slot)
        if (
            other.second_unit != NONE
            and other.ward == p.ward
            and (best == NONE or before(patient_at(k, best), other))
        ):
            second = unit_at(k, other.second_unit)
            load = second.load_ml_min + second.expected_ml_min - other.second_ml_min
            load += asked_of(second, p, whole)
            if load <= second.rated_ml_min and keeps_power(k, second):
                best = slot
        slot = other.after
    return best


def two_lack_power(k: Record, flow_ml_min: Whole, ward: Whole) -> Whole:
    """Return True if two units have room for a flow, so that nothing but power keeps it from being served."""
    most, next_most = 0, 0
    for number in range(k.unit_count):
        spare = spare_ml_min(unit_at(k, number)) if unit_at(k, number).ward == ward else 0
        if spare > most:
            most, next_most = spare, most
        elif spare > next_most:
            next_most = spare
    return most + next_most >= flow_ml_min


def unit_would_do(k: Record, p: Record, other: Record, number: Whole) -> Whole:
    """Return True if a unit that serves another would serve this patient in its place."""
    if number == NONE:
        return False
    u = unit_at(k, number)
    return u.load_ml_min - flow_from(other, number) + p.flow_ml_min <= u.rated_ml_min and keeps_power(k, u)


compile_file(globals())
