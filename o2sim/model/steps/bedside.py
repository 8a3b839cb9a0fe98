"""Cylinders at the bedside: opened, checked, changed, run empty, put back."""

from __future__ import annotations

from o2sim.model.patient import OpenCylinder, Patient
from o2sim.model.rules import Rank, is_watched, keep_gas, last_look_s, residual_after_s, runs_out_after_s
from o2sim.model.state import State, call_off
from o2sim.model.steps.emergency import consider_emergency
from o2sim.model.steps.gaps import begin_gap, end_gap, lose_supply, set_cause, wait
from o2sim.model.steps.looks import enough_gas, first_look_s, gauge_error
from o2sim.model.steps.resupply import consider_review, credit_shelf
from o2sim.model.steps.staff import call_staff
from o2sim.model.steps.units import connect_unit
from o2sim.outcome import Cause
from o2sim.scenario.types import Cylinders


def _rules(state: State) -> Cylinders:
    assert state.rules.cylinders is not None
    return state.rules.cylinders


def may_open(state: State, patient: Patient) -> bool:
    """Return True if there is a cylinder for a patient; the last few may be kept for a high priority."""
    assert state.store is not None
    allocation = state.rules.allocation
    kept = allocation.reserve if patient.priority > allocation.reserve_priority else 0
    return state.store.usable > kept


def connect_cylinder(state: State, patient: Patient) -> None:
    """Give a patient a regulator and a cylinder that flows at once."""
    assert state.store is not None
    state.store.regulators_free -= 1
    patient.cylinder = OpenCylinder(patient, [patient])
    state.on_cylinder[patient.number] = patient
    _open(state, patient.cylinder)
    _start(state, patient.cylinder)


def release_cylinder(state: State, patient: Patient) -> None:
    """Take a patient off the cylinder, and the cylinder and the regulator out of use."""
    assert patient.cylinder is not None
    _close(state, patient.cylinder)


def _close(state: State, cylinder: OpenCylinder) -> list[Patient]:
    """Take the cylinder and the regulator off all on it; return them by their place in line."""
    assert state.store is not None
    call_off(cylinder, "event")
    _take_off(state, cylinder)
    patients, cylinder.patients = sorted(cylinder.patients, key=lambda patient: patient.order), []
    for patient in patients:
        patient.cylinder = None
        del state.on_cylinder[patient.number]
    state.store.regulators_free += 1
    return patients


def _open(state: State, cylinder: OpenCylinder) -> None:
    """Take a cylinder into use on a regulator."""
    assert state.store is not None
    lead = cylinder.lead
    credit_shelf(state)
    cylinder.content = state.store.open(enough_gas(state, lead))
    cylinder.gauge_error_gas = gauge_error(state, lead)
    lead.cylinders += 1
    cylinder.found_low = False
    cylinder.number = state.opened
    state.opened += 1
    state.open_cylinders[cylinder.number] = cylinder
    state.ledger.cylinders_opened += 1
    state.note("cylinder opened", lead.number, state.store.full, cylinder.content)
    consider_review(state, emptied=False)
    consider_emergency(state)


def _take_off(state: State, cylinder: OpenCylinder) -> None:
    """Take the cylinder off a regulator: part-used to the rack, else to the empties."""
    store, content = state.store, _credit(state, cylinder)
    assert store is not None
    lead = cylinder.lead
    for patient in cylinder.patients:
        patient.flowing = False
    credit_shelf(state)
    if _left_open(state, lead):
        state.note("cylinder left open", lead.number, -1, content)
        state.ledger.leaked_gas += content
        content = 0
    if store.put_back(content, cylinder.flow_ml_min, cylinder.gauge_error_gas):
        state.note("cylinder racked", lead.number, len(store.rack), content)
        state.stock_came = True
    else:
        state.ledger.cylinders_emptied += 1
        state.note("cylinder emptied", lead.number, len(store.empties), content)
        consider_review(state)
    del state.open_cylinders[cylinder.number]
    consider_emergency(state)


