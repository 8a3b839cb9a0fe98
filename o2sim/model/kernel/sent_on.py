"""Transfer of patients who have been unserved for too long."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.codes import LOG, RANK
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import end_gap, stop_waiting
from o2sim.model.kernel.layout import note, sending_at
from o2sim.model.kernel.ledger import count_transfer, count_travel
from o2sim.model.kernel.present import forget


def send_on(k: Record, slot: Whole, p: Record) -> None:
    """A patient leaves for another place, served again by the vehicle's own oxygen or at the end of the way."""
    rule = sending_at(k, p.class_index)
    note(k, LOG.PATIENT_SENT_ON, p.number, p.cause, -1)
    count_travel(k, p, rule.travel_s)
    stop_waiting(k, slot, p)
    p.transfer_due = False
    if rule.oxygen_on_board or rule.travel_s == 0:
        arrives_elsewhere(k, slot, p)
        return
    due_s = k.now + rule.travel_s
    p.supply_event = schedule(k.calendar, due_s, RANK.PATIENT_LEAVES, p.number, codes.ARRIVES_ELSEWHERE, slot, 0)


def arrives_elsewhere(k: Record, slot: Whole, p: Record) -> None:
    """From now on the need is met elsewhere; the gap ends."""
    count_transfer(k, p)
    gone(k, slot, p)


def gone(k: Record, slot: Whole, p: Record) -> None:
    """Take a patient who is transferred off the books."""
    p.supply_event = call_off(k.calendar, p.supply_event)
    p.leave_event = call_off(k.calendar, p.leave_event)
    p.need_event = call_off(k.calendar, p.need_event)
    p.step_event = call_off(k.calendar, p.step_event)
    stop_waiting(k, slot, p)
    end_gap(k, p)
    forget(k, slot, p)


jit.compile_file(globals())
