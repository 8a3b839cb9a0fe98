"""Cylinders at the bedside: opened, checked, changed, run empty, put back."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.rules import Rank, is_watched, keep_gas, last_look_s, residual_after_s, runs_out_after_s
from o2sim.model.state import State, call_off
from o2sim.model.steps.claims import drop_claim, give_regulator, on_ward, take_regulator
from o2sim.model.steps.emergency import consider_emergency
from o2sim.model.steps.fetching import fetch_replacement, fetch_time_s
from o2sim.model.steps.gaps import attended, begin_gap, end_gap, lose_supply, set_cause, wait
from o2sim.model.steps.looks import enough_gas, first_look_s, gauge_error
from o2sim.model.steps.resupply import consider_review, credit_shelf
from o2sim.model.steps.staff import call_off_staff, call_staff
from o2sim.model.steps.units import connect_unit
from o2sim.outcome import Cause
from o2sim.scenario.types import Cylinders


def _rules(state: State) -> Cylinders:
    assert state.rules.cylinders is not None
    return state.rules.cylinders


def may_open(state: State, patient: Patient) -> bool:
    """Return True if there is a cylinder for a patient: one kept on the ward, or one of the store.

    The last few of the store may be kept for a high priority.
    """
    assert state.store is not None
    if on_ward(state, patient.ward) > 0:
        return True
    allocation = state.rules.allocation
    kept = allocation.reserve if patient.priority > allocation.reserve_priority else 0
    return state.store.in_store > kept


def connect_cylinder(state: State, patient: Patient) -> None:
    """Give a patient a regulator and a cylinder that flows at once."""
    assert state.store is not None
    take_regulator(state, patient)
    _open(state, patient)
    _start(state, patient)


def release_cylinder(state: State, patient: Patient) -> None:
    """Take the cylinder and the regulator off a patient."""
    assert state.store is not None
    _take_off(state, patient)
    give_regulator(state, patient)


def _open(state: State, patient: Patient) -> None:
    """Take a cylinder for a patient who has a regulator."""
    assert state.store is not None
    credit_shelf(state)
    if on_ward(state, patient.ward) > 0:
        patient.content = state.store.open_on_ward(patient.ward)
    else:
        patient.content = state.store.open(enough_gas(state, patient))
    patient.gauge_error_gas = gauge_error(state, patient)
    patient.cylinders += 1
    patient.found_low = False
    state.on_cylinder[patient.number] = patient
    state.ledger.cylinders_opened += 1
    state.note("cylinder opened", patient.number, state.store.full, patient.content)
    consider_review(state, emptied=False)
    consider_emergency(state)


def _take_off(state: State, patient: Patient) -> None:
    """Take the cylinder off a patient: part-used to the rack, else to the empties; the regulator stays."""
    store, content = state.store, _credit(state, patient)
    assert store is not None
    patient.flowing = False
    credit_shelf(state)
    if _left_open(state, patient):
        state.note("cylinder left open", patient.number, -1, content)
        state.ledger.leaked_gas += content
        content = 0
    if store.put_back(content, patient.flow_ml_min, patient.gauge_error_gas):
        state.note("cylinder racked", patient.number, len(store.rack), content)
        state.stock_came = True
    else:
        state.ledger.cylinders_emptied += 1
        state.note("cylinder emptied", patient.number, len(store.empties), content)
        consider_review(state)
    patient.content = None
    del state.on_cylinder[patient.number]
    consider_emergency(state)


def _left_open(state: State, patient: Patient) -> bool:
    """Return True if the valve of the cylinder that comes off is left open, by (patient, cylinder)."""
    chance = _rules(state).left_open
    return chance > 0 and state.draws.draw("left open", patient.luck, patient.cylinders) < chance


def _credit(state: State, patient: Patient) -> int:
    """Bring a cylinder's content up to this second and return it (1/60 mL)."""
    if patient.flowing:
        state.ledger.served(patient, state.now, state.leak_ml_min)
    assert patient.content is not None
    return patient.content


