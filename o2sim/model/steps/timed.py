"""Timed change: staff reckon when a cylinder will lose its flow, note the time, and come a little before it."""

from __future__ import annotations

from o2sim.model.patient import FOREVER_S, OpenCylinder
from o2sim.model.rules import last_look_s, next_look_s, runs_out_after_s
from o2sim.model.state import State, there
from o2sim.model.steps.opening import first_look_s


def reckon_note(state: State, cylinder: OpenCylinder) -> None:
    """Reckon when staff come by their note, from what the gauge reads now and the flow.

    They note the time at once if the next look, and the change that it would lead to, would come too late; else
    at the last look before that, or the first one made after it. Nothing is noted once flow is lost.
    """
    rules, timed, cylinder.noted_s = cylinder.rules, there(state.cylinder_rules.timed), FOREVER_S
    read = cylinder.content - cylinder.gauge_error_gas
    reckoned_s = state.now + runs_out_after_s(read, rules, cylinder.flow_ml_min)
    last_s = reckoned_s - state.longest_change_s
    noting_s = state.now
    if next_look_s(state.now + 1, rules, state.midnight_s) <= last_s:
        look_s = last_look_s(last_s, rules, state.midnight_s)
        noting_s = first_look_s(state, cylinder.lead, look_s, cylinder.run_out_s)
    if noting_s <= cylinder.run_out_s:
        cylinder.noted_s = max(noting_s, reckoned_s - timed.margin_s)
