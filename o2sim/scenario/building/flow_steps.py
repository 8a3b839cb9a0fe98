"""The steps of a flow as written in, their dataclasses out; RefusedError where they do not fit together."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.scenario.building.reader import Values
from o2sim.scenario.keys.fields import FLOW_STEP
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.types import FlowStep


def flow_steps(problems: Problems, listed: Sequence[Values] | None, written: int) -> tuple[FlowStep, ...]:
    """Return the steps of a flow, each later than the one before and not above it; written: how many there are."""
    found = listed or ()
    if len(found) < written or not all(each.has(*FLOW_STEP.names) for each in found):
        raise RefusedError
    steps = [FlowStep(each["after"], each["share"]) for each in found]
    for before, step, each in zip(steps, steps[1:], found[1:], strict=False):
        if step.after_s <= before.after_s:
            said = f"found {step.after_s} s in a step after that at {before.after_s} s"
            raise problems.add(each.at("after"), said, "a later time in each step")
        if step.share > before.share:
            said = f"found {100 * step.share:g} % in a step after one of {100 * before.share:g} %"
            raise problems.add(each.at("share"), said, "no more than in the step before")
    return tuple(steps)
