"""How long hands take: to respond, to change a cylinder, to connect; by day or by night, as the job begins."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.state import State
from o2sim.model.steps.claims import is_day
from o2sim.scenario.types.times import Time


def response_time_s(state: State, patient: Patient) -> int:
    """Return how long staff take to respond to the last loss of supply, if they set out now."""
    rules = state.rules
    by_night = rules.night.response_time_s
    return _time_s(state, rules.response_time_s, by_night, "response time", patient, patient.losses)


def change_time_s(state: State, lead: Patient) -> int:
    """Return how long it takes to put the cylinder last opened for a patient in place, from now on."""
    by_day, by_night = state.cylinder_rules.change_time_s, state.rules.night.change_time_s
    return _time_s(state, by_day, by_night, "change time", lead, lead.cylinders)


def connect_time_s(state: State, patient: Patient) -> int:
    """Staff begin to connect a patient; return how long it takes them, a second at least."""
    staff, by_night = state.rules.staff, state.rules.night.connect_s
    assert staff is not None
    patient.connections += 1
    return max(1, _time_s(state, staff.connect_s, by_night, "connect time", patient, patient.connections))


def _time_s(state: State, by_day: Time, by_night: Time | None, stream: str, patient: Patient, nth: int) -> int:
    """Return a time, drawn by patient and ordinal where it has a law."""
    time = by_day if by_night is None or is_day(state) else by_night
    return time if isinstance(time, int) else state.draws.handling_s(time, stream, patient.luck, nth)
