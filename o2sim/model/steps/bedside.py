"""Cylinders at the bedside: opened, checked, changed, run empty, put back."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.rules import Rank, next_check_s, residual_after_s, runs_out_after_s
from o2sim.model.state import State
from o2sim.model.steps.gaps import begin_gap, end_gap, lose_supply, set_cause, wait
from o2sim.model.steps.resupply import consider_review, credit_shelf
from o2sim.outcome import Cause
from o2sim.scenario.types import Cylinders


def _rules(state: State) -> Cylinders:
    assert state.rules.cylinders is not None
    return state.rules.cylinders


def connect_cylinder(state: State, patient: Patient) -> None:
    """Give a patient a regulator and a cylinder that flows at once."""
    assert state.store is not None
    state.store.regulators_free -= 1
    _open(state, patient)
    _flow(state, patient)


def release_cylinder(state: State, patient: Patient) -> None:
    """Take the cylinder and the regulator off a patient."""
    assert state.store is not None
    _take_off(state, patient)
    state.store.regulators_free += 1


def _open(state: State, patient: Patient) -> None:
    """Take a cylinder for a patient who has a regulator."""
    assert state.store is not None
    credit_shelf(state)
    patient.content = state.store.open()
    patient.found_low = False
    state.on_cylinder[patient.number] = patient
    state.ledger.cylinders_opened += 1
    state.note("cylinder opened", patient.number, state.store.full, patient.content)
    consider_review(state)


def _take_off(state: State, patient: Patient) -> None:
    """Take the cylinder off a patient: part-used to the rack, else to the empties; the regulator stays."""
    store, content = state.store, _credit(state, patient)
    assert store is not None
    patient.flowing = False
    credit_shelf(state)
    if store.put_back(content, patient.flow_ml_min):
        state.note("cylinder racked", patient.number, len(store.rack), content)
    else:
        state.ledger.cylinders_emptied += 1
        state.note("cylinder emptied", patient.number, len(store.empties), content)
        consider_review(state)
    patient.content = None
    del state.on_cylinder[patient.number]


def _credit(state: State, patient: Patient) -> int:
    """Bring a cylinder's content up to this second and return it (1/60 mL)."""
    if patient.flowing:
        state.ledger.served(patient, state.now, state.leak_ml_min)
    assert patient.content is not None
    return patient.content


def _flow(state: State, patient: Patient) -> None:
    """Let a connected cylinder flow; schedule the check that finds it low, or the run-out if that is earlier."""
    rules = _rules(state)
    assert patient.content is not None
    end_gap(state, patient)
    patient.flowing, patient.flow_since_s = True, state.now
    state.note("on cylinder", patient.number, -1, patient.content)
    patient.run_out_s = state.now + runs_out_after_s(patient.content, rules, patient.flow_ml_min)
    low_s = state.now + residual_after_s(patient.content, rules, patient.flow_ml_min)
    _check_or_run_out(state, patient, _check_s(state, low_s))


def _check_s(state: State, from_s: int) -> int:
    return next_check_s(from_s, _rules(state).gauge_check_s, state.midnight_s)


def _check_or_run_out(state: State, patient: Patient, check_s: int) -> None:
    """Schedule the earlier of a gauge check and the run-out: repeating checks would be most of all events."""
    if check_s <= patient.run_out_s:
        due_s, rank, step = check_s, Rank.GAUGE_CHECK, gauge_check
    else:
        due_s, rank, step = patient.run_out_s, Rank.CYLINDER_RUNS_OUT, cylinder_runs_out
    patient.supply_event = state.clock.at(due_s, rank, patient.item, step, patient)


def gauge_check(state: State, patient: Patient) -> None:
    """Residual pressure is found: change the cylinder, or let it run on if there is none to change to."""
    assert state.store is not None
    if state.store.has_usable:
        _take_off(state, patient)
        _change(state, patient, Cause.CHANGEOVER)
        return
    patient.found_low = True
    state.note("gauge check", patient.number, -1, _credit(state, patient))
    watched = _rules(state).gauge_check_s == 0
    again_s = patient.run_out_s + 1 if watched else _check_s(state, state.now + 1)
    _check_or_run_out(state, patient, again_s)


def _change(state: State, patient: Patient, cause: Cause) -> None:
    """Open the next cylinder now; it flows when the change time is over."""
    _open(state, patient)
    change_s = _rules(state).change_time_s
    if change_s == 0:
        _flow(state, patient)
        return
    begin_gap(state, patient)
    set_cause(state, patient, cause)
    due_s = state.now + change_s
    patient.supply_event = state.clock.at(due_s, Rank.TIMER_ENDS, patient.item, change_ends, patient)


def change_ends(state: State, patient: Patient) -> None:
    """The new cylinder is connected and flows."""
    _flow(state, patient)
    state.room_made = True  # a unit may have found room during the change


def cylinder_runs_out(state: State, patient: Patient) -> None:
    """Flow is lost: staff respond if they knew it was low, else it is found at the next check."""
    content = _credit(state, patient)
    known = patient.found_low or _rules(state).gauge_check_s == 0
    state.note("cylinder runs out", patient.number, int(known), content)
    if known:
        release_cylinder(state, patient)
        lose_supply(state, patient)
        return
    patient.flowing = False
    begin_gap(state, patient)
    set_cause(state, patient, Cause.RAN_EMPTY_UNSEEN)
    check_s = _check_s(state, state.now + 1)
    patient.supply_event = state.clock.at(check_s, Rank.GAUGE_CHECK, patient.item, found_empty, patient)


def found_empty(state: State, patient: Patient) -> None:
    """A gauge check finds a cylinder that ran empty: change it, or look for another source."""
    if _next_is_cylinder(state, patient):
        _take_off(state, patient)
        _change(state, patient, Cause.RAN_EMPTY_UNSEEN)
    else:
        release_cylinder(state, patient)
        wait(state, patient)


def _next_is_cylinder(state: State, patient: Patient) -> bool:
    """Return True if a cylinder is the first source in order for a patient who has a regulator."""
    assert state.store is not None
    unit = state.bank.unit_with_room(patient.flow_ml_min) if state.bank else None
    return state.store.has_usable and (unit is None or state.rules.strategy.sources[0] == "cylinder")
