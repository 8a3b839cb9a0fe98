"""A cylinder in use and who is on it: OpenCylinder in the reference."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.layout import NONE, open_at, patient_at
from o2sim.model.kernel.spare import may_return


def flows(k: Record, c: Record) -> Whole:
    """Return True if gas reaches those on a cylinder."""
    return patient_at(k, c.lead).flowing


def flow_of(k: Record, c: Record) -> Whole:
    """Return the flow of all on a cylinder together."""
    flow, slot = 0, c.first_on
    while slot != NONE:
        flow += patient_at(k, slot).flow_ml_min
        slot = patient_at(k, slot).on_after
    return flow


def gas_left(k: Record, c: Record) -> Whole:
    """Return the content at this second, what has flowed since it was last credited taken off."""
    if not flows(k, c):
        return c.content
    given, slot = 0, c.first_on
    while slot != NONE:
        p = patient_at(k, slot)
        given += (k.now - p.flow_since_s) * p.flow_ml_min
        slot = p.on_after
    return c.content - given - (k.now - c.leak_since_s) * k.rules.cylinders_leak_ml_min


def put_on(k: Record, slot: Whole, p: Record, place: Whole) -> None:
    """Put a patient on the cylinder in a place, the last of those on it."""
    c = open_at(k, place)
    p.cylinder, p.on_before, p.on_after = place, c.last_on, NONE
    if c.last_on == NONE:
        c.first_on = slot
    else:
        patient_at(k, c.last_on).on_after = slot
    c.last_on = slot
    c.patient_count += 1
    k.on_cylinder += 1
    may_return(k, p)


def take_from(k: Record, p: Record, c: Record) -> None:
    """Take a patient off a cylinder that others are on."""
    if p.on_before == NONE:
        c.first_on = p.on_after
    else:
        patient_at(k, p.on_before).on_after = p.on_after
    if p.on_after == NONE:
        c.last_on = p.on_before
    else:
        patient_at(k, p.on_after).on_before = p.on_before
    c.patient_count -= 1
    k.on_cylinder -= 1
    p.cylinder = NONE


def new_place(k: Record) -> Whole:
    """Return a free place for a regulator set in use; there are as many as patients may be present."""
    place = k.open_free
    if place == NONE:
        place = k.open_used
        k.open_used += 1
    else:
        k.open_free = open_at(k, place).after
    c = open_at(k, place)
    c.lead = c.first_on = c.last_on = c.supply_event = c.looked_s = NONE
    c.patient_count = c.content = c.leak_since_s = c.gauge_error_gas = c.run_out_s = 0
    c.found_low = False
    return place


jit.compile_file(globals())
