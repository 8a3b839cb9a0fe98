"""Cylinders taken into use on a regulator, and put back: part-used to the rack, else to the empties."""

from __future__ import annotations

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.philox import stable_hash, uniform
from o2sim.model.kernel.claims import give_regulator, on_ward
from o2sim.model.kernel.emergency import consider_emergency
from o2sim.model.kernel.events import call_off
from o2sim.model.kernel.layout import NONE, note, note_code, number_at, open_at, patient_at, ward_at
from o2sim.model.kernel.ledger import credit_served
from o2sim.model.kernel.looks import enough_gas, gauge_error
from o2sim.model.kernel.queues import before, content_at
from o2sim.model.kernel.resupply import consider_review, credit_shelf
from o2sim.model.kernel.spare import may_return
from o2sim.model.kernel.store import best_content, in_store, open_from_store, open_on_ward, put_back

_LEFT_OPEN = np.uint64(stable_hash("left open"))
_OPENED = note_code("cylinder opened")
_OPEN = note_code("cylinder left open")
_RACKED = note_code("cylinder racked")
_EMPTIED = note_code("cylinder emptied")


@jit.compiled
def may_open(k: Record, p: Record) -> Whole:
    """Return True if there is a cylinder for a patient: one kept on the ward, or one of the store.

    The last few of the store may be kept for a high priority.
    """
    if on_ward(k, p.ward) > 0:
        return True
    r = k.rules
    kept = r.allocation_reserve if p.priority > r.allocation_reserve_priority else 0
    return in_store(k) > kept


@jit.compiled
def next_content(k: Record, c: Record) -> Whole:
    """Return the content of the cylinder that would be opened next in place of one, 0 where none is usable."""
    ward = patient_at(k, c.lead).ward
    if on_ward(k, ward) > 0:
        return content_at(ward_at(k, ward).shelf, 0)
    return best_content(k, enough_gas(k, flow_of(k, c)))


@jit.compiled
def flows(k: Record, c: Record) -> Whole:
    """Return True if gas reaches those on a cylinder."""
    return patient_at(k, c.lead).flowing


@jit.compiled
def flow_of(k: Record, c: Record) -> Whole:
    """Return the flow of all on a cylinder together."""
    flow, slot = 0, c.first_on
    while slot != NONE:
        flow += patient_at(k, slot).flow_ml_min
        slot = patient_at(k, slot).on_after
    return flow


@jit.compiled
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


@jit.compiled
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


@jit.compiled
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


@jit.compiled
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


@jit.compiled
def open_cylinder(k: Record, place: Whole) -> None:
    """Take a cylinder into use on the regulator in a place."""
    c = open_at(k, place)
    lead = patient_at(k, c.lead)
    credit_shelf(k)
    if on_ward(k, lead.ward) > 0:
        c.content = open_on_ward(k, lead.ward)
    else:
        c.content = open_from_store(k, enough_gas(k, flow_of(k, c)))
    c.gauge_error_gas = gauge_error(k, lead)
    lead.cylinders += 1
    c.found_low, c.number = False, k.opened
    k.opened += 1
    c.before, c.after = NONE, k.first_open
    if k.first_open != NONE:
        open_at(k, k.first_open).before = place
    k.first_open = place
    k.ledger.cylinders_opened += 1
    k.fewest_full = min(k.fewest_full, k.full)
    note(k, _OPENED, lead.number, k.full, c.content)
    consider_review(k, False)
    consider_emergency(k)


@jit.compiled
def close_cylinder(k: Record, place: Whole) -> Whole:
    """Take the cylinder and the regulator off all on it; write them to sharers, in line, and return how many."""
    c, count = open_at(k, place), 0
    c.supply_event = call_off(k.calendar, c.supply_event)
    take_off(k, c)
    slot = c.first_on
    while slot != NONE:
        p, there = patient_at(k, slot), count
        while there > 0 and before(p, patient_at(k, number_at(k.sharers, there - 1).value)):
            number_at(k.sharers, there).value = number_at(k.sharers, there - 1).value
            there -= 1
        number_at(k.sharers, there).value = slot
        count += 1
        p.cylinder, slot = NONE, p.on_after
    k.on_cylinder -= count
    c.patient_count, c.first_on, c.last_on = 0, NONE, NONE
    give_regulator(k, patient_at(k, c.lead).ward, c.kind)
    c.after, k.open_free = k.open_free, place
    return count


@jit.compiled
def take_off(k: Record, c: Record) -> None:
    """Take the cylinder off a regulator: part-used to the rack, else to the empties."""
    content, lead, slot = credit_cylinder(k, c), patient_at(k, c.lead), c.first_on
    while slot != NONE:
        patient_at(k, slot).flowing = False  # credited
        slot = patient_at(k, slot).on_after
    credit_shelf(k)
    chance = k.rules.cylinders_left_open
    if chance > 0 and uniform(k.seed, k.replication, _LEFT_OPEN, lead.luck, lead.cylinders) < chance:
        note(k, _OPEN, lead.number, -1, content)
        k.ledger.leaked_gas += content
        content = 0
    if put_back(k, content, flow_of(k, c), c.gauge_error_gas):
        note(k, _RACKED, lead.number, k.rack.count_, content)
        k.stock_came = True
    else:
        k.ledger.cylinders_emptied += 1
        note(k, _EMPTIED, lead.number, k.empties.count_, content)
        consider_review(k, True)
    if c.before == NONE:
        k.first_open = c.after
    else:
        open_at(k, c.before).after = c.after
    if c.after != NONE:
        open_at(k, c.after).before = c.before
    consider_emergency(k)


@jit.compiled
def credit_cylinder(k: Record, c: Record) -> Whole:
    """Bring an open cylinder's content up to this second and return it."""
    if flows(k, c):
        slot = c.first_on
        while slot != NONE:
            credit_served(k, patient_at(k, slot))
            slot = patient_at(k, slot).on_after
    return c.content
