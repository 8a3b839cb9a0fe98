"""Sources: which one a patient gets, whom it is taken from, or why there is none."""

from __future__ import annotations

from o2sim.model.bank import ConcentratorBank
from o2sim.model.patient import Patient
from o2sim.model.state import State, there
from o2sim.model.steps.bedside import connect_cylinder
from o2sim.model.steps.claims import has_backup
from o2sim.model.steps.connecting import Connect, hands_come, keep_source, needs_hands
from o2sim.model.steps.delivery import delivery_would_do, lacks_delivery
from o2sim.model.steps.gaps import wait
from o2sim.model.steps.manifold import connect_outlet, outlet_free, outlets_reason
from o2sim.model.steps.patients import release
from o2sim.model.steps.reduced_flow import (
    may_share,
    may_take_two,
    on_units,
    shared_source,
    takes_reduced,
    two_lack_power,
)
from o2sim.model.steps.sizes import any_to_open, to_open
from o2sim.model.steps.splitters import cylinder_would_do, join_cylinder, outlet_for
from o2sim.model.steps.staff import call_off_staff
from o2sim.outcome import Cause


def find_source(state: State, patient: Patient) -> Connect | None:
    """Return how to connect a patient: with room, by making way, in part; None where nobody can serve."""
    if not patient.needs and patient.arrival_s != state.now and patient.task is None:
        return None  # one without need is not connected a second time
    connect = first_source(state, patient)
    if connect is not None or needs_hands(state, patient):
        return connect
    if _may_preempt(state, patient):
        connect = _made_way(state, patient)
    if connect is None and not lacks_delivery(state, patient):
        connect = shared_source(state, patient)
    return connect


def _may_preempt(state: State, patient: Patient) -> bool:
    return state.rules.allocation.preempt and patient.needs


def _made_way(state: State, patient: Patient) -> Connect | None:
    """Take a lower priority's source; what is taken stands on the ward and need not be fetched."""
    if not _make_way(state, patient):
        return None
    patient.fetched_s = state.now
    return first_source(state, patient)


def would_make_way(state: State, patient: Patient) -> bool:
    """Return True if somebody could be displaced, or give up a part of a flow, for a patient."""
    if _may_preempt(state, patient) and _lower(state, patient) is not None:
        return True
    return not lacks_delivery(state, patient) and may_share(state, patient)


def come_to_connect(state: State, patient: Patient) -> bool:
    """Staff come to connect a patient, if there still is what to; a lower priority gives way now, if need be."""
    if patient.claim is None:
        connect = first_source(state, patient)
        if connect is None and not patient.flowing and _may_preempt(state, patient):
            connect = _made_way(state, patient)
        if connect is not None:
            keep_source(state, patient, connect)
        elif patient.flowing or not would_make_way(state, patient):
            return False
    return hands_come(state, patient)


def first_source(state: State, patient: Patient) -> Connect | None:
    """Return how to connect the first source for the full flow, None if none has room or a device is missing."""
    return None if lacks_delivery(state, patient) else _source_with_room(state, patient)


def _source_with_room(state: State, patient: Patient) -> Connect | None:
    """Return how to connect the first source in the strategy's order that gives the full flow, if one does."""
    for source in state.rules.strategy.sources:
        if source == "concentrator":
            connect = on_units(state, patient)
            if connect is not None:
                return connect
        elif source == "manifold":
            if outlet_free(state):
                return connect_outlet
        elif state.stores:
            if has_backup(patient) or to_open(state, patient) is not None:
                return connect_cylinder
            if outlet_for(state, patient) is not None:
                return join_cylinder
    return None


def _make_way(state: State, patient: Patient) -> bool:
    """Take, from the last in line of a lower priority, a source that is enough; return True if there is one."""
    other = _lower(state, patient)
    if other is None:
        return False
    state.note("displaced", other.number, patient.number)
    release(state, other)
    call_off_staff(state, other)
    other.displaced = True
    wait(state, other)
    return True


def _lower(state: State, patient: Patient) -> Patient | None:
    """Return the last in line of a lower priority on the ward whose source would do, None if there is none."""
    served = [other for other in state.present.values() if other.flowing and other.priority > patient.priority]
    for other in sorted(served, key=lambda other: other.order, reverse=True):
        beside = other.ward == patient.ward and delivery_would_do(state, patient, other)
        if beside and _would_do(state, patient, other):
            return other
    return None


def _would_do(state: State, patient: Patient, other: Patient) -> bool:
    """Return True if what serves another would serve this patient in its place."""
    if other.cylinder is not None:
        return cylinder_would_do(state, patient, other)
    if other.piped:
        return True
    for number in other.units:
        unit = there(state.bank).units[number]
        if unit.load_ml_min - other.flow_from(number) + patient.flow_ml_min <= unit.rules.rated_flow_ml_min:
            return True
    return False


def reason(state: State, patient: Patient) -> Cause:
    """Return why the last source in the strategy's order cannot serve a patient, or what is missing beside one."""
    if lacks_delivery(state, patient) and _source_with_room(state, patient) is not None:
        return Cause.NO_DELIVERY_SET
    if state.rules.strategy.sources[-1] == "cylinder":
        return Cause.NO_REGULATOR if any_to_open(state, patient) else Cause.NO_CYLINDER
    if state.rules.strategy.sources[-1] == "manifold":
        return outlets_reason(state)
    return units_reason(state, there(state.bank), patient)


def units_reason(state: State, bank: ConcentratorBank, patient: Patient) -> Cause:
    """Return why no unit of the ward can serve a patient, or give one on reduced flow enough."""
    flow = patient.flow_ml_min  # the least that would do
    if takes_reduced(state, patient):
        flow = state.rules.shortfall.enough_ml_min(flow) if patient.flowing else 1
    two, ward = may_take_two(state, patient), patient.ward
    if flow > bank.rules.rated_flow_ml_min * (2 if two else 1):
        return Cause.FLOW_TOO_HIGH
    if bank.lacks_power(flow, ward) or (two and two_lack_power(bank, flow, ward)):
        return Cause.NO_POWER
    if bank.all_down(ward):
        return Cause.CONCENTRATOR_DOWN
    return Cause.CONCENTRATORS_FULL
