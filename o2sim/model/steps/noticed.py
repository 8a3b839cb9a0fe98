"""Noticed: who finds out between looks that a cylinder has lost its flow: relatives, and oximeters that alarm."""

from __future__ import annotations

from o2sim.model.patient import FOREVER_S, OpenCylinder, Patient
from o2sim.model.power import Supply
from o2sim.model.rules import BY_LOOK, BY_NOTE, BY_OXIMETER, BY_RELATIVE
from o2sim.model.state import State


def give_oximeters(state: State) -> None:
    """Give free oximeters to the first in line of those on oxygen, on units too, until the end of their stay."""
    if state.oximeters_free == 0:
        return
    without = [patient for patient in state.present.values() if patient.flowing and not patient.has_oximeter]
    for patient in sorted(without, key=lambda patient: patient.order)[: state.oximeters_free]:
        patient.has_oximeter = True
        state.oximeters_free -= 1
        state.note("oximeter on", patient.number, state.oximeters_free)


def put_back_oximeter(state: State, patient: Patient) -> None:
    """Free the oximeter of a patient, for the next."""
    state.oximeters_free += patient.has_oximeter
    patient.has_oximeter = False


def expect_notice(state: State, patient: Patient) -> None:
    """Draw when oximeter and relative will notice that a patient's flow is lost, where there is need."""
    rules = state.rules.noticed
    patient.alarm_s = patient.relative_s = FOREVER_S
    if rules is None or not patient.needs:
        return
    relatives, oximeters, draws, nth = rules.by_relatives, rules.by_oximeter, state.draws, patient.unseen_losses
    patient.unseen_losses += 1
    if oximeters is not None and patient.has_oximeter:
        after_s = draws.noticed_s(oximeters.after_s, "noticed by oximeter", patient.luck, nth)
        patient.alarm_s = state.now + after_s
    if relatives is not None and draws.draw("relative", patient.luck, 0) < relatives.share:
        after_s = draws.noticed_s(relatives.after_s, "noticed by relative", patient.luck, nth)
        patient.relative_s = state.now + after_s


def first_to_find(state: State, cylinder: OpenCylinder) -> tuple[int, int]:
    """Return when a cylinder without flow is found, and by whom: look, noted time, oximeter, relative."""
    alarm_s = min(_alarm_s(state, patient) for patient in cylinder.patients)
    relative_s = min(patient.relative_s for patient in cylinder.patients)
    return min(
        (cylinder.look_s, BY_LOOK), (cylinder.noted_s, BY_NOTE), (alarm_s, BY_OXIMETER), (relative_s, BY_RELATIVE)
    )


def _alarm_s(state: State, patient: Patient) -> int:
    """Return when an oximeter alarms, as far as is known: one silent without power does once there is power."""
    if patient.alarm_s > state.now:
        return patient.alarm_s
    return state.now if has_power(state) else FOREVER_S


def has_power(state: State) -> bool:
    """Return True if oximeters can alarm: they need no mains, or something gives power."""
    oximeters = state.rules.noticed.by_oximeter if state.rules.noticed is not None else None
    return oximeters is None or not oximeters.cut_by_power or state.chain.supply != Supply.NONE
