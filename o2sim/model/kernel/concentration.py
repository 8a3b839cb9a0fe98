"""Oxygen concentration: the start-up of a unit, and drift to low; who breathes below what the unit should give."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.codes import LOG, RANK
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.layout import NONE, note, on_unit, patient_at, unit_at
from o2sim.model.kernel.ledger import credit_served


def starts_up(k: Record, u: Record) -> None:
    """A unit begins to run: it takes its time to reach concentration."""
    start_up_s = k.rules.concentrators_start_up_s
    if start_up_s > 0:
        due_s = k.now + start_up_s
        u.start_event = schedule(
            k.calendar, due_s, RANK.TIMER_ENDS, u.number, codes.UP_TO_CONCENTRATION, u.number, 0
        )
        reckon_low(k, u)


def stops(k: Record, u: Record) -> None:
    """A unit stops: its next start is a start from cold."""
    if u.start_event != NONE:
        u.start_event = call_off(k.calendar, u.start_event)
        reckon_low(k, u)


def up_to_concentration(k: Record, u: Record) -> None:
    """A unit has reached its concentration, unless it has drifted."""
    u.start_event = NONE
    reckon_low(k, u)


def drifts_low(k: Record, u: Record) -> None:
    """A unit has drifted below 82 % oxygen."""
    note(k, LOG.UNIT_DRIFTS_LOW, u.number, u.patient_count, -1)
    u.drifted = True
    reckon_low(k, u)


def reckon_low(k: Record, u: Record) -> None:
    """Let those on a unit breathe low concentration while it starts up or has drifted."""
    low = u.start_event != NONE or u.drifted
    if low == u.low:
        return
    u.low = low
    for place in range(u.patient_count):
        p = patient_at(k, on_unit(k, u.number, place).value)
        credit_served(k, p)
        p.low = breathes_low(k, p)


def breathes_low(k: Record, p: Record) -> Whole:
    """Return True if a unit that serves a patient gives low concentration."""
    if p.unit == NONE:
        return False
    return unit_at(k, p.unit).low or (p.second_unit != NONE and unit_at(k, p.second_unit).low)


jit.compile_file(globals())
