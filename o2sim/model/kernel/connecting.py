"""Connecting a waiting patient: a cylinder is fetched from the store, staff connect it; else it takes no time."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import unit_with_room
from o2sim.model.kernel.bedside import release_cylinder
from o2sim.model.kernel.claims import (
    claim_backup,
    claim_cylinder,
    claim_unit,
    drop_claim,
    fetch,
    fetch_time_s,
    has_backup,
    seen_to,
)
from o2sim.model.kernel.codes import CAUSE, JOB, LOG, SOURCE, WAY
from o2sim.model.kernel.gaps import set_cause, wait
from o2sim.model.kernel.layout import NONE, note, patient_at, waiting_at
from o2sim.model.kernel.reduced_flow import connect_on_units, on_units
from o2sim.model.kernel.sizes import to_open
from o2sim.model.kernel.staff import call_off_staff, call_staff


def drop_what_waits(k: Record) -> None:
    """What is kept for a patient whom staff have yet to reach goes to the first in line now."""
    for place in range(k.line_count):
        p = patient_at(k, waiting_at(k.line, place).slot)
        if p.claim != NONE and p.task != NONE and not _under_way(p):
            drop_claim(k, p)


def _under_way(p: Record) -> Whole:
    """Return True if a cylinder is on its way or at the bedside, or staff are."""
    return p.fetch_event != NONE or p.fetched or _at_work(p)


def _at_work(p: Record) -> Whole:
    return p.task != NONE and p.task_event != NONE


def being_connected(k: Record, p: Record) -> Whole:
    """Return True if a source is on its way; a fetch is called off where a unit that goes first has room."""
    if _at_work(p):
        return True
    if p.claim == NONE or not _under_way(p):
        return False
    if p.claim < NONE and k.source_places[SOURCE.CONCENTRATOR] == 0 and on_units(k, p) != NONE:
        call_off_staff(k, p)
        return False
    return True


def needs_hands(k: Record, p: Record) -> Whole:
    """Return True if staff have yet to come to connect a patient who waits."""
    return k.hands_connect and p.attended_s != k.now


def takes_time(k: Record, p: Record, source: Whole) -> Whole:
    """Return True if a source has to be fetched or connected by staff."""
    return k.takes_time and (needs_hands(k, p) or _fetch_s(k, p, source) > 0)


def _fetch_s(k: Record, p: Record, source: Whole) -> Whole:
    if source != WAY.BY_CYLINDER or p.fetched_s == k.now or has_backup(k, p):
        return 0
    return fetch_time_s(k, p, to_open(k, p))


def keep_source(k: Record, p: Record, source: Whole) -> None:
    """Keep a source for a patient until it is connected; part of a flow, or two units, are not kept."""
    if source == WAY.BY_UNIT:
        claim_unit(k, p, unit_with_room(k, p.flow_ml_min, p.ward, NONE))
    elif source == WAY.BY_CYLINDER and has_backup(k, p):
        claim_backup(p)
    elif source == WAY.BY_CYLINDER:
        claim_cylinder(k, p, to_open(k, p))


def begin_connecting(k: Record, p: Record, source: Whole) -> None:
    """Keep a source for a patient; have it fetched, and then connected by staff."""
    fetch_s = _fetch_s(k, p, source)
    keep_source(k, p, source)
    if fetch_s > 0:
        _stop_asking(k, p)
        fetch(k, p, fetch_s, JOB.CONNECT)
    else:
        ask_for_hands(k, p)


def _stop_asking(k: Record, p: Record) -> None:
    claim = p.claim
    p.claim = NONE
    call_off_staff(k, p)
    p.claim = claim


def ask_for_hands(k: Record, p: Record) -> None:
    """Ask for staff to connect a patient, if they are not asked for already."""
    if p.task == NONE:
        call_staff(k, p, JOB.CONNECT)


def hands_come(k: Record, p: Record) -> None:
    """Staff begin to connect a patient."""
    note(k, LOG.CONNECTING_BEGINS, p.number, -1, -1)
    set_cause(k, p, CAUSE.CHANGEOVER)


def hands_done(k: Record, p: Record) -> None:
    """All is at the bedside: the patient is the first to be served by `settle`, at this second."""
    drop_claim(k, p)
    p.attended_s = p.fetched_s = k.now


def name_cause(k: Record, p: Record) -> None:
    """Name the cause of the gap of a patient who is seen to: changeover, unless staff have yet to come."""
    if p.fetch_event != NONE or _at_work(p) or p.backup_opening:
        set_cause(k, p, CAUSE.CHANGEOVER)


def return_by_staff(k: Record, p: Record) -> None:
    """Ask for staff to move a patient from a cylinder back to a unit; the cylinder flows on until it is done."""
    if not seen_to(p):
        call_staff(k, p, JOB.RETURN)


def return_begins(k: Record, p: Record) -> Whole:
    """Staff come to move a patient back to a unit; False if none has room any more."""
    source = on_units(k, p)
    if source == NONE:
        return False
    keep_source(k, p, source)
    return True


def return_done(k: Record, p: Record) -> None:
    """The patient is moved; if the unit is gone meanwhile the cylinder stays, unless it has run out."""
    drop_claim(k, p)
    source = on_units(k, p)
    if source == NONE and p.flowing:
        return
    release_cylinder(k, p)
    if source != NONE:
        connect_on_units(k, p, source)
    else:
        wait(k, p)


compile_file(globals())
