"""Patients: who arrives, who leaves, who is transferred."""

from __future__ import annotations

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.bedside import release_cylinder
from o2sim.model.kernel.codes import LOG, RANK
from o2sim.model.kernel.delivery import put_back_delivery
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.flow_steps import next_flow_step
from o2sim.model.kernel.gaps import end_gap, stop_waiting, wait
from o2sim.model.kernel.layout import NONE, class_at, class_word_at, note, number_at, patient_at, row_at
from o2sim.model.kernel.ledger import credit_served, turned_away
from o2sim.model.kernel.manifold import release_outlet
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.present import forget, place_for
from o2sim.model.kernel.sent_on import gone
from o2sim.model.kernel.staff import call_off_staff
from o2sim.model.kernel.units import release_unit
from o2sim.scenario.types.hospital import PatientClass

BROKEN = 2  # status: a balance does not hold
_TRANSFERS = code(PatientClass, "if_unserved", "transfer")


def next_arrival(k: Record, number: Whole) -> None:
    """Schedule the arrival of a patient by number; only one at a time is pending."""
    if number < k.row_count:
        due_s = row_at(k, number).arrival_s
        schedule(k.calendar, due_s, RANK.PATIENT_ARRIVES, number, codes.PATIENT_ARRIVES, number, 0)


def patient_arrives(k: Record, number: Whole) -> None:
    """A patient begins to need oxygen and joins those waiting."""
    row, slot = row_at(k, number), place_for(k)
    if slot == NONE:
        return
    kind, p = class_at(k, row.class_index), patient_at(k, slot)
    p.slot, p.number, p.class_index, p.priority = slot, number, row.class_index, kind.priority
    p.transfers, p.needs = kind.if_unserved == _TRANSFERS, row.need_s > 0
    p.flowing = p.low = p.affected = p.displaced = p.responding = p.transfer_due = False
    p.waits = p.under_served = p.reduced = p.piped = p.has_delivery = p.has_humidifier = False
    p.first_flow_ml_min, p.given_ml_min, p.steps_met, p.second_ml_min = row.flow_ml_min, 0, 0, 0
    p.flow_ml_min, p.arrival_s, p.leave_s, p.need_s = row.flow_ml_min, k.now, k.now + row.duration_s, row.need_s
    p.unit = p.second_unit = p.cylinder = p.gap_since_s = p.cause = NONE
    p.flow_since_s = p.cause_since_s = p.cylinders = 0
    p.served_s = p.unserved_s = 0
    p.luck = class_word_at(k, row.class_index).word + np.uint64(row.ordinal)
    p.ward, p.claim, p.fetch_event, p.fetched = (
        number_at(k.wards_of_classes, p.class_index).value,
        NONE,
        NONE,
        False,
    )
    p.attended_s = p.fetched_s = NONE
    p.task = p.supply_event = p.task_event = p.transfer_event = p.tolerance_event = p.need_event = NONE
    if 0 < row.need_s < row.duration_s:
        p.need_event = schedule(
            k.calendar, k.now + row.need_s, RANK.PATIENT_LEAVES, number, codes.NEED_ENDS, slot, 0
        )
    note(k, LOG.PATIENT_ARRIVES, number, p.class_index, p.flow_ml_min)
    p.leave_event = schedule(k.calendar, p.leave_s, RANK.PATIENT_LEAVES, number, codes.PATIENT_LEAVES, slot, 0)
    next_flow_step(k, slot, p)
    wait(k, slot, p)
    next_arrival(k, number + 1)


def need_ends(k: Record, slot: Whole, p: Record) -> None:
    """Weaning is late: a patient who is served goes on using oxygen, any other leaves."""
    if not p.flowing:
        patient_leaves(k, slot, p)
        return
    credit_served(k, p)
    p.needs = False
    note(k, LOG.NEED_ENDS, p.number, -1, -1)


def patient_leaves(k: Record, slot: Whole, p: Record) -> None:
    """A patient is off oxygen: the source is freed, a gap ends."""
    p.leave_event = call_off(k.calendar, p.leave_event)
    p.supply_event = call_off(k.calendar, p.supply_event)
    p.step_event = call_off(k.calendar, p.step_event)
    release(k, slot, p)
    call_off_staff(k, slot, p)
    put_back_delivery(k, p)
    stop_waiting(k, slot, p)
    end_gap(k, p)
    forget(k, slot, p)
    note(k, LOG.PATIENT_LEAVES, p.number, -1, p.unserved_s)
    if p.served_s + p.unserved_s != p.need_s:
        k.status = BROKEN


def transfer(k: Record, slot: Whole, p: Record) -> None:
    """One who can't be served on arrival, or is displaced, leaves at once and is counted."""
    note(k, LOG.PATIENT_TRANSFERRED, p.number, p.cause, -1)
    turned_away(k, p)
    gone(k, slot, p)


def release(k: Record, slot: Whole, p: Record) -> None:
    """Free whatever source a patient is connected to."""
    if p.cylinder != NONE:
        release_cylinder(k, p)
    elif p.piped:
        release_outlet(k, p)
    else:
        release_unit(k, slot, p)


jit.compile_file(globals())
