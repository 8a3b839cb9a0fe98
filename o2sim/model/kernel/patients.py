"""Patients: who arrives, leaves, is transferred or sent on, and the flow turned down as a patient improves."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.backup import take_back_backup
from o2sim.model.kernel.bank import may_return
from o2sim.model.kernel.bedside import reckon_gauge_again, release_cylinder
from o2sim.model.kernel.codes import LOG, RANK, STEP
from o2sim.model.kernel.delivery import put_back_delivery
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import end_gap, interruption_by_gap, stop_waiting, wait
from o2sim.model.kernel.layout import (
    NONE,
    class_at,
    class_word_at,
    flow_step_at,
    note,
    number_at,
    open_at,
    patient_at,
    row_at,
    sending_at,
)
from o2sim.model.kernel.ledger import (
    count_transfer,
    count_travel,
    credit_served,
    credit_unserved,
    step_flow,
    turned_away,
)
from o2sim.model.kernel.manifold import release_outlet, turn_outlet_down
from o2sim.model.kernel.noticed import put_back_oximeter
from o2sim.model.kernel.on_cylinder import forget, place_for
from o2sim.model.kernel.opening import credit_cylinder
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.spells import end_short
from o2sim.model.kernel.staff import call_off_staff
from o2sim.model.kernel.transfers import go_with_cylinders
from o2sim.model.kernel.units import release_unit, turn_down
from o2sim.model.patient import FOREVER_S
from o2sim.scenario.types.hospital import PatientClass

BROKEN = 2  # status: a balance does not hold
_TRANSFERS = code(PatientClass, "if_unserved", "transfer")


def next_arrival(k: Record, number: Whole) -> None:
    """Schedule the arrival of a patient by number; only one at a time is pending."""
    if number < k.row_count:
        due_s = row_at(k, number).arrival_s
        schedule(k, due_s, RANK.PATIENT_ARRIVES, number, STEP.PATIENT_ARRIVES, number, 0)


def patient_arrives(k: Record, number: Whole) -> None:
    """A patient begins to need oxygen and joins those waiting."""
    slot = admit(k, number)
    if slot == NONE:
        return
    wait(k, patient_at(k, slot))
    next_arrival(k, number + 1)


def admit(k: Record, number: Whole) -> Whole:
    """A patient is in need, from now on or since before the run; return the place, NONE where there is none."""
    row, slot = row_at(k, number), place_for(k)
    if slot == NONE:
        return NONE
    kind, p = class_at(k, row.class_index), patient_at(k, slot)
    p.slot, p.number, p.class_index, p.priority = slot, number, row.class_index, kind.priority
    p.transfers, p.needs = kind.if_unserved == _TRANSFERS, row.need_s > 0
    p.flowing = p.low = p.affected = p.displaced = p.responding = p.transfer_due = False
    p.short, p.supply_over, p.served_since_s, p.crossing, p.supply_crossing = False, 0, -FOREVER_S, NONE, NONE
    p.waits = p.under_served = p.reduced = p.piped = p.has_delivery = p.has_humidifier = False
    p.first_flow_ml_min, p.given_ml_min, p.steps_met, p.second_ml_min = row.flow_ml_min, 0, 0, 0
    p.flow_ml_min, p.arrival_s, p.need_s = row.flow_ml_min, row.arrival_s, row.need_s
    p.leave_s = row.arrival_s + row.duration_s
    _catch_up(k, p)
    p.unit = p.second_unit = p.cylinder = p.gap_since_s = p.cause = NONE
    p.flow_since_s = p.cause_since_s = p.cylinders = p.losses = p.connections = 0
    p.served_s = p.unserved_s = 0
    p.has_oximeter, p.unseen_losses, p.alarm_s, p.relative_s = False, 0, FOREVER_S, FOREVER_S
    p.luck = class_word_at(k, row.class_index).word + np.uint64(row.ordinal)
    p.ward, p.fetched = number_at(k.wards_of_classes, p.class_index).value, False
    p.backup_kind = p.backup_event = NONE
    p.backup_content = p.units_lost = 0
    p.backup_fresh = p.backup_opening = False
    p.backup_size, p.claimed_size = 0, NONE
    p.claim = p.fetch_event = p.attended_s = p.fetched_s = NONE
    p.task = p.supply_event = p.task_event = p.transfer_event = p.tolerance_event = p.need_event = NONE
    if 0 < row.need_s < row.duration_s:
        due_s = row.arrival_s + row.need_s
        p.need_event = schedule(k, due_s, RANK.PATIENT_LEAVES, number, STEP.NEED_ENDS, slot, 0)
    note(k, LOG.PATIENT_ARRIVES, number, p.class_index, p.flow_ml_min)
    p.leave_event = schedule(k, p.leave_s, RANK.PATIENT_LEAVES, number, STEP.PATIENT_LEAVES, slot, 0)
    next_flow_step(k, p)
    return slot


def _catch_up(k: Record, p: Record) -> None:
    """Let the flow of one in need since before the run have stepped down as often as it was to."""
    kind, age_s = class_at(k, p.class_index), k.now - p.arrival_s
    while (
        age_s > 0
        and p.steps_met < kind.flow_steps_count
        and flow_step_at(kind.flow_steps, p.steps_met).after_s <= age_s
    ):
        p.flow_ml_min = step_flow(k, p, p.steps_met)
        p.steps_met += 1


def need_ends(k: Record, p: Record) -> None:
    """Weaning is late: a patient who is served goes on using oxygen, any other leaves."""
    if not p.flowing:
        patient_leaves(k, p)
        return
    credit_served(k, p)
    p.needs = False
    note(k, LOG.NEED_ENDS, p.number, -1, -1)


def patient_leaves(k: Record, p: Record) -> None:
    """A patient is off oxygen: the source is freed, a gap ends."""
    p.leave_event = call_off(k, p.leave_event)
    p.supply_event = call_off(k, p.supply_event)
    p.step_event = call_off(k, p.step_event)
    release(k, p)
    call_off_staff(k, p)
    put_back_delivery(k, p)
    put_back_oximeter(k, p)
    stop_waiting(k, p)
    end_gap(k, p)
    end_short(k, p)
    take_back_backup(k, p)
    forget(k, p)
    note(k, LOG.PATIENT_LEAVES, p.number, -1, p.unserved_s)
    if p.served_s + p.unserved_s != p.need_s + min(0, p.arrival_s):  # of one met at a count, what was to come
        k.status = BROKEN


def transfer(k: Record, p: Record) -> None:
    """One who can't be served on arrival, or is displaced, leaves at once and is counted."""
    note(k, LOG.PATIENT_TRANSFERRED, p.number, p.cause, -1)
    if k.counts_gaps:
        interruption_by_gap(k, p)
    turned_away(k, p)
    gone(k, p)


