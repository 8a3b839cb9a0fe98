"""Two units: a flow above what one unit gives may come from two, which a Y-piece brings together."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.bank import flow_from, most_spare, unit_with_room
from o2sim.model.kernel.codes import LOG
from o2sim.model.kernel.layout import NONE, note, patient_at, unit_at
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.queues import before
from o2sim.model.kernel.spare import first_with, spare_ml_min
from o2sim.model.kernel.units import connect_unit, join, join_second, leave_second
from o2sim.scenario.types.hospital import Allocation

NEVER, ANY = (code(Allocation, "reduced_flow", word) for word in ("never", "any"))


def may_take_two(k: Record, p: Record) -> Whole:
    """Return True if a patient may be served by two units."""
    r = k.rules
    return k.has_bank and r.allocation_two_units and p.flow_ml_min > r.concentrators_rated_flow_ml_min


def on_units(k: Record, p: Record) -> Whole:
    """Return how units give a patient the full flow: one, or two where that is allowed; NONE if they cannot."""
    if not k.has_bank:
        return NONE
    if unit_with_room(k, p.flow_ml_min, p.ward, NONE) != NONE:
        return codes.BY_UNIT
    if may_take_two(k, p):
        first = most_spare(k, p.ward)
        if first != NONE and _other(k, first, p.flow_ml_min) != NONE:
            return codes.BY_TWO
    return NONE


def connect_on_units(k: Record, slot: Whole, p: Record, source: Whole) -> None:
    """Connect a patient as `on_units` has found."""
    if source == codes.BY_UNIT:
        connect_unit(k, slot, p)
    else:
        connect_two(k, slot, p)


def connect_two(k: Record, slot: Whole, p: Record) -> None:
    """Let the unit with the most flow to spare give that, and another the rest."""
    first = most_spare(k, p.ward)
    second = _other(k, first, p.flow_ml_min)
    u = unit_at(k, first)
    join(k, slot, p, u, spare_ml_min(k, u))
    join_second(k, slot, p, unit_at(k, second), p.flow_ml_min - p.given_ml_min)


def _other(k: Record, first: Whole, flow_ml_min: Whole) -> Whole:
    """Return the lowest-numbered unit beside one that has room for the rest of a flow, NONE if there is none."""
    rest = flow_ml_min - spare_ml_min(k, unit_at(k, first))
    may_start = k.running + (unit_at(k, first).patient_count == 0) < k.most_running
    ward = unit_at(k, first).ward
    number = first_with(k, ward, rest, not may_start, 0)
    return number if number != first else first_with(k, ward, rest, not may_start, first + 1)


def give_up_second(k: Record, ward: Whole, flow_ml_min: Whole) -> Whole:
    """Take the second unit from the last in line of those with two, where that makes room; True if it does."""
    slot = whose_second(k, ward, flow_ml_min)
    if slot == NONE:
        return False
    other = patient_at(k, slot)
    leave_second(k, slot, other)
    note(k, LOG.REDUCED_FLOW, other.number, other.unit, other.given_ml_min)
    return True


def whose_second(k: Record, ward: Whole, flow_ml_min: Whole) -> Whole:
    """Return the last in line of those with two units whose second makes room for a flow, NONE if none does."""
    r = k.rules
    if not r.allocation_two_units or r.allocation_reduced_flow == NEVER:
        return NONE
    best, slot = NONE, k.first_present
    while slot != NONE:
        other = patient_at(k, slot)
        if (
            other.second_unit != NONE
            and other.ward == ward
            and (best == NONE or before(patient_at(k, best), other))
        ):
            second = unit_at(k, other.second_unit)
            load = second.load_ml_min + second.expected_ml_min - other.second_ml_min + flow_ml_min
            if load <= r.concentrators_rated_flow_ml_min:
                best = slot
        slot = other.after
    return best


def two_lack_power(k: Record, flow_ml_min: Whole, ward: Whole) -> Whole:
    """Return True if two units have room for a flow, so that nothing but power keeps it from being served."""
    most, next_most = 0, 0
    for number in range(k.unit_count):
        spare = spare_ml_min(k, unit_at(k, number)) if unit_at(k, number).ward == ward else 0
        if spare > most:
            most, next_most = spare, most
        elif spare > next_most:
            next_most = spare
    return most + next_most >= flow_ml_min


def unit_would_do(k: Record, p: Record, other: Record, number: Whole) -> Whole:
    """Return True if a unit that serves another would serve this patient in its place."""
    if number == NONE:
        return False
    load = unit_at(k, number).load_ml_min - flow_from(other, number) + p.flow_ml_min
    return load <= k.rules.concentrators_rated_flow_ml_min


jit.compile_file(globals())
