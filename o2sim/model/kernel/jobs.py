"""Jobs of staff and porters by number: what begins as they come, what follows when they are done."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.bedside import ask_for_change, begin_change, change_ends
from o2sim.model.kernel.connecting import ask_for_hands, hands_done, return_begins, return_done
from o2sim.model.kernel.gaps import begin_response, response_ends
from o2sim.model.kernel.generator import GENERATOR_SLOT, begin_to_start
from o2sim.model.kernel.layout import NONE, bank_at, patient_at, waiting_at
from o2sim.model.kernel.manifold import BANK_SLOT, begin_bank_change
from o2sim.model.kernel.queues import leave_line
from o2sim.model.kernel.sources import come_to_connect
from o2sim.model.kernel.staff import connect_time_s, occupy, on_duty


def answer_calls(k: Record) -> None:
    """Begin the jobs of those first in line while somebody is free; the rest wait for staff."""
    while k.call_count > 0 and k.busy < on_duty(k):
        slot = waiting_at(k.calls, 0).slot
        k.call_count = leave_line(k.calls, k.call_count, slot)
        if slot <= BANK_SLOT:
            begin_bank_change(k, bank_at(k, BANK_SLOT - slot))
            continue
        if slot == GENERATOR_SLOT:
            begin_to_start(k)
            continue
        p = patient_at(k, slot)
        if p.task == codes.RESPOND:
            begin_response(k, slot, p)
        elif p.task == codes.CHANGE:
            begin_change(k, p.cylinder)
        elif come_to_connect(k, slot, p) if p.task == codes.CONNECT else return_begins(k, p):
            occupy(k, slot, p, connect_time_s(k))
        else:
            p.task = NONE


def fetched(k: Record, slot: Whole, p: Record) -> None:
    """The cylinder is at the bedside."""
    p.fetch_event, p.fetched = NONE, True
    if p.fetch_for == codes.CHANGE:
        ask_for_change(k, p.cylinder)
    elif connect_time_s(k) > 0:
        ask_for_hands(k, slot, p)
    else:
        hands_done(k, p)


def task_ends(k: Record, slot: Whole, p: Record, task: Whole) -> None:
    """A job is done; the member of staff is free for the next."""
    k.busy -= 1
    p.task = NONE
    if task == codes.RESPOND:
        response_ends(k, slot, p)
    elif task == codes.CONNECT:
        hands_done(k, p)
    elif task == codes.RETURN:
        return_done(k, slot, p)
    else:
        change_ends(k, p.cylinder)


jit.compile_file(globals())
