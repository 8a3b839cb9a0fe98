"""Two units: a flow above what one unit gives may come from two, which a Y-piece brings together."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.patient import Patient
from o2sim.model.state import State, there
from o2sim.model.steps.units import connect_unit, join, join_second, leave_second


def may_take_two(state: State, patient: Patient) -> bool:
    """Return True if a patient may be served by two units."""
    bank = state.bank
    if bank is None or not state.rules.allocation.two_units:
        return False
    return patient.flow_ml_min > bank.rules.rated_flow_ml_min


def on_units(state: State, patient: Patient) -> Callable[[State, Patient], None] | None:
    """Return how units give a patient the full flow: one, or two where that is allowed; None if they cannot."""
    bank = state.bank
    if bank is None:
        return None
    if bank.unit_with_room(patient.flow_ml_min, patient.ward) is not None:
        return connect_unit
    if may_take_two(state, patient) and _pair(bank, patient.flow_ml_min, patient.ward) is not None:
        return connect_two
    return None


def connect_two(state: State, patient: Patient) -> None:
    """Let the unit with the most flow to spare give that, and another the rest."""
    pair = _pair(there(state.bank), patient.flow_ml_min, patient.ward)
    assert pair is not None
    first, second = pair
    join(state, patient, first, first.spare_ml_min)
    join_second(state, patient, second, patient.flow_ml_min - patient.given_ml_min)


def give_up_second(state: State, bank: ConcentratorBank, ward: int, flow_ml_min: int) -> bool:
    """Take the second unit from the last in line of those with two, where that makes room; True if it does."""
    other = whose_second(state, bank, ward, flow_ml_min)
    if other is None:
        return False
    leave_second(state, other)
    state.note("reduced flow", other.number, other.units[0], other.given_ml_min)
    return True


def whose_second(state: State, bank: ConcentratorBank, ward: int, flow_ml_min: int) -> Patient | None:
    """Return the last in line of those with two units whose second makes room for a flow, None if none does."""
    if not state.rules.allocation.two_units or state.rules.allocation.reduced_flow == "never":
        return None
    for other in sorted(state.present.values(), key=lambda other: other.order, reverse=True):
        if other.second_unit is None or other.ward != ward:
            continue
        unit = bank.units[other.second_unit]
        load_ml_min = unit.load_ml_min + unit.expected_ml_min - other.second_ml_min
        if load_ml_min + flow_ml_min <= unit.rules.rated_flow_ml_min:
            return other
    return None


def two_lack_power(bank: ConcentratorBank, flow_ml_min: int, ward: int) -> bool:
    """Return True if two units have room for a flow, so that nothing but power keeps it from being served."""
    spare = sorted((unit.spare_ml_min for unit in bank.units if unit.ward == ward), reverse=True)
    return sum(spare[:2]) >= flow_ml_min


def _pair(bank: ConcentratorBank, flow_ml_min: int, ward: int) -> tuple[Unit, Unit] | None:
    """Return the unit with the most flow to spare and the lowest-numbered other that has room for the rest."""
    first = bank.most_spare(ward)
    if first is None:
        return None
    rest = flow_ml_min - first.spare_ml_min
    can_start = bank.running + (not first.patients) < bank.most_running
    for unit in bank.units:
        if unit is not first and unit.ward == ward and unit.has_room(rest) and (can_start or unit.patients):
            return first, unit
    return None
