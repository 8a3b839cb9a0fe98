"""Allocation: `settle`, the only place where anybody is given a source."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.patient import Patient
from o2sim.model.rules import keep_gas, runs_out_after_s
from o2sim.model.state import State, call_off
from o2sim.model.steps.bedside import change_watched, connect_cylinder, may_open, release_cylinder
from o2sim.model.steps.gaps import set_cause, stop_waiting, wait
from o2sim.model.steps.manifold import change_banks, connect_outlet, outlet_free, outlets_reason
from o2sim.model.steps.patients import patient_leaves, release, transfer
from o2sim.model.steps.power import carry_load
from o2sim.model.steps.sent_on import send_on
from o2sim.model.steps.staff import answer_calls, call_off_staff, on_duty
from o2sim.model.steps.units import connect_unit
from o2sim.outcome import Cause


def settle(state: State) -> None:
    """Answer calls; serve the line by priority, then arrival; bring others back to units; name the causes.

    Last, what now runs is taken from battery and tank.
    """
    _serve(state)
    while state.calls and state.busy < on_duty(state):  # a cylinder opened just now gives nothing
        _serve(state)
    for _, task in state.calls:
        if task.patient.gap_since_s is not None:
            set_cause(state, task.patient, Cause.WAITING_FOR_STAFF)
    for _, patient in list(state.waiting):
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
    answer_calls(state)
    _serve_line(state)
    if state.rules.allocation.preempt:
        _serve_line(state)  # the displaced, and whoever they displace in turn
    if state.stock_came:
        change_watched(state)
    change_banks(state)
    if state.room_made:
        _return_to_concentrators(state)
        _return_to_outlets(state)
        _serve_line(state)  # with the cylinders and regulators that came free


def _serve_line(state: State) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    for _, patient in list(state.waiting):
        arrives = patient.arrival_s == state.now  # one without need is not connected a second time
        connect = _first_source(state, patient) if patient.needs or arrives else None
        if connect is None and patient.needs and state.rules.allocation.preempt and _make_way(state, patient):
            connect = _first_source(state, patient)
        while connect is not None:
            stop_waiting(state, patient)
            patient.displaced = False
            connect(state, patient)
            in_line_again = any(other is patient for _, other in state.waiting)  # the last cylinder gave nothing
            connect = _first_source(state, patient) if in_line_again else None


def _first_source(state: State, patient: Patient) -> Callable[[State, Patient], None] | None:
    """Return how to connect the first source in the strategy's order that has room, None if none has."""
    for source in state.rules.strategy.sources:
        if source == "concentrator":
            if state.bank is not None and state.bank.unit_with_room(patient.flow_ml_min) is not None:
                return connect_unit
        elif source == "manifold":
            if outlet_free(state):
                return connect_outlet
        elif state.store is not None and may_open(state, patient) and state.store.regulators_free > 0:
            return connect_cylinder
    return None


def _make_way(state: State, patient: Patient) -> bool:
    """Take, from the last in line of a lower priority, a source that is enough; return True if there is one."""
    served = [other for other in state.present.values() if other.flowing and other.priority > patient.priority]
    for other in sorted(served, key=lambda other: other.order, reverse=True):
        if _would_do(state, patient, other):
            state.note("displaced", other.number, patient.number)
            call_off(other, "supply_event")
            call_off_staff(state, other)
            release(state, other)
            other.displaced = True
            wait(state, other)
            return True
    return False


def _would_do(state: State, patient: Patient, other: Patient) -> bool:
    """Return True if what serves another would serve this patient in its place."""
    if other.content is not None:
        assert state.store is not None
        left = other.content - (state.now - other.flow_since_s) * (other.flow_ml_min + state.leak_ml_min)
        usable = left > keep_gas(state.store.rules)
        return usable and runs_out_after_s(left, state.store.rules, patient.flow_ml_min) > 0
    if other.piped:
        return True
    assert state.bank is not None
    assert other.unit is not None
    unit = state.bank.units[other.unit]
    return unit.load_ml_min - other.flow_ml_min + patient.flow_ml_min <= unit.rules.rated_flow_ml_min


def _reason(state: State, patient: Patient) -> Cause:
    """Return why the last source in the strategy's order cannot serve a patient."""
    if state.rules.strategy.sources[-1] == "cylinder":
        assert state.store is not None
        return Cause.NO_REGULATOR if may_open(state, patient) else Cause.NO_CYLINDER
    if state.rules.strategy.sources[-1] == "manifold":
        return outlets_reason(state)
    bank = state.bank
    assert bank is not None
    if patient.flow_ml_min > bank.rules.rated_flow_ml_min:
        return Cause.FLOW_TOO_HIGH
    if bank.lacks_power(patient.flow_ml_min):
        return Cause.NO_POWER
    if bank.units and not bank.any_working:
        return Cause.CONCENTRATOR_DOWN
    return Cause.CONCENTRATORS_FULL


def _return_to_concentrators(state: State) -> None:
    """Move patients from cylinders and outlets to units that have room, where the strategy puts units first."""
    state.room_made = False
    strategy = state.rules.strategy
    if state.bank is None or not strategy.return_to_concentrator or strategy.sources[0] != "concentrator":
        return
    piped = state.manifold.patients if state.manifold is not None else []
    for patient in sorted([*state.on_cylinder.values(), *piped], key=lambda patient: patient.order):
        if patient.flowing and state.bank.unit_with_room(patient.flow_ml_min) is not None:
            call_off(patient, "supply_event")
            call_off_staff(state, patient)  # who was to change the cylinder
            release(state, patient)
            connect_unit(state, patient)


def _return_to_outlets(state: State) -> None:
    """Move patients from cylinders to free outlets, where the strategy puts the manifold before cylinders."""
    sources = state.rules.strategy.sources
    if state.manifold is None or not state.on_cylinder or sources.index("manifold") > sources.index("cylinder"):
        return
    for patient in sorted(state.on_cylinder.values(), key=lambda patient: patient.order):
        if patient.flowing and outlet_free(state):
            call_off(patient, "supply_event")
            call_off_staff(state, patient)
            release_cylinder(state, patient)
            connect_outlet(state, patient)
