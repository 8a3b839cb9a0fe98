"""Connecting a waiting patient: a cylinder is fetched from the store, staff connect it; else it takes no time."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.patient import Patient
from o2sim.model.state import State, there
from o2sim.model.steps.bedside import connect_cylinder, release_cylinder
from o2sim.model.steps.claims import (
    claim_backup,
    claim_cylinder,
    claim_unit,
    drop_claim,
    fetch,
    fetch_time_s,
    has_backup,
)
from o2sim.model.steps.gaps import set_cause, wait
from o2sim.model.steps.reduced_flow import on_units
from o2sim.model.steps.sizes import to_open
from o2sim.model.steps.staff import call_off_staff, call_staff
from o2sim.model.steps.times import connect_time_s
from o2sim.model.steps.units import connect_unit
from o2sim.outcome import Cause

Connect = Callable[[State, Patient], None]
Begin = Callable[[State, Patient], bool]


def line(state: State) -> list[Patient]:
    """Return those who wait, by their place in line.

    What is kept for a patient whom staff have yet to reach goes to the first in line now.
    """
    waiting = [patient for _, patient in state.waiting]
    if not state.takes_time:
        return waiting
    for patient in waiting:
        if patient.claim is not None and patient.task is not None and not _under_way(patient):
            drop_claim(state, patient)
    return waiting


def at_bedside(state: State) -> list[Patient]:
    """Return those who wait with all they need at the bedside: they are connected before anybody is called."""
    if not state.takes_time:
        return []
    waiting = [patient for _, patient in state.waiting]
    return [patient for patient in waiting if patient.attended_s == state.now and not patient.seen_to]


def _under_way(patient: Patient) -> bool:
    """Return True if a cylinder is on its way or at the bedside, or staff are."""
    return patient.fetch_event is not None or patient.fetched or _at_work(patient)


def _at_work(patient: Patient) -> bool:
    return patient.task is not None and patient.task.event is not None


def being_connected(state: State, patient: Patient) -> bool:
    """Return True if a source is on its way; a fetch is called off where a unit that goes first has room."""
    if _at_work(patient):
        return True
    if patient.claim is None or not _under_way(patient):
        return False
    units_first = state.rules.strategy.sources[0] == "concentrator"
    if patient.claim < 0 and units_first and on_units(state, patient) is not None:
        call_off_staff(state, patient)
        return False
    return True


def needs_hands(state: State, patient: Patient) -> bool:
    """Return True if staff have yet to come to connect a patient who waits."""
    return state.hands_connect and patient.attended_s != state.now


def takes_time(state: State, patient: Patient, connect: Connect) -> bool:
    """Return True if a source has to be fetched or connected by staff."""
    return state.takes_time and (needs_hands(state, patient) or _fetch_s(state, patient, connect) > 0)


def _fetch_s(state: State, patient: Patient, connect: Connect) -> int:
    if connect is not connect_cylinder or patient.fetched_s == state.now or has_backup(patient):
        return 0
    return fetch_time_s(state, patient, there(to_open(state, patient)))


def keep_source(state: State, patient: Patient, connect: Connect) -> None:
    """Keep a source for a patient until it is connected; part of a flow, or two units, are not kept."""
    if connect is connect_unit:
        claim_unit(state, patient)
    elif connect is connect_cylinder and has_backup(patient):
        claim_backup(patient)
    elif connect is connect_cylinder:
        claim_cylinder(state, patient, there(to_open(state, patient)))


def begin_connecting(state: State, patient: Patient, connect: Connect, begin: Begin) -> None:
    """Keep a source for a patient; have it fetched, and then connected by staff."""
    fetch_s = _fetch_s(state, patient, connect)
    keep_source(state, patient, connect)
    if fetch_s > 0:
        _stop_asking(state, patient)
        fetch(state, patient, fetch_s, lambda state, patient: _brought(state, patient, begin))
    else:
        ask_for_hands(state, patient, begin)


def _stop_asking(state: State, patient: Patient) -> None:
    claim, patient.claim = patient.claim, None
    call_off_staff(state, patient)
    patient.claim = claim


def _brought(state: State, patient: Patient, begin: Begin) -> None:
    if state.hands_connect:
        ask_for_hands(state, patient, begin)
    else:
        hands_done(state, patient)


def ask_for_hands(state: State, patient: Patient, begin: Begin) -> None:
    """Ask for staff to connect a patient, if they are not asked for already."""
    if patient.task is None:
        call_staff(state, patient, connect_time_s, begin, hands_done)


def hands_come(state: State, patient: Patient) -> bool:
    """Staff begin to connect a patient."""
    state.note("connecting begins", patient.number)
    set_cause(state, patient, Cause.CHANGEOVER)
    return True


def hands_done(state: State, patient: Patient) -> None:
    """All is at the bedside: the patient is the first to be served by `settle`, at this second."""
    drop_claim(state, patient)
    patient.attended_s = patient.fetched_s = state.now


def name_cause(state: State, patient: Patient) -> None:
    """Name the cause of the gap of a patient who is seen to: changeover, unless staff have yet to come."""
    if patient.fetch_event is not None or _at_work(patient) or patient.opens_backup:
        set_cause(state, patient, Cause.CHANGEOVER)


def return_by_staff(state: State, patient: Patient) -> None:
    """Ask for staff to move a patient from a cylinder back to a unit; the cylinder flows on until it is done."""
    if not patient.seen_to:
        call_staff(state, patient, connect_time_s, _return_begins, _return_done)
        if patient.task is not None:
            patient.task.is_return = True


def _return_begins(state: State, patient: Patient) -> bool:
    connect = on_units(state, patient)
    if connect is None:
        return False
    keep_source(state, patient, connect)
    return True


def _return_done(state: State, patient: Patient) -> None:
    """The patient is moved; if the unit is gone meanwhile the cylinder stays, unless it has run out."""
    drop_claim(state, patient)
    connect = on_units(state, patient)
    if connect is None and patient.flowing:
        return
    release_cylinder(state, patient)
    if connect is not None:
        connect(state, patient)
    else:
        wait(state, patient)
