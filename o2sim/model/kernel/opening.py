"""Cylinders taken into use on a regulator, and put back: part-used to the rack, else to the empties."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.draws.philox import uniform
from o2sim.model.kernel.claims import give_regulator, on_ward
from o2sim.model.kernel.codes import LOG, STREAM
from o2sim.model.kernel.emergency import consider_emergency
from o2sim.model.kernel.events import call_off
from o2sim.model.kernel.layout import NONE, note, open_at, patient_at, ward_at
from o2sim.model.kernel.ledger import credit_served
from o2sim.model.kernel.looks import enough_gas, gauge_error
from o2sim.model.kernel.on_cylinder import flow_of, flows
from o2sim.model.kernel.queues import content_at, rank
from o2sim.model.kernel.resupply import consider_review, credit_shelf
from o2sim.model.kernel.store import best_content, in_store, open_from_store, open_on_ward, put_back


def may_open(k: Record, p: Record) -> Whole:
    """Return True if there is a cylinder for a patient: one kept on the ward, or one of the store.

    The last few of the store may be kept for a high priority.
    """
    if on_ward(k, p.ward) > 0:
        return True
    r = k.rules
    kept = r.allocation_reserve if p.priority > r.allocation_reserve_priority else 0
    return in_store(k) > kept


def next_content(k: Record, c: Record) -> Whole:
    """Return the content of the cylinder that would be opened next in place of one, 0 where none is usable."""
    ward = patient_at(k, c.lead).ward
    if on_ward(k, ward) > 0:
        return content_at(ward_at(k, ward).shelf, 0)
    return best_content(k, enough_gas(k, flow_of(k, c)))


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
    note(k, LOG.CYLINDER_OPENED, lead.number, k.full, c.content)
    consider_review(k, False)
    consider_emergency(k)


def close_cylinder(k: Record, place: Whole) -> Whole:
    """Take the cylinder and the regulator off all on it; write them to sharers, in line, and return how many."""
    c, count = open_at(k, place), 0
    c.supply_event = call_off(k.calendar, c.supply_event)
    take_off(k, c)
    slot = c.first_on
    while slot != NONE:
        count = rank(k, k.sharers, count, slot)
        patient_at(k, slot).cylinder = NONE
        slot = patient_at(k, slot).on_after
    k.on_cylinder -= count
    c.patient_count, c.first_on, c.last_on = 0, NONE, NONE
    give_regulator(k, patient_at(k, c.lead).ward, c.kind)
    c.after, k.open_free = k.open_free, place
    return count


def take_off(k: Record, c: Record) -> None:
    """Take the cylinder off a regulator: part-used to the rack, else to the empties."""
    content, lead, slot = credit_cylinder(k, c), patient_at(k, c.lead), c.first_on
    while slot != NONE:
        patient_at(k, slot).flowing = False  # credited
        slot = patient_at(k, slot).on_after
    credit_shelf(k)
    chance = k.rules.cylinders_left_open
    if chance > 0 and uniform(k.seed, k.replication, STREAM.LEFT_OPEN, lead.luck, lead.cylinders) < chance:
        note(k, LOG.CYLINDER_LEFT_OPEN, lead.number, -1, content)
        k.ledger.leaked_gas += content
        content = 0
    if put_back(k, content, flow_of(k, c), c.gauge_error_gas):
        note(k, LOG.CYLINDER_RACKED, lead.number, k.rack.count_, content)
        k.stock_came = True
    else:
        k.ledger.cylinders_emptied += 1
        note(k, LOG.CYLINDER_EMPTIED, lead.number, k.empties.count_, content)
        consider_review(k, True)
    if c.before == NONE:
        k.first_open = c.after
    else:
        open_at(k, c.before).after = c.after
    if c.after != NONE:
        open_at(k, c.after).before = c.before
    consider_emergency(k)


def credit_cylinder(k: Record, c: Record) -> Whole:
    """Bring an open cylinder's content up to this second and return it."""
    if flows(k, c):
        slot = c.first_on
        while slot != NONE:
            credit_served(k, patient_at(k, slot))
            slot = patient_at(k, slot).on_after
    return c.content


jit.compile_file(globals())
