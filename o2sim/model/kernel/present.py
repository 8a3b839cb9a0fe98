"""Those present: a place in memory for each, in the order in which they came."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.events import FULL
from o2sim.model.kernel.layout import NONE, patient_at


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


def forget(k: Record, slot: Whole, p: Record) -> None:
    """Free a patient's place."""
    if p.before == NONE:
        k.first_present = p.after
    else:
        patient_at(k, p.before).after = p.after
    if p.after == NONE:
        k.last_present = p.before
    else:
        patient_at(k, p.after).before = p.before
    p.after, k.patient_free = k.patient_free, slot


jit.compile_file(globals())
