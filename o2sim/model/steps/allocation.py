"""Allocation: `settle`, the only place where anybody is given a source."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.patient import Patient
from o2sim.model.rules import keep_gas, runs_out_after_s
from o2sim.model.state import State, call_off
from o2sim.model.steps.bedside import change_watched, connect_cylinder, may_open, release_cylinder
from o2sim.model.steps.connecting import (
    ask_for_hands,
    at_bedside,
    begin_connecting,
    being_connected,
    hands_come,
    is_seen_to,
    keep_source,
    line,
    name_cause,
    needs_hands,
    return_by_staff,
    takes_time,
)
from o2sim.model.steps.fetching import restock_wards
from o2sim.model.steps.gaps import set_cause, stop_waiting, wait
from o2sim.model.steps.moving import move_units
from o2sim.model.steps.patients import patient_leaves, release, transfer
from o2sim.model.steps.power import carry_load
from o2sim.model.steps.sent_on import send_on
from o2sim.model.steps.staff import answer_calls, call_off_staff, connect_time_s, on_duty
from o2sim.model.steps.units import connect_unit
from o2sim.outcome import Cause

Connect = Callable[[State, Patient], None]


def settle(state: State) -> None:
    """Answer calls; serve the line by priority, then arrival; bring others back to units; name the causes.

    Last, what now runs is taken from battery and tank.
    """
    _serve(state)
    while state.calls and state.busy < on_duty(state):  # a cylinder opened just now gives nothing
        _serve(state)
    for _, task in state.calls:
        if task.patient is not None and task.patient.gap_since_s is not None:
            set_cause(state, task.patient, Cause.WAITING_FOR_STAFF)
    move_units(state)
    for _, patient in list(state.waiting):
        if is_seen_to(patient):
            name_cause(state, patient)
            continue
        if not patient.needs:  # given oxygen without need, or weaned late: does without
            patient_leaves(state, patient)
            continue
        set_cause(state, patient, _reason(state, patient))
        if patient.transfers and (patient.displaced or patient.arrival_s == state.now):
            transfer(state, patient)
        elif patient.transfer_due:
            send_on(state, patient)
    carry_load(state)


def _serve(state: State) -> None:
    for patient in at_bedside(state):
        _see_to(state, patient)
    answer_calls(state)
    _serve_line(state)
    if state.rules.allocation.preempt:
        _serve_line(state)  # the displaced, and whoever they displace in turn
    if state.stock_came:
        change_watched(state)
    if state.room_made:
        _return_to_concentrators(state)
        _serve_line(state)  # with the cylinders and regulators that came free
    restock_wards(state)


def _serve_line(state: State) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    for patient in line(state):
        if not being_connected(state, patient):
            _see_to(state, patient)


def _see_to(state: State, patient: Patient) -> None:
    """Connect a patient who waits, or begin to, if there is a source."""
    connect = _source(state, patient)
    if connect is None:
        _ask_to_make_way(state, patient)
    elif takes_time(state, patient, connect):
        begin_connecting(state, patient, connect, _hands_come)
    else:
        stop_waiting(state, patient)
        patient.displaced = False
        connect(state, patient)


def _source(state: State, patient: Patient) -> Connect | None:
    """Return how to connect a patient, somebody else making way if need be; None where nobody can serve."""
    if not patient.needs and patient.arrival_s != state.now and patient.task is None:
        return None  # one without need is not connected a second time
    connect = _first_source(state, patient)
    if connect is None and _may_preempt(state, patient) and not needs_hands(state, patient):
        return _made_way(state, patient)
    return connect


def _may_preempt(state: State, patient: Patient) -> bool:
    return state.rules.allocation.preempt and patient.needs


def _made_way(state: State, patient: Patient) -> Connect | None:
    """Take a lower priority's source; what is taken stands on the ward and need not be fetched."""
    if not _make_way(state, patient):
        return None
    patient.fetched_s = state.now
    return _first_source(state, patient)


