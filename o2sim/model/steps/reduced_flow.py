"""Reduced flow and two units: who needs more than a unit can give takes the most there is, or is given by two."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.patient import Patient
from o2sim.model.state import State, there
from o2sim.model.steps.units import connect_unit, give, join, join_second, leave_second


def takes_reduced(state: State, patient: Patient) -> bool:
    """Return True if a patient may be given a part of the prescribed flow."""
    rule = state.rules.allocation.reduced_flow
    if state.bank is None or rule == "never":
        return False
    return rule == "any" or patient.flow_ml_min > state.bank.rated_ml_min(patient.ward)


def shared_source(state: State, patient: Patient) -> Callable[[State, Patient], None] | None:
    """Return how to connect a patient no source has room for: for a part of the flow, or where others give way.

    So that nobody goes without, patients on reduced flow are turned down, but never below half the rated flow,
    and a patient on two units gives up the second.
    """
    bank = state.bank
    if bank is None:
        return None
    if patient.flow_ml_min <= bank.rated_ml_min(patient.ward) and _make_room(state, bank, patient, whole=True):
        return connect_unit
    if not takes_reduced(state, patient):
        return None
    if bank.most_spare(patient.ward) is not None or _make_room(state, bank, patient, whole=False):
        return connect_reduced
    return None


def may_share(state: State, patient: Patient) -> bool:
    """Return True if shared_source would find something, which others have to give way for or not."""
    bank = state.bank
    if bank is None:
        return False
    rated = bank.rated_ml_min(patient.ward)
    if patient.flow_ml_min <= rated and _could_make_room(state, bank, patient, whole=True):
        return True
    if not takes_reduced(state, patient):
        return False
    return bank.most_spare(patient.ward) is not None or _could_make_room(state, bank, patient, whole=False)


def _could_make_room(state: State, bank: ConcentratorBank, patient: Patient, *, whole: bool) -> bool:
    if _who_gives_way(state, bank, patient, whole=whole) is not None:
        return True
    return whose_second(state, bank, patient, whole=whole) is not None


def asked_of(unit: Unit, patient: Patient, *, whole: bool) -> int:
    """Return the room that a patient needs on a unit: for the whole flow, or in part for half of what it gives."""
    flow_ml_min = patient.flow_ml_min
    return flow_ml_min if whole else max(1, min(flow_ml_min, unit.rules.rated_flow_ml_min // 2))


def _make_room(state: State, bank: ConcentratorBank, patient: Patient, *, whole: bool) -> bool:
    """Turn a patient on reduced flow down, or take the second unit of one on two; True if that makes room."""
    found = _who_gives_way(state, bank, patient, whole=whole)
    if found is None:
        return give_up_second(state, bank, patient, whole=whole)
    unit, other, less = found
    unit.load_ml_min -= less
    give(state, other, other.given_ml_min - less)
    state.note("flow lowered", other.number, unit.number, other.given_ml_min)
    return True


def _who_gives_way(
    state: State, bank: ConcentratorBank, patient: Patient, *, whole: bool
) -> tuple[Unit, Patient, int] | None:
    """Return (unit, who is on reduced flow there, by how much less) of the first where that makes room."""
    for unit in bank.units if state.reduced else ():
        half = unit.rules.rated_flow_ml_min // 2
        # There is room for only one patient who has more than half of a unit.
        other = next((p for p in unit.patients if p.number in state.reduced and p.given_ml_min > half), None)
        if (
            other is None
            or unit.ward != patient.ward
            or len(unit.patients) + len(unit.expected) >= unit.rules.outlets
        ):
            continue
        less = asked_of(unit, patient, whole=whole) - unit.spare_ml_min
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


def may_take_two(state: State, patient: Patient) -> bool:
    """Return True if a patient may be served by two units."""
    bank = state.bank
    if bank is None or not state.rules.allocation.two_units:
        return False
    return patient.flow_ml_min > bank.rated_ml_min(patient.ward)


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


def give_up_second(state: State, bank: ConcentratorBank, patient: Patient, *, whole: bool) -> bool:
    """Take the second unit from the last in line of those with two, where that makes room; True if it does."""
    other = whose_second(state, bank, patient, whole=whole)
    if other is None:
        return False
    leave_second(state, other)
    state.note("reduced flow", other.number, other.units[0], other.given_ml_min)
    return True


def whose_second(state: State, bank: ConcentratorBank, patient: Patient, *, whole: bool) -> Patient | None:
    """Return the last in line of those with two units whose second makes room for another, None if none does."""
    if not state.rules.allocation.two_units or state.rules.allocation.reduced_flow == "never":
        return None
    for other in sorted(state.present.values(), key=lambda other: other.order, reverse=True):
        if other.second_unit is None or other.ward != patient.ward:
            continue
        unit = bank.units[other.second_unit]
        load_ml_min = unit.load_ml_min + unit.expected_ml_min - other.second_ml_min
        load_ml_min += asked_of(unit, patient, whole=whole)
        if load_ml_min <= unit.rules.rated_flow_ml_min and bank.keeps_power(unit):
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
    load_w = bank.running_w + (0 if first.patients else first.watts)
    for unit in bank.units:
        here = unit is not first and unit.ward == ward and unit.has_room(rest)
        if here and (unit.patients or bank.can_start(unit, load_w)):
            return first, unit
    return None