def _start(state: State, patient: Patient) -> None:
    """Let an opened cylinder flow, or set it aside if it gives nothing: another change, or a wait for one."""
    assert patient.content is not None
    if patient.content > keep_gas(_rules(state)):
        _flow(state, patient)
        return
    state.note("cylinder unusable", patient.number, -1, patient.content)
    state.ledger.cylinders_unusable += 1
    if may_open(state, patient):
        patient.found_low = True
        _call_for_change(state, patient)
    else:
        release_cylinder(state, patient)
        wait(state, patient)


def _call_for_change(state: State, patient: Patient) -> None:
    """Have the next cylinder fetched, if none is kept on the ward, and then staff to change it."""
    fetch_s = fetch_time_s(state, patient) if may_open(state, patient) else 0
    if fetch_s > 0:
        fetch_replacement(state, patient, fetch_s, _ask_for_change)
        _name_changeover(state, patient)
    else:
        _ask_for_change(state, patient)


def _ask_for_change(state: State, patient: Patient) -> None:
    call_staff(state, patient, _rules(state).change_time_s, _begin_change, change_ends)


def _name_changeover(state: State, patient: Patient) -> None:
    """Name the cause of the gap of one whose cylinder gives nothing, as was seen, while the next is fetched."""
    if not patient.flowing and patient.found_low:
        begin_gap(state, patient)
        set_cause(state, patient, Cause.CHANGEOVER)


def _flow(state: State, patient: Patient) -> None:
    """Let a connected cylinder flow; schedule the check that finds it low, or the run-out if that is earlier."""
    rules = _rules(state)
    assert patient.content is not None
    end_gap(state, patient)
    patient.flowing, patient.flow_since_s = True, state.now
    state.note("on cylinder", patient.number, -1, patient.content)
    patient.run_out_s = state.now + runs_out_after_s(patient.content, rules, patient.flow_ml_min)
    low_s = state.now + residual_after_s(patient.content, rules, patient.flow_ml_min, patient.gauge_error_gas)
    if rules.change_when == "will_not_last":  # the last look before the run-out, if it is still to come
        look_s = last_look_s(patient.run_out_s, rules, state.midnight_s)
        low_s = min(low_s, look_s) if look_s > state.now else low_s
    _check_or_run_out(state, patient, first_look_s(state, patient, low_s, patient.run_out_s))


def _check_or_run_out(state: State, patient: Patient, check_s: int) -> None:
    """Schedule the earlier of a gauge check and the run-out: repeating checks would be most of all events."""
    if check_s <= patient.run_out_s:
        due_s, rank, step = check_s, Rank.GAUGE_CHECK, gauge_check
    else:
        due_s, rank, step = patient.run_out_s, Rank.CYLINDER_RUNS_OUT, cylinder_runs_out
    patient.supply_event = state.clock.at(due_s, rank, patient.item, step, patient)


def gauge_check(state: State, patient: Patient) -> None:
    """The gauge is read as low: change the cylinder, or let it run on if there is none to change to."""
    call_off(patient, "supply_event")
    patient.found_low = True
    if patient.task is not None and patient.task.event is not None:  # staff are moving the patient to a unit
        _check_or_run_out(state, patient, patient.run_out_s + 1)
        return
    call_off_staff(state, patient)  # from a move that nobody has begun
    _call_for_change(state, patient)
    if patient.fetch_event is not None or (patient.task is not None and patient.task.event is None):
        # it runs on until somebody comes
        _check_or_run_out(state, patient, patient.run_out_s + 1)


def change_watched(state: State) -> None:
    """Change the cylinders that are known to be low and watched, now that something has come to change them to."""
    state.stock_came = False
    if not is_watched(_rules(state)):
        return
    low = [
        p for p in state.on_cylinder.values() if p.found_low and p.flowing and p.task is None and p.claim is None
    ]
    for patient in sorted(low, key=lambda patient: patient.order):
        if may_open(state, patient):
            gauge_check(state, patient)