def _left_open(state: State, lead: Patient) -> bool:
    """Return True if the valve of the cylinder that comes off is left open, by (patient, cylinder)."""
    chance = _rules(state).left_open
    return chance > 0 and state.draws.draw("left open", lead.luck, lead.cylinders) < chance


def _credit(state: State, cylinder: OpenCylinder) -> int:
    """Bring a cylinder's content up to this second and return it (1/60 mL)."""
    if cylinder.flowing:
        for patient in cylinder.patients:
            state.ledger.served(patient, state.now, state.leak_ml_min)
    return cylinder.content


def _start(state: State, cylinder: OpenCylinder) -> None:
    """Let an opened cylinder flow, or set it aside if it gives nothing: another change, or a wait for one."""
    if cylinder.content > keep_gas(_rules(state)):
        _flow(state, cylinder)
        return
    state.note("cylinder unusable", cylinder.lead.number, -1, cylinder.content)
    state.ledger.cylinders_unusable += 1
    if may_open(state, cylinder.lead):
        cylinder.found_low = True
        _call_for_change(state, cylinder)
    else:
        _wait_for_any(state, cylinder)


def _wait_for_any(state: State, cylinder: OpenCylinder) -> None:
    """Take a cylinder that gives nothing off all on it, who wait for any source."""
    for patient in _close(state, cylinder):
        wait(state, patient)


def _call_for_change(state: State, cylinder: OpenCylinder) -> None:
    call_staff(state, cylinder.lead, _rules(state).change_time_s, _begin_change, change_ends)


def _flow(state: State, cylinder: OpenCylinder) -> None:
    """Let a connected cylinder flow; schedule the check that finds it low, or the run-out if that is earlier."""
    cylinder.leak_since_s = state.now
    for patient in cylinder.patients:
        end_gap(state, patient)
        patient.flowing, patient.flow_since_s = True, state.now
        state.note("on cylinder", patient.number, -1, cylinder.content)
    _reckon_run_out(state, cylinder)
    _check_or_run_out(
        state, cylinder, first_look_s(state, cylinder.lead, _low_s(state, cylinder), cylinder.run_out_s)
    )


def _reckon_run_out(state: State, cylinder: OpenCylinder) -> None:
    cylinder.run_out_s = state.now + runs_out_after_s(cylinder.content, _rules(state), cylinder.flow_ml_min)


def _low_s(state: State, cylinder: OpenCylinder) -> int:
    """Return from when on a look leads to a change."""
    rules, content, flow = _rules(state), cylinder.content, cylinder.flow_ml_min
    low_s = state.now + residual_after_s(content, rules, flow, cylinder.gauge_error_gas)
    if rules.change_when == "will_not_last":  # the last look before the run-out, if it is still to come
        look_s = last_look_s(cylinder.run_out_s, rules, state.midnight_s)
        low_s = min(low_s, look_s) if look_s > state.now else low_s
    return low_s


def _check_or_run_out(state: State, cylinder: OpenCylinder, check_s: int) -> None:
    """Schedule the earlier of a gauge check and the run-out: repeating checks would be most of all events."""
    if check_s <= cylinder.run_out_s:
        due_s, rank, step = check_s, Rank.GAUGE_CHECK, gauge_check
    else:
        due_s, rank, step = cylinder.run_out_s, Rank.CYLINDER_RUNS_OUT, cylinder_runs_out
    cylinder.event = state.clock.at(due_s, rank, cylinder.lead.item, step, cylinder)


def gauge_check(state: State, cylinder: OpenCylinder) -> None:
    """The gauge is read as low: change the cylinder, or let it run on if there is none to change to."""
    call_off(cylinder, "event")
    cylinder.found_low = True
    _call_for_change(state, cylinder)
    task = cylinder.lead.task
    if task is not None and task.event is None:  # it runs on until somebody comes
        _check_or_run_out(state, cylinder, cylinder.run_out_s + 1)


