"""Allocation: `settle`, the only place where anybody is given a source."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.state import State
from o2sim.model.steps import connecting
from o2sim.model.steps.backup import give_backups
from o2sim.model.steps.backup_in_use import open_backups
from o2sim.model.steps.bedside import change_watched, sound_alarms
from o2sim.model.steps.better_source import raise_flows, return_to_concentrators, return_to_outlets, stop_moves
from o2sim.model.steps.claims import restock_wards
from o2sim.model.steps.delivery import take_delivery
from o2sim.model.steps.gaps import set_cause, stop_waiting
from o2sim.model.steps.levels import count_levels
from o2sim.model.steps.manifold import change_banks
from o2sim.model.steps.moving import move_units
from o2sim.model.steps.noticed import give_oximeters
from o2sim.model.steps.opening import on_same_cylinder
from o2sim.model.steps.patients import patient_leaves, send_on, transfer
from o2sim.model.steps.power import carry_load
from o2sim.model.steps.shortfall import count_turned_away, look_for_shortfall
from o2sim.model.steps.sources import come_to_connect, find_source, reason, would_make_way
from o2sim.model.steps.staff import answer_calls, call_off_staff, on_duty
from o2sim.model.steps.supply import gather
from o2sim.outcome import Cause


def settle(state: State) -> None:
    """Answer calls; serve the line by priority, then arrival; name the causes of the gaps that are left.

    After the line those on reduced flow get more; then others go back from cylinders to units; on the battery
    patients are gathered on fewer units, where that is the rule; an idle unit may be sent to another ward. Then
    back-ups are brought to those on units. Last, what now runs is taken from battery and tank, and what is in use
    at once is counted.
    """
    state.backup_came_back = False
    open_backups(state)
    _serve_all(state)
    # A patient left without being served: another may have the back-up. Or a unit was lost as staff started the
    # generator: the back-up for it is to be opened in this second.
    while state.backup_came_back or state.backups_due:
        state.backup_came_back = False
        open_backups(state)
        _serve_all(state)
    give_backups(state)
    look_for_shortfall(state)
    carry_load(state)
    give_oximeters(state)
    if state.power_came:
        sound_alarms(state)
    count_levels(state)


def _serve_all(state: State) -> None:
    """Serve all who can be served, and name the causes of the gaps that are left; some of these patients leave."""
    _serve(state)
    while state.calls and state.busy < on_duty(state):  # a cylinder opened just now gives nothing
        _serve(state)
    while gather(state):  # a unit that stops may leave power for another
        _serve(state)
    for _, task in state.calls:
        for patient in on_same_cylinder(task.patient) if isinstance(task.patient, Patient) else ():
            if not patient.opens_backup:
                set_cause(state, patient, Cause.WAITING_FOR_STAFF)
    move_units(state)
    for _, patient in list(state.waiting):
        if patient.seen_to or patient.opens_backup:
            connecting.name_cause(state, patient)
            continue
        if not patient.needs:  # given oxygen without need, or weaned late: does without
            patient_leaves(state, patient)
            continue
        set_cause(state, patient, reason(state, patient))
        if patient.transfers and (patient.displaced or patient.arrival_s == state.now):
            count_turned_away(state, patient)
            transfer(state, patient)
        elif patient.transfer_due:
            send_on(state, patient)


def _serve(state: State) -> None:
    for patient in connecting.at_bedside(state):
        _see_to(state, patient)
    answer_calls(state)
    _serve_line(state)
    if state.rules.allocation.preempt:
        _serve_line(state)  # the displaced, and whoever they displace in turn
    _raise_flows(state)
    if state.stock_came:
        change_watched(state)
    change_banks(state)
    moved = state.room_made
    while moved:
        return_to_concentrators(state)
        return_to_outlets(state)
        _serve_line(state)  # with the cylinders and regulators that came free
        moved = _raise_flows(state)  # who moves leaves room on a unit
        change_banks(state)  # a cylinder put back on the rack may be the reserve that held a full one back
    restock_wards(state)


def _raise_flows(state: State) -> bool:
    moved = False
    while raise_flows(state):
        moved = True
        _serve_line(state)  # with what came free
    stop_moves(state)
    return moved


def _serve_line(state: State) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    again = True
    while again:
        again = False
        for patient in connecting.line(state):
            if not connecting.being_connected(state, patient):
                again = _see_to(state, patient) or again


def _see_to(state: State, patient: Patient) -> bool:
    """Connect a patient who waits, or begin to, if there is a source; True if the cylinder opened gave nothing."""
    connect = find_source(state, patient)
    if connect is None:
        _ask_to_make_way(state, patient)
        return False
    if connecting.takes_time(state, patient, connect):
        connecting.begin_connecting(state, patient, connect, come_to_connect)
        return False
    stop_waiting(state, patient)
    patient.displaced = False
    take_delivery(state, patient)
    connect(state, patient)
    return not (patient.flowing or patient.seen_to)  # back in line


def _ask_to_make_way(state: State, patient: Patient) -> None:
    """Where connecting takes staff, others give way only as they come; where nobody would, staff are not asked."""
    if not state.takes_time:
        return
    if connecting.needs_hands(state, patient) and would_make_way(state, patient):
        connecting.ask_for_hands(state, patient, come_to_connect)
    else:
        call_off_staff(state, patient)
