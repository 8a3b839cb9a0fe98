"""The lead of an open cylinder: the first in line of those on it, by whose place staff come."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record
from o2sim.model.kernel.events import hand_on
from o2sim.model.kernel.layout import NONE, patient_at
from o2sim.model.kernel.queues import before, leave_line, line_up


def hand_over(k: Record, c: Record) -> None:
    """The next in line takes the place of a lead who has left; who was called for the cylinder still comes."""
    gone, first, slot = c.lead, c.first_on, c.first_on
    while slot != NONE:
        if before(patient_at(k, slot), patient_at(k, first)):
            first = slot
        slot = patient_at(k, slot).on_after
    heir, lead = patient_at(k, first), patient_at(k, gone)
    c.lead = first
    heir.task, heir.task_event = lead.task, lead.task_event
    lead.task = lead.task_event = NONE
    if heir.task_event != NONE:
        hand_on(k.calendar, heir.task_event, first)
    elif heir.task != NONE:
        count = leave_line(k.calls, k.call_count, gone)
        if count < k.call_count:  # nobody has come yet
            k.call_count = line_up(k.calls, count, heir.priority, heir.number, first)


jit.compile_file(globals())
