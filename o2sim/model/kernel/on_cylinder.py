"""Who is on a cylinder in use (OpenCylinder in the reference), and who is present, in the order they came."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import may_return
from o2sim.model.kernel.events import FULL
from o2sim.model.kernel.layout import NONE, open_at, patient_at, store_at


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
    return c.content - given - (k.now - c.leak_since_s) * store_at(k, c.of_size).leak_ml_min


def put_on(k: Record, p: Record, place: Whole) -> None:
    """Put a patient on the cylinder in a place, the last of those on it."""
    c = open_at(k, place)
    p.cylinder, p.on_before, p.on_after = place, c.last_on, NONE
    if c.last_on == NONE:
        c.first_on = p.slot
    else:
        patient_at(k, c.last_on).on_after = p.slot
    c.last_on = p.slot
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
    c.patient_count = c.of_size = c.content = c.leak_since_s = c.gauge_error_gas = c.run_out_s = 0
    c.found_low = c.backup = False
    return place


def place_for(k: Record) -> Whole:
    """Return a free place for a patient, at the end of those present; NONE where there is none."""
    slot = k.patient_free
    if slot != NONE:
        k.patient_free = patient_at(k, slot).after
    elif k.patients_used < k.patient_room:
        slot = k.patients_used
        k.patients_used += 1
    else:
        k.calendar.status = FULL
        return NONE
    p = patient_at(k, slot)
    p.before, p.after = k.last_present, NONE
    if k.last_present == NONE:
        k.first_present = slot
    else:
        patient_at(k, k.last_present).after = slot
    k.last_present = slot
    return slot


def forget(k: Record, p: Record) -> None:
    """Free a patient's place."""
    if p.before == NONE:
        k.first_present = p.after
    else:
        patient_at(k, p.before).after = p.after
    if p.after == NONE:
        k.last_present = p.before
    else:
        patient_at(k, p.after).before = p.before
    p.after, k.patient_free = k.patient_free, p.slot


compile_file(globals())