def _ask_to_make_way(state: State, patient: Patient) -> None:
    """Where connecting takes staff, a lower priority gives way only as they come; others stop asking for them."""
    if _may_preempt(state, patient) and needs_hands(state, patient) and _lower(state, patient) is not None:
        ask_for_hands(state, patient, _hands_come)
    else:
        call_off_staff(state, patient)


def _hands_come(state: State, patient: Patient) -> bool:
    """Staff come to connect a patient: now a lower priority gives way, if need be."""
    if patient.claim is None and _may_preempt(state, patient):
        connect = _first_source(state, patient) or _made_way(state, patient)
        if connect is not None:
            keep_source(state, patient, connect)
    return hands_come(state, patient)


def _first_source(state: State, patient: Patient) -> Connect | None:
    """Return how to connect the first source in the strategy's order that has room, None if none has."""
    for source in state.rules.strategy.sources:
        if source == "concentrator":
            if state.bank is not None and state.bank.unit_with_room(patient.flow_ml_min, patient.ward) is not None:
                return connect_unit
        elif (
            state.store is not None and may_open(state, patient) and state.wards[patient.ward].regulators_free > 0
        ):
            return connect_cylinder
    return None


def _make_way(state: State, patient: Patient) -> bool:
    """Take, from the last in line of a lower priority, a source that is enough; return True if there is one."""
    other = _lower(state, patient)
    if other is None:
        return False
    state.note("displaced", other.number, patient.number)
    call_off(other, "supply_event")
    call_off_staff(state, other)
    release(state, other)
    other.displaced = True
    wait(state, other)
    return True


def _lower(state: State, patient: Patient) -> Patient | None:
    """Return the last in line of a lower priority on the ward whose source would do, None if there is none."""
    served = [
        other
        for other in state.present.values()
        if other.flowing and other.priority > patient.priority and other.ward == patient.ward
    ]
    by_place = sorted(served, key=lambda other: other.order, reverse=True)
    return next((other for other in by_place if _would_do(state, patient, other)), None)


def _would_do(state: State, patient: Patient, other: Patient) -> bool:
    """Return True if what serves another would serve this patient in its place."""
    if other.content is not None:
        assert state.store is not None
        left = other.content - (state.now - other.flow_since_s) * (other.flow_ml_min + state.leak_ml_min)
        usable = left > keep_gas(state.store.rules)
        return usable and runs_out_after_s(left, state.store.rules, patient.flow_ml_min) > 0
    assert state.bank is not None
    assert other.unit is not None
    unit = state.bank.units[other.unit]
    return unit.load_ml_min - other.flow_ml_min + patient.flow_ml_min <= unit.rules.rated_flow_ml_min


def _reason(state: State, patient: Patient) -> Cause:
    """Return why the last source in the strategy's order cannot serve a patient."""
    if state.rules.strategy.sources[-1] == "cylinder":
        assert state.store is not None
        return Cause.NO_REGULATOR if may_open(state, patient) else Cause.NO_CYLINDER
    bank = state.bank
    assert bank is not None
    if patient.flow_ml_min > bank.rules.rated_flow_ml_min:
        return Cause.FLOW_TOO_HIGH
    if bank.lacks_power(patient.flow_ml_min, patient.ward):
        return Cause.NO_POWER
    if bank.all_down(patient.ward):
        return Cause.CONCENTRATOR_DOWN
    return Cause.CONCENTRATORS_FULL


def _return_to_concentrators(state: State) -> None:
    """Move patients from cylinders to units that have room, where the strategy puts units first."""
    state.room_made = False
    strategy = state.rules.strategy
    if state.bank is None or not strategy.return_to_concentrator or strategy.sources[0] != "concentrator":
        return
    for patient in sorted(state.on_cylinder.values(), key=lambda patient: patient.order):
        if not patient.flowing or state.bank.unit_with_room(patient.flow_ml_min, patient.ward) is None:
            continue
        if connect_time_s(state) > 0:
            return_by_staff(state, patient)
        else:
            call_off(patient, "supply_event")
            call_off_staff(state, patient)  # who was to change the cylinder
            release_cylinder(state, patient)
            connect_unit(state, patient)
