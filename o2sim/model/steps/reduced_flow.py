"""Reduced flow: one who needs more than a unit can give takes the best flow on offer rather than nothing."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.patient import Patient
from o2sim.model.state import State
from o2sim.model.steps.given_flow import give
from o2sim.model.steps.two_units import may_take_two
from o2sim.model.steps.units import join, join_second


def takes_reduced(state: State, patient: Patient) -> bool:
    """Return True if a patient may be given a part of the prescribed flow."""
    rule = state.rules.allocation.reduced_flow
    if state.bank is None or rule == "never":
        return False
    return rule == "any" or patient.flow_ml_min > state.bank.rules.rated_flow_ml_min


def reduced_source(state: State, patient: Patient) -> Callable[[State, Patient], None] | None:
    """Return how to connect a patient for a part of the flow, None where nothing is on offer."""
    if not takes_reduced(state, patient):
        return None
    assert state.bank is not None
    return None if state.bank.most_spare() is None else connect_reduced


def connect_reduced(state: State, patient: Patient) -> None:
    """Put a patient on the unit with the most flow to spare, for as much of it as is prescribed."""
    assert state.bank is not None
    unit = state.bank.most_spare()
    assert unit is not None
    join(state, patient, unit, min(patient.flow_ml_min, unit.spare_ml_min))
    state.note("reduced flow", patient.number, unit.number, patient.given_ml_min)


def raise_flow(state: State, patient: Patient) -> None:
    """Give one on reduced flow what has come free on the unit, or the rest from a second one."""
    assert state.bank is not None
    assert patient.unit is not None
    unit = state.bank.units[patient.unit]
    missing = patient.flow_ml_min - patient.given_ml_min
    more = min(missing, unit.rules.rated_flow_ml_min - unit.load_ml_min)
    if more > 0:
        unit.load_ml_min += more
        give(state, patient, patient.given_ml_min + more)
        state.note("flow raised", patient.number, unit.number, patient.given_ml_min)
    if more < missing and may_take_two(state, patient):
        second = state.bank.unit_with_room(missing - more, beside=unit.number)
        if second is not None:
            join_second(state, patient, state.bank.units[second], missing - more)
