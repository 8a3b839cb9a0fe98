"""Points of a curve in, the parts of a sizing's result out that both methods share."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.questions.size.candidates import Question
from o2sim.questions.size.result import MoreReplications, Neighbours, NextOne, Point, Sides
from o2sim.scenario.changing.levers import Lever
from o2sim.statistics.sequential import most_failures

MORE_TIMES = (4, 16)  # as many replications


def neighbours(curve: Sequence[Point], place: int | None) -> Neighbours:
    """Return the points one less and one more than the answer, None where there is none."""
    by_place = dict(enumerate(curve))
    return Neighbours(Sides() if place is None else Sides(by_place.get(place - 1), by_place.get(place + 1)))


def neighbours_by_field(levers: Sequence[Lever], curve: Sequence[Point], place: int | None) -> Neighbours:
    """Return the points one step less and more of each field, the others as in the answer; None where untried."""
    by_field = {}
    here = {} if place is None else curve[place].values
    found = {tuple(point.values.items()): point for point in curve}
    for each in levers if here else ():
        at = each.values.index(here[each.path])
        beside = (dict(enumerate(each.values)).get(step, "") for step in (at - 1, at + 1))
        by_field[each.path] = Sides(*(found.get(tuple({**here, each.path: text}.items())) for text in beside))
    return Neighbours(Sides(), by_field)


def next_one(curve: Sequence[Point], place: int | None, cost: float | None) -> NextOne | None:
    """Return what the step from the answer to the next candidate buys."""
    if place is None or place + 1 >= len(curve):
        return None
    here, there = curve[place], curve[place + 1]
    if here.annual_cost is not None and there.annual_cost is not None and here.replications == there.replications:
        cost = there.annual_cost - here.annual_cost
    lower = next((point for point in curve[place + 1 :] if point.estimate < here.estimate), None)
    return NextOne(
        to=there.values,
        lowers_the_chance_by=here.estimate - there.estimate,
        cost_a_year=cost,
        first_that_lowers=None if lower is None else lower.values,
        which_lowers_by=None if lower is None else here.estimate - lower.estimate,
    )


def more(question: Question, curve: Sequence[Point], place: int | None, n: int) -> tuple[MoreReplications, ...]:
    """Return what 4 and 16 times as many replications would show to be enough if the curve is as estimated."""
    upto = curve if place is None else curve[: place + 1]
    found = []
    for most in (n * times for times in MORE_TIMES):
        allowed = most_failures(most, question.target, question.confidence) / most
        least = next(
            (point for point in upto if point.estimate <= allowed), None if place is None else curve[place]
        )
        found.append(MoreReplications(most, None if least is None else least.values))
    return tuple(found)
