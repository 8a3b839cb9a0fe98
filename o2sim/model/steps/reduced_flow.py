"""Reduced flow: a patient who needs more than a unit can give takes the most there is rather than nothing."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.patient import Patient
from o2sim.model.state import State, there
from o2sim.model.steps.given_flow import give
from o2sim.model.steps.two_units import give_up_second, may_take_two, whose_second
from o2sim.model.steps.units import connect_unit, join, join_second


def takes_reduced(state: State, patient: Patient) -> bool:
    """Return True if a patient may be given a part of the prescribed flow."""
    rule = state.rules.allocation.reduced_flow
    if state.bank is None or rule == "never":
        return False
    return rule == "any" or patient.flow_ml_min > state.bank.rules.rated_flow_ml_min


def shared_source(state: State, patient: Patient) -> Callable[[State, Patient], None] | None:
    """Return how to connect a patient no source has room for: for a part of the flow, or where others give way.

    So that nobody goes without, patients on reduced flow are turned down, but never below half the rated flow,
    and a patient on two units gives up the second.
    """
    bank = state.bank
    if bank is None:
        return None
    rated = bank.rules.rated_flow_ml_min
    flow = patient.flow_ml_min
    if flow <= rated and _make_room(state, bank, patient, flow):
        return connect_unit
    if not takes_reduced(state, patient):
        return None
    half = max(1, min(flow, rated // 2))
    if bank.most_spare(patient.ward) is not None or _make_room(state, bank, patient, half):
        return connect_reduced
    return None


def may_share(state: State, patient: Patient) -> bool:
    """Return True if shared_source would find something, which others have to give way for or not."""
    bank = state.bank
    if bank is None:
        return False
    rated, flow = bank.rules.rated_flow_ml_min, patient.flow_ml_min
    if flow <= rated and _could_make_room(state, bank, patient, flow):
        return True
    if not takes_reduced(state, patient):
        return False
    half = max(1, min(flow, rated // 2))
    return bank.most_spare(patient.ward) is not None or _could_make_room(state, bank, patient, half)


def _could_make_room(state: State, bank: ConcentratorBank, patient: Patient, flow_ml_min: int) -> bool:
    if _who_gives_way(state, bank, patient.ward, flow_ml_min) is not None:
        return True
    return whose_second(state, bank, patient.ward, flow_ml_min) is not None


def _make_room(state: State, bank: ConcentratorBank, patient: Patient, flow_ml_min: int) -> bool:
    """Turn a patient on reduced flow down, or take the second unit of one on two; True if that makes room."""
    found = _who_gives_way(state, bank, patient.ward, flow_ml_min)
    if found is None:
        return give_up_second(state, bank, patient.ward, flow_ml_min)
    unit, other, less = found
    unit.load_ml_min -= less
    give(state, other, other.given_ml_min - less)
    state.note("flow lowered", other.number, unit.number, other.given_ml_min)
    return True


def _who_gives_way(
    state: State, bank: ConcentratorBank, ward: int, flow_ml_min: int
) -> tuple[Unit, Patient, int] | None:
    """Return (unit, who is on reduced flow there, by how much less) of the first where that makes room."""
    for unit in bank.units if state.reduced else ():
        half = unit.rules.rated_flow_ml_min // 2
        # There is room for only one patient who has more than half of a unit.
        other = next((p for p in unit.patients if p.number in state.reduced and p.given_ml_min > half), None)
        if other is None or unit.ward != ward or len(unit.patients) + len(unit.expected) >= unit.rules.outlets:
            continue
        less = flow_ml_min - unit.spare_ml_min
        if less <= other.given_ml_min - half:
            return unit, other, less
    return None


def connect_reduced(state: State, patient: Patient) -> None:
    """Put a patient on the unit with the most flow to spare, for as much of it as is prescribed."""
    unit = there(state.bank).most_spare(patient.ward)
    assert unit is not None
    join(state, patient, unit, min(patient.flow_ml_min, unit.spare_ml_min))
    state.note("reduced flow", patient.number, unit.number, patient.given_ml_min)


def raise_flow(state: State, patient: Patient) -> None:
    """Give a patient on reduced flow what has come free on the unit, or the rest from a second one."""
    bank = there(state.bank)
    assert patient.unit is not None
    unit = bank.units[patient.unit]
    missing = patient.flow_ml_min - patient.given_ml_min
    more = min(missing, unit.rules.rated_flow_ml_min - unit.load_ml_min - unit.expected_ml_min)
    if more > 0:
        unit.load_ml_min += more
        give(state, patient, patient.given_ml_min + more)
        state.note("flow raised", patient.number, unit.number, patient.given_ml_min)
    if may_take_two(state, patient):  # one unit is never enough
        second = bank.unit_with_room(missing - more, patient.ward, beside=unit.number)
        if second is not None:
            join_second(state, patient, bank.units[second], missing - more)
