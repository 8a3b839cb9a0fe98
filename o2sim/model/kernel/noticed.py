"""Noticed: who finds out between looks that a cylinder has lost its flow: relatives, and oximeters that alarm."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import whole_draw
from o2sim.draws.philox import uniform
from o2sim.model.kernel.chain import NO_SUPPLY
from o2sim.model.kernel.codes import LOG, STREAM
from o2sim.model.kernel.layout import NONE, note, patient_at
from o2sim.model.kernel.queues import before
from o2sim.model.patient import FOREVER_S
from o2sim.model.rules import BY_LOOK, BY_NOTE, BY_OXIMETER, BY_RELATIVE


def give_oximeters(k: Record) -> None:
    """Give free oximeters to the first in line of those on oxygen, on units too, until the end of their stay."""
    while k.oximeters_free > 0:
        first, slot = NONE, k.first_present
        while slot != NONE:
            p = patient_at(k, slot)
            if p.flowing and not p.has_oximeter and (first == NONE or before(p, patient_at(k, first))):
                first = slot
            slot = p.after
        if first == NONE:
            return
        patient_at(k, first).has_oximeter = True
        k.oximeters_free -= 1
        note(k, LOG.OXIMETER_ON, patient_at(k, first).number, k.oximeters_free, -1)


def put_back_oximeter(k: Record, p: Record) -> None:
    """Free the oximeter of a patient, for the next."""
    k.oximeters_free += p.has_oximeter
    p.has_oximeter = False


def expect_notice(k: Record, p: Record) -> None:
    """Draw when oximeter and relative will notice that a patient's flow is lost, where there is need."""
    r = k.rules
    p.alarm_s = p.relative_s = FOREVER_S
    if not r.has_noticed or not p.needs:
        return
    nth = p.unseen_losses
    p.unseen_losses += 1
    if r.has_noticed_by_oximeter and p.has_oximeter:
        law, stream = r.noticed_by_oximeter_after_s, STREAM.NOTICED_BY_OXIMETER
        p.alarm_s = k.now + whole_draw(law, 1, k.seed, k.replication, stream, p.luck, nth)
    if r.has_noticed_by_relatives:
        if uniform(k.seed, k.replication, STREAM.RELATIVE, p.luck, 0) < r.noticed_by_relatives_share:
            law, stream = r.noticed_by_relatives_after_s, STREAM.NOTICED_BY_RELATIVE
            p.relative_s = k.now + whole_draw(law, 1, k.seed, k.replication, stream, p.luck, nth)


def first_to_find(k: Record, c: Record) -> Whole:
    """Return when a cylinder without flow is found, and set by whom: look, noted time, oximeter, relative."""
    due_s, c.found_by = c.look_s, BY_LOOK
    if c.noted_s < due_s:
        due_s, c.found_by = c.noted_s, BY_NOTE
    slot = c.first_on
    while slot != NONE:
        alarm_s = _alarm_s(k, patient_at(k, slot))
        if alarm_s < due_s:
            due_s, c.found_by = alarm_s, BY_OXIMETER
        slot = patient_at(k, slot).on_after
    slot = c.first_on
    while slot != NONE:
        if patient_at(k, slot).relative_s < due_s:
            due_s, c.found_by = patient_at(k, slot).relative_s, BY_RELATIVE
        slot = patient_at(k, slot).on_after
    return due_s


def _alarm_s(k: Record, p: Record) -> Whole:
    """Return when an oximeter alarms, as far as is known: one silent without power does once there is power."""
    if p.alarm_s > k.now:
        return p.alarm_s
    return k.now if has_power(k) else FOREVER_S


def has_power(k: Record) -> Whole:
    """Return True if oximeters can alarm: they need no mains, or something gives power."""
    return not k.rules.noticed_by_oximeter_cut_by_power or k.chain.supply != NO_SUPPLY


compile_file(globals())