def release(k: Record, p: Record) -> None:
    """Free whatever source a patient is connected to."""
    if p.cylinder != NONE:
        release_cylinder(k, p)
    elif p.piped:
        release_outlet(k, p)
    else:
        release_unit(k, p)


def send_on(k: Record, p: Record) -> Whole:
    """A patient leaves for another place, served again by the vehicle's own oxygen or at the end of the way.

    Where cylinders of the place are to go too, and there are none for it, the patient stays; True for going.
    """
    rule = sending_at(k, p.class_index)
    if rule.with_cylinder and not go_with_cylinders(k, p):
        return False
    note(k, LOG.PATIENT_SENT_ON, p.number, p.cause, -1)
    count_travel(k, p, rule.travel_s)
    put_back_oximeter(k, p)
    stop_waiting(k, p)
    p.transfer_due = False
    if rule.oxygen_on_board or rule.travel_s == 0:
        arrives_elsewhere(k, p)
        return True
    due_s = k.now + rule.travel_s
    p.supply_event = schedule(k, due_s, RANK.PATIENT_LEAVES, p.number, STEP.ARRIVES_ELSEWHERE, p.slot, 0)
    return True


def arrives_elsewhere(k: Record, p: Record) -> None:
    """From now on the need is met elsewhere; the gap ends."""
    count_transfer(k, p)
    gone(k, p)


def gone(k: Record, p: Record) -> None:
    """Take a patient who is transferred off the books."""
    p.supply_event = call_off(k, p.supply_event)
    p.leave_event = call_off(k, p.leave_event)
    p.need_event = call_off(k, p.need_event)
    p.step_event = call_off(k, p.step_event)
    put_back_oximeter(k, p)
    stop_waiting(k, p)
    end_gap(k, p)
    end_short(k, p)
    take_back_backup(k, p)
    forget(k, p)


def next_flow_step(k: Record, p: Record) -> None:
    """Schedule the next step of a patient's flow, if it comes before the patient leaves."""
    p.step_event = NONE
    kind = class_at(k, p.class_index)
    while p.steps_met < kind.flow_steps_count and step_flow(k, p, p.steps_met) == p.flow_ml_min:
        p.steps_met += 1  # it changes nothing
    if p.steps_met == kind.flow_steps_count:
        return
    due_s = p.arrival_s + flow_step_at(kind.flow_steps, p.steps_met).after_s
    if due_s < p.leave_s:
        step = STEP.FLOW_STEPS_DOWN
        p.step_event = schedule(k, due_s, RANK.FLOW_STEPS_DOWN, p.number, step, p.slot, 0)


def flow_steps_down(k: Record, p: Record) -> None:
    """A patient needs less from now on, on any source and also in a gap."""
    flow_ml_min = step_flow(k, p, p.steps_met)
    p.steps_met += 1
    note(k, LOG.FLOW_STEPPED_DOWN, p.number, -1, flow_ml_min)
    if p.cylinder != NONE:
        credit_cylinder(k, open_at(k, p.cylinder))
    elif p.flowing:
        credit_served(k, p)
    if p.gap_since_s != NONE:
        credit_unserved(k, p)
    p.flow_ml_min = flow_ml_min
    if p.cylinder != NONE or p.piped:
        may_return(k, p)
    if p.flowing and p.cylinder != NONE:
        p.given_ml_min = flow_ml_min
        reckon_gauge_again(k, p.cylinder, k.now + 1)  # the looks of this instant are over
        k.room_made = True  # a unit may have room for what is needed now
    elif p.flowing and p.piped:
        turn_outlet_down(k, p)
        k.room_made = True
    elif p.flowing:
        turn_down(k, p)
    next_flow_step(k, p)


compile_file(globals())