def change_watched(state: State) -> None:
    """Change the cylinders that are known to be low and watched, now that something has come to change them to."""
    state.stock_came = False
    if not is_watched(_rules(state)):
        return
    low = [c for c in state.open_cylinders.values() if c.found_low and c.flowing and c.lead.task is None]
    for cylinder in sorted(low, key=lambda cylinder: cylinder.lead.order):
        if may_open(state, cylinder.lead):
            gauge_check(state, cylinder)


def _begin_change(state: State, lead: Patient) -> bool:
    """Open the next cylinder, to flow when the change time is over; False if there is none to change to."""
    cylinder = lead.cylinder
    assert state.store is not None
    assert cylinder is not None
    call_off(cylinder, "event")
    content = _credit(state, cylinder)
    if not may_open(state, lead) or state.store.best_content(enough_gas(state, lead)) <= (
        content if cylinder.flowing else 0
    ):
        return _run_on(state, cylinder)
    cause = Cause.CHANGEOVER if cylinder.found_low else Cause.RAN_EMPTY_UNSEEN
    _take_off(state, cylinder)
    _open(state, cylinder)
    if _rules(state).change_time_s > 0:
        for patient in cylinder.patients:
            begin_gap(state, patient)
            set_cause(state, patient, cause)
    return True


def _run_on(state: State, cylinder: OpenCylinder) -> bool:
    """Nothing to change to: a cylinder that still flows stays on and is looked at again; return False."""
    if not cylinder.flowing:
        _wait_for_any(state, cylinder)
        return False
    for patient in sorted(cylinder.patients, key=lambda patient: patient.order):
        if state.bank is not None and state.bank.unit_with_room(patient.flow_ml_min) is not None:
            release_cylinder(state, patient)  # a planned move: no gap
            connect_unit(state, patient)
    if not cylinder.patients:
        return False
    state.note("gauge check", cylinder.lead.number, -1, cylinder.content)
    watched = is_watched(_rules(state))
    last_s = cylinder.run_out_s
    again_s = last_s + 1 if watched else first_look_s(state, cylinder.lead, state.now + 1, last_s)
    _check_or_run_out(state, cylinder, again_s)
    return False


def change_ends(state: State, lead: Patient) -> None:
    """The new cylinder is connected and flows."""
    assert lead.cylinder is not None
    _start(state, lead.cylinder)
    state.room_made = True  # a unit may have found room during the change


def cylinder_runs_out(state: State, cylinder: OpenCylinder) -> None:
    """Flow is lost: staff respond if they knew it was low, else it is found at the next check."""
    content = _credit(state, cylinder)
    known = cylinder.found_low or is_watched(_rules(state))
    state.note("cylinder runs out", cylinder.lead.number, int(known), content)
    cylinder.event = None
    if cylinder.lead.task is not None:  # already asked for a change
        _flow_lost(state, cylinder)
    elif known:
        for patient in _close(state, cylinder):
            lose_supply(state, patient)
    else:
        _flow_lost(state, cylinder)
        for patient in cylinder.patients:
            set_cause(state, patient, Cause.RAN_EMPTY_UNSEEN)
        check_s = first_look_s(state, cylinder.lead, state.now + 1, None)
        cylinder.event = state.clock.at(check_s, Rank.GAUGE_CHECK, cylinder.lead.item, found_empty, cylinder)


def _flow_lost(state: State, cylinder: OpenCylinder) -> None:
    for patient in cylinder.patients:
        patient.flowing = False
        begin_gap(state, patient)


def found_empty(state: State, cylinder: OpenCylinder) -> None:
    """A gauge check finds a cylinder that ran empty: change it, or look for another source."""
    if _next_is_cylinder(state, cylinder.lead):
        _call_for_change(state, cylinder)
    else:
        _wait_for_any(state, cylinder)


def _next_is_cylinder(state: State, patient: Patient) -> bool:
    """Return True if a cylinder is the first source in order for a patient who has a regulator."""
    unit = state.bank.unit_with_room(patient.flow_ml_min) if state.bank else None
    return may_open(state, patient) and (unit is None or state.rules.strategy.sources[0] == "cylinder")
