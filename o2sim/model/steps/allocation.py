"""Allocation: `settle`, the only place where anybody is given a source."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.bank import ConcentratorBank
from o2sim.model.patient import Patient
from o2sim.model.state import State
from o2sim.model.steps.bedside import change_watched, connect_cylinder, release_cylinder
from o2sim.model.steps.claims import regulator_free
from o2sim.model.steps.connecting import (
    ask_for_hands,
    at_bedside,
    begin_connecting,
    being_connected,
    hands_come,
    keep_source,
    line,
    name_cause,
    needs_hands,
    return_by_staff,
    takes_time,
)
from o2sim.model.steps.delivery import delivery_would_do, lacks_delivery, take_delivery
from o2sim.model.steps.fetching import restock_wards
from o2sim.model.steps.gaps import begin_gap, set_cause, stop_waiting, wait
from o2sim.model.steps.gather import gather
from o2sim.model.steps.lead import on_same_cylinder
from o2sim.model.steps.levels import count_levels
from o2sim.model.steps.manifold import change_banks, connect_outlet, outlet_free, outlets_reason
from o2sim.model.steps.moving import move_units
from o2sim.model.steps.opening import may_open
from o2sim.model.steps.patients import patient_leaves, release, transfer
from o2sim.model.steps.power import carry_load
from o2sim.model.steps.reduced_flow import may_share, raise_flow, shared_source, takes_reduced
from o2sim.model.steps.sent_on import send_on
from o2sim.model.steps.splitters import cylinder_would_do, join_cylinder, outlet_for
from o2sim.model.steps.staff import answer_calls, call_off_staff, connect_time_s, on_duty
from o2sim.model.steps.two_units import may_take_two, on_units, two_lack_power
from o2sim.outcome import Cause

Connect = Callable[[State, Patient], None]


def settle(state: State) -> None:
    """Answer calls; serve the line by priority, then arrival; name the causes of the gaps that are left.

    After the line those on reduced flow get more; then others go back from cylinders to units; on the battery
    patients are gathered on fewer units, where that is the rule; an idle unit may be sent to another ward. Last,
    what now runs is taken from battery and tank, and what is in use at once is counted.
    """
    _serve(state)
    while state.calls and state.busy < on_duty(state):  # a cylinder opened just now gives nothing
        _serve(state)
    while gather(state):  # a unit that stops may leave power for another
        _serve(state)
    for _, task in state.calls:
        for patient in on_same_cylinder(task.patient) if isinstance(task.patient, Patient) else ():
            set_cause(state, patient, Cause.WAITING_FOR_STAFF)
    move_units(state)
    for _, patient in list(state.waiting):
        if patient.seen_to:
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
    count_levels(state)


def _serve(state: State) -> None:
    for patient in at_bedside(state):
        _see_to(state, patient)
    answer_calls(state)
    _serve_line(state)
    if state.rules.allocation.preempt:
        _serve_line(state)  # the displaced, and whoever they displace in turn
    _raise_flows(state)
    if state.stock_came:
        change_watched(state)
    change_banks(state)
    if state.room_made:
        _return_to_concentrators(state)
        _return_to_outlets(state)
        _serve_line(state)  # with the cylinders and regulators that came free
        _raise_flows(state)
    restock_wards(state)


def _serve_line(state: State) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    again = True
    while again:
        again = False
        for patient in line(state):
            if not being_connected(state, patient):
                again = _see_to(state, patient) or again


def _see_to(state: State, patient: Patient) -> bool:
    """Connect a patient who waits, or begin to, if there is a source; True if the cylinder opened gave nothing."""
    connect = _source(state, patient)
    if connect is None:
        _ask_to_make_way(state, patient)
        return False
    if takes_time(state, patient, connect):
        begin_connecting(state, patient, connect, _hands_come)
        return False
    stop_waiting(state, patient)
    patient.displaced = False
    take_delivery(state, patient)
    connect(state, patient)
    return not (patient.flowing or patient.seen_to)  # back in line


def _source(state: State, patient: Patient) -> Connect | None:
    """Return how to connect a patient: with room, by making way, in part; None where nobody can serve."""
    if not patient.needs and patient.arrival_s != state.now and patient.task is None:
        return None  # one without need is not connected a second time
    connect = _first_source(state, patient)
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
    return _first_source(state, patient)


def _ask_to_make_way(state: State, patient: Patient) -> None:
    """Where connecting takes staff, others give way only as they come; where nobody would, staff are not asked."""
    if not state.takes_time:
        return
    if needs_hands(state, patient) and _would_make_way(state, patient):
        ask_for_hands(state, patient, _hands_come)
    else:
        call_off_staff(state, patient)


def _would_make_way(state: State, patient: Patient) -> bool:
    """Return True if somebody could be displaced, or give up a part of a flow, for a patient."""
    if _may_preempt(state, patient) and _lower(state, patient) is not None:
        return True
    return not lacks_delivery(state, patient) and may_share(state, patient)


def _hands_come(state: State, patient: Patient) -> bool:
    """Staff come to connect a patient, if there still is what to; a lower priority gives way now, if need be."""
    if patient.claim is None:
        connect = _first_source(state, patient)
        if connect is None and not patient.flowing and _may_preempt(state, patient):
            connect = _made_way(state, patient)
        if connect is not None:
            keep_source(state, patient, connect)
        elif patient.flowing or not _would_make_way(state, patient):
            return False
    return hands_come(state, patient)


def _first_source(state: State, patient: Patient) -> Connect | None:
    """Return how to connect the first source for the full flow, None if none has room or a device is wanting."""
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
        elif state.store is not None:
            if may_open(state, patient) and regulator_free(state, patient):
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
    assert state.bank is not None
    for number in other.units:
        unit = state.bank.units[number]
        if unit.load_ml_min - other.flow_from(number) + patient.flow_ml_min <= unit.rules.rated_flow_ml_min:
            return True
    return False


def _reason(state: State, patient: Patient) -> Cause:
    """Return why the last source in the strategy's order cannot serve a patient, or what is wanting beside one."""
    if lacks_delivery(state, patient) and _source_with_room(state, patient) is not None:
        return Cause.NO_DELIVERY_SET
    if state.rules.strategy.sources[-1] == "cylinder":
        assert state.store is not None
        return Cause.NO_REGULATOR if may_open(state, patient) else Cause.NO_CYLINDER
    if state.rules.strategy.sources[-1] == "manifold":
        return outlets_reason(state)
    assert state.bank is not None
    return _units_reason(state, state.bank, patient)


