"""Gaps: when a patient in need gets nothing, why, and when it becomes an interruption."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.claims import drop_claim
from o2sim.model.kernel.codes import CAUSE, JOB, LOG, RANK, STEP
from o2sim.model.kernel.delivery import put_back_delivery
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.layout import NONE, note, patient_at, sending_at, unit_at
from o2sim.model.kernel.ledger import OF_SUPPLY, count_interruption, count_stock_out, credit_unserved, gap_length
from o2sim.model.kernel.queues import leave_line, line_up
from o2sim.model.kernel.staff import call_off_staff, call_staff, occupy
from o2sim.model.kernel.times import response_time_s


def wait(k: Record, p: Record) -> None:
    """Put a patient in line for a source; `settle` serves or names the cause."""
    if not p.backup_opening:  # which flows through the same delivery set
        put_back_delivery(k, p)
    k.line_count = line_up(k.line, k.line_count, p.priority, p.number, p.slot)
    k.joined += 1
    p.waits, p.joined = True, k.joined
    begin_gap(k, p)


def stop_waiting(k: Record, p: Record) -> None:
    """Take a patient out of the line."""
    drop_claim(k, p)
    if p.waits:
        k.line_count = leave_line(k.line, k.line_count, p.slot)
        p.waits = False


def begin_gap(k: Record, p: Record) -> None:
    """Note that a patient in need gets nothing from now on; one gap goes on through changes of cause."""
    if p.gap_since_s == NONE and p.needs:
        k.gap_count += 1
        p.gap_since_s = p.cause_since_s = k.now
        p.cause = NONE


def set_cause(k: Record, p: Record, cause: Whole) -> None:
    """Name the cause of a gap from now on; naming the first starts the clock of the tolerated gap."""
    if p.gap_since_s == NONE:  # a patient who does not need it
        return
    r = k.rules
    if p.cause == NONE:
        if k.counts_gaps:
            due_s, step = p.gap_since_s + r.tolerated_gap_s, STEP.TOLERANCE_CROSSED
            p.tolerance_event = schedule(k, due_s, RANK.TOLERANCE_CROSSED, p.number, step, p.slot, 0)
        after_s = sending_at(k, p.class_index).after_s
        if after_s != NONE:
            due_s = p.gap_since_s + after_s
            p.transfer_event = schedule(k, due_s, RANK.TRANSFER_DUE, p.number, STEP.TRANSFER_DUE, p.slot, 0)
        note(k, LOG.GAP_BEGINS, p.number, cause, -1)
    elif p.cause != cause:
        credit_unserved(k, p)
        note(k, LOG.CAUSE_CHANGES, p.number, cause, -1)
    p.cause = cause


def tolerance_crossed(k: Record, p: Record) -> None:
    """A gap has exceeded the tolerated gap: an interruption, by the cause that holds now."""
    note(k, LOG.INTERRUPTION, p.number, p.cause, p.gap_since_s)
    interruption_by_gap(k, p)


def interruption_by_gap(k: Record, p: Record) -> None:
    """Count an interruption by the cause that holds now; it is a stock-out where that is the supply."""
    count_interruption(k, p, p.cause)
    if OF_SUPPLY[p.cause]:
        count_stock_out(k, p, p.cause)


def transfer_due(p: Record) -> None:
    """A gap is so long that the patient is to be sent on; `settle` does so as soon as nobody is at the bedside."""
    p.transfer_due = True


def end_gap(k: Record, p: Record) -> None:
    """Close a patient's gap, if there is one; a gap without length leaves no trace."""
    if p.gap_since_s == NONE:
        return
    p.backup_event = call_off(k, p.backup_event)
    p.backup_opening = False
    if p.cause != NONE:
        credit_unserved(k, p)
        p.tolerance_event = call_off(k, p.tolerance_event)
        p.transfer_event = call_off(k, p.transfer_event)
        p.transfer_due = False
        gap_length(k, p.gap_since_s, k.now)
        note(k, LOG.GAP_ENDS, p.number, p.cause, k.now - p.gap_since_s)
    k.gap_count -= 1
    p.gap_since_s = p.cause = NONE


def set_responding(k: Record, p: Record, responding: Whole) -> None:
    """Note whether staff are on their way to a patient after a loss of supply."""
    if p.responding == responding:
        return
    p.responding = responding
    if p.unit != NONE:
        if responding:
            _join_lost(k, p)
        else:
            _leave_lost(k, p)


def _join_lost(k: Record, p: Record) -> None:
    """Put a patient among those whom a unit has lost, by number."""
    u = unit_at(k, p.unit)
    if u.first_lost == NONE or patient_at(k, u.first_lost).number > p.number:
        p.lost_after, u.first_lost = u.first_lost, p.slot
        return
    before = patient_at(k, u.first_lost)
    while before.lost_after != NONE and patient_at(k, before.lost_after).number < p.number:
        before = patient_at(k, before.lost_after)
    p.lost_after, before.lost_after = before.lost_after, p.slot


def _leave_lost(k: Record, p: Record) -> None:
    u = unit_at(k, p.unit)
    if u.first_lost == p.slot:
        u.first_lost = p.lost_after
        return
    before = patient_at(k, u.first_lost)
    while before.lost_after != p.slot:
        before = patient_at(k, before.lost_after)
    before.lost_after = p.lost_after


def lose_supply(k: Record, p: Record) -> None:
    """A patient's supply is lost: staff connect another source after the response time."""
    note(k, LOG.SUPPLY_LOST, p.number, -1, -1)
    call_off_staff(k, p)  # from a move to another source
    if not p.needs:
        response_ends(k, p)
        return
    begin_gap(k, p)
    set_responding(k, p, True)
    p.losses += 1
    if not call_staff(k, p, JOB.RESPOND):
        begin_response(k, p)


def begin_response(k: Record, p: Record) -> None:
    """Staff go to a patient whose supply is lost."""
    duration_s = response_time_s(k, p)
    if duration_s == 0:
        p.task = NONE
        response_ends(k, p)
        return
    set_cause(k, p, CAUSE.CHANGEOVER)
    occupy(k, p, duration_s)


def response_ends(k: Record, p: Record) -> None:
    """Staff are at the bedside: the patient leaves the lost source and waits for any."""
    set_responding(k, p, False)
    p.piped = False
    p.unit = NONE
    attended(k, p)
    wait(k, p)


def attended(k: Record, p: Record) -> None:
    """Staff are at the bedside of a waiting patient: what there is to connect now takes no other job."""
    if k.hands_connect:
        p.attended_s = k.now


compile_file(globals())
