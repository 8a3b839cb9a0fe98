"""Looking at the gauge: when somebody does, whether the look is missed, and what the gauge shows."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.rules import MOST_MISSED, next_look_s
from o2sim.model.state import State
from o2sim.scenario.types.hospital import DAY_S


def first_look_s(state: State, patient: Patient, from_s: int, last_s: int | None) -> int:
    """Return the first look at or after from_s that is not missed, or one after last_s if there is none before."""
    rules = state.cylinder_rules
    look_s = next_look_s(from_s, rules, state.midnight_s)
    for _ in range(MOST_MISSED):
        if (last_s is not None and look_s > last_s) or not _missed(state, patient, look_s):
            break
        look_s = next_look_s(look_s + 1, rules, state.midnight_s)
    return look_s


def _missed(state: State, patient: Patient, look_s: int) -> bool:
    """Return True if nobody looks at this patient's gauge at this check; the same under every strategy."""
    rules = state.cylinder_rules
    is_day = state.rules.day_hours.is_day((look_s - state.midnight_s) % DAY_S)
    chance = rules.missed_by_day if is_day else rules.missed_by_night
    return chance > 0 and state.draws.draw("missed check", patient.luck, look_s) < chance


def gauge_error(state: State, patient: Patient) -> int:
    """Return how much too low the gauge of the next cylinder reads, as content; normal, by (patient, cylinder)."""
    spread = state.cylinder_rules.gauge_error_gas
    return state.draws.normal("gauge error", patient.luck, patient.cylinders, spread) if spread else 0


def enough_gas(state: State, flow_ml_min: int) -> int:
    """Return the content that gives a flow until the next look, where one is asked for; else 0."""
    rules = state.cylinder_rules
    if rules.change_when == "residual":
        return 0
    seconds = next_look_s(state.now + 1, rules, state.midnight_s) - state.now + rules.change_time_s
    return rules.lost_gas + seconds * (flow_ml_min + rules.leak_ml_min)