def _units_reason(state: State, bank: ConcentratorBank, patient: Patient) -> Cause:
    """Return why no unit of the ward can serve a patient."""
    flow = 1 if takes_reduced(state, patient) else patient.flow_ml_min  # the least that would do
    two, ward = may_take_two(state, patient), patient.ward
    if flow > bank.rules.rated_flow_ml_min * (2 if two else 1):
        return Cause.FLOW_TOO_HIGH
    if bank.lacks_power(flow, ward) or (two and two_lack_power(bank, flow, ward)):
        return Cause.NO_POWER
    if bank.all_down(ward):
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
        connect = on_units(state, patient) if patient.flowing else None
        if connect is None:
            continue
        if connect_time_s(state) > 0:
            return_by_staff(state, patient)
        else:
            release(state, patient)
            call_off_staff(state, patient)  # who was to change the cylinder
            connect(state, patient)


def _return_to_outlets(state: State) -> None:
    """Move patients from cylinders to free outlets, where the strategy puts the manifold before cylinders."""
    sources = state.rules.strategy.sources
    if state.manifold is None or not state.on_cylinder or sources.index("manifold") > sources.index("cylinder"):
        return
    for patient in sorted(state.on_cylinder.values(), key=lambda patient: patient.order):
        if patient.flowing and outlet_free(state):
            release_cylinder(state, patient)
            call_off_staff(state, patient)
            connect_outlet(state, patient)


def _raise_flows(state: State) -> None:
    """Bring those on reduced flow nearer to what is prescribed: on the unit, else by a move to another source."""
    moved = bool(state.reduced)
    while moved:
        moved = False
        for patient in sorted(state.reduced.values(), key=lambda patient: patient.order):
            raise_flow(state, patient)
            moved = _move_to_more(state, patient) or moved
        if moved:
            _serve_line(state)  # with what came free
    _stop_moves(state)


def _move_to_more(state: State, patient: Patient) -> bool:
    """Move one who is still on reduced flow to a source for all of it; True if that is done at once."""
    connect = _first_source(state, patient) if patient.number in state.reduced else None
    if connect is None:
        return False
    if takes_time(state, patient, connect):
        if not patient.seen_to:  # what flows goes on until all is at the bedside
            begin_connecting(state, patient, connect, _hands_come)
        return False
    release(state, patient)  # a planned move: no gap, unless the cylinder opened gives nothing
    call_off_staff(state, patient)
    begin_gap(state, patient)
    connect(state, patient)
    return True


def _stop_moves(state: State) -> None:
    """Call off whoever was to move one who has the full flow again."""
    for patient in state.present.values() if state.takes_time else ():
        on_unit = patient.flowing and patient.unit is not None
        if on_unit and patient.seen_to and patient.number not in state.reduced:
            call_off_staff(state, patient)