def _begin_change(state: State, patient: Patient) -> bool:
    """Open the next cylinder, to flow when the change time is over; False if there is none to change to."""
    assert state.store is not None
    drop_claim(state, patient)  # the cylinder that was fetched, if one was
    call_off(patient, "supply_event")
    content = _credit(state, patient)
    if not may_open(state, patient) or _best_content(state, patient) <= (content if patient.flowing else 0):
        return _run_on(state, patient)
    cause = Cause.CHANGEOVER if patient.found_low else Cause.RAN_EMPTY_UNSEEN
    _take_off(state, patient)
    _open(state, patient)
    if _rules(state).change_time_s > 0:
        begin_gap(state, patient)
        set_cause(state, patient, cause)
    return True


def _best_content(state: State, patient: Patient) -> int:
    assert state.store is not None
    if on_ward(state, patient.ward) > 0:
        return state.store.bedside[patient.ward][0]
    return state.store.best_content(enough_gas(state, patient))


def _run_on(state: State, patient: Patient) -> bool:
    """Nothing to change to: a cylinder that still flows stays on and is looked at again; return False."""
    if not patient.flowing:
        release_cylinder(state, patient)
        attended(state, patient)
        wait(state, patient)
        return False
    if state.bank is not None and state.bank.unit_with_room(patient.flow_ml_min, patient.ward) is not None:
        release_cylinder(state, patient)  # a planned move: no gap
        connect_unit(state, patient)
        return False
    state.note("gauge check", patient.number, -1, patient.content or 0)
    watched = is_watched(_rules(state))
    last_s = patient.run_out_s
    again_s = last_s + 1 if watched else first_look_s(state, patient, state.now + 1, last_s)
    _check_or_run_out(state, patient, again_s)
    return False


def change_ends(state: State, patient: Patient) -> None:
    """The new cylinder is connected and flows."""
    _start(state, patient)
    state.room_made = True  # a unit may have found room during the change


def cylinder_runs_out(state: State, patient: Patient) -> None:
    """Flow is lost: staff respond if they knew it was low, else it is found at the next check."""
    content = _credit(state, patient)
    known = patient.found_low or is_watched(_rules(state))
    state.note("cylinder runs out", patient.number, int(known), content)
    patient.supply_event = None
    if patient.task is not None and patient.task.is_return and patient.task.event is None:
        call_off_staff(state, patient)  # nobody has begun to move the patient
    if patient.task is not None or patient.claim is not None:  # already asked for a change, or being moved
        patient.flowing = False
        begin_gap(state, patient)
        if patient.task is None or patient.task.event is not None:
            set_cause(state, patient, Cause.CHANGEOVER)
    elif known:
        release_cylinder(state, patient)
        lose_supply(state, patient)
    else:
        patient.flowing = False
        begin_gap(state, patient)
        set_cause(state, patient, Cause.RAN_EMPTY_UNSEEN)
        check_s = first_look_s(state, patient, state.now + 1, None)
        patient.supply_event = state.clock.at(check_s, Rank.GAUGE_CHECK, patient.item, found_empty, patient)


def found_empty(state: State, patient: Patient) -> None:
    """A gauge check finds a cylinder that ran empty: change it, or look for another source."""
    if _next_is_cylinder(state, patient):
        _call_for_change(state, patient)
    else:
        release_cylinder(state, patient)
        wait(state, patient)


def _next_is_cylinder(state: State, patient: Patient) -> bool:
    """Return True if a cylinder is the first source in order for a patient who has a regulator."""
    unit = state.bank.unit_with_room(patient.flow_ml_min, patient.ward) if state.bank else None
    return may_open(state, patient) and (unit is None or state.rules.strategy.sources[0] == "cylinder")
