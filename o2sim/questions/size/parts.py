"""Counts of failures by candidate in; the parts of a sizing's result that both methods share out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from o2sim.outcome import Cause
from o2sim.questions.size.candidates import Candidate, Field
from o2sim.questions.size.card import card
from o2sim.questions.size.kept_outcome import Noted
from o2sim.questions.size.rules_of_thumb import rules_of_thumb, use_of
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.changing.levers import Lever
from o2sim.scenario.changing.override import Original
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS
from o2sim.statistics.intervals import clopper_pearson
from o2sim.typed import as_json

Result = dict[str, Any]


@dataclass(frozen=True)
class Question:
    """What is asked: the target is a chance within the horizon; replications is how many one candidate gets."""

    source: Original
    strategy: str
    target: float
    confidence: float
    causes: tuple[Cause, ...]
    replications: int
    seed: int
    engine: str


def point_of(values: dict[str, str], n: int, failures: int, low: float, high: float, status: str) -> Result:
    """Return one candidate's point of the curve."""
    return {
        "values": dict(values),
        "replications": n,
        "failures": failures,
        "estimate": failures / n,
        "low": low,
        "high": high,
        "status": status,
    }


def neighbours(curve: Sequence[Result], place: int | None) -> Result:
    """Return the points one less and one more than the answer, None where there is none."""
    if place is None:
        return {"one_less": None, "one_more": None}
    return {
        "one_less": curve[place - 1] if place > 0 else None,
        "one_more": curve[place + 1] if place + 1 < len(curve) else None,
    }


def neighbours_by_field(levers: Sequence[Lever], curve: Sequence[Result], place: int | None) -> Result:
    """Return the points one step less and more of each field, the others as in the answer; None where untried."""
    by_field = {}
    for each in levers if place is not None else ():
        assert place is not None
        here = curve[place]["values"]
        at = each.values.index(here[each.path])
        sides = {}
        for side, step in (("one_less", at - 1), ("one_more", at + 1)):
            wanted = {**here, each.path: each.values[step]} if 0 <= step < len(each.values) else None
            sides[side] = next((point for point in curve if point["values"] == wanted), None)
        by_field[each.path] = sides
    return {"one_less": None, "one_more": None, "by_field": by_field}


def next_one(curve: Sequence[Result], place: int | None, cost: float | None) -> Result | None:
    """Return what the step from the answer to the next candidate buys."""
    if place is None or place + 1 >= len(curve):
        return None
    here, there = curve[place], curve[place + 1]
    costs = here.get("annual_cost"), there.get("annual_cost")
    if costs[0] is not None and costs[1] is not None and here["replications"] == there["replications"]:
        cost = costs[1] - costs[0]
    lower = next((point for point in curve[place + 1 :] if point["estimate"] < here["estimate"]), None)
    return {
        "to": there["values"],
        "lowers_the_chance_by": here["estimate"] - there["estimate"],
        "cost_a_year": cost,
        "first_that_lowers": None if lower is None else lower["values"],
        "which_lowers_by": None if lower is None else here["estimate"] - lower["estimate"],
    }


def more(curve: Sequence[Result], place: int | None, shares: Sequence[float], n: int) -> list[Result]:
    """Return what 4 and 16 times as many replications would show to be enough if the curve is as estimated."""
    upto = len(curve) if place is None else place + 1
    found = []
    for times, allowed in zip((4, 16), shares, strict=True):
        least = next((point for point in curve[:upto] if point["estimate"] <= allowed), None)
        values = None if least is None else least["values"]
        if values is None and place is not None:
            values = curve[place]["values"]
        found.append({"replications": n * times, "values": values})
    return found


def measured(question: Question, candidate: Candidate, first: int, noted: Sequence[Noted]) -> Result | None:
    """Return what else happens at a candidate in replications from the first on, and what a card needs."""
    if not noted:
        return None
    n = len(noted)
    supply = sum(each.stock_out for each in noted)
    named = sum(each.fails(frozenset(question.causes)) for each in noted)
    causes = {cause.label: sum(cause in each.causes for each in noted) / n for cause in Cause}
    costs = [each.cost or 0.0 for each in noted]
    hospital = candidate.hospital(question.strategy)
    figures = card(hospital, noted)
    days = noted[0].horizon_s / DAY_S
    return {
        "values": candidate.values,
        "first_replication": first,
        "replications": n,
        "chance_by_named_causes": _chance(named, n, question.confidence),
        "chance_of_a_stock_out": _chance(supply, n, question.confidence),
        "chance_by_cause": {label: part for label, part in causes.items() if part},
        "annual_cost": sum(costs) / n if hospital.costs is not None else None,
        "cylinders_emptied_a_day": sum(each.emptied for each in noted) / (n * days),
        "deliveries_a_year": sum(each.deliveries for each in noted) / n * YEAR_DAYS / days,
        "card": None if figures is None else as_json(figures),
    }


def _chance(count: int, n: int, confidence: float) -> Result:
    found = clopper_pearson(count, n, confidence)
    return {"estimate": found.estimate, "low": found.low, "high": found.high, "confidence": confidence}


def thumb(
    question: Question,
    candidate: Candidate,
    over: Field,
    noted: Sequence[Noted],
    chance: Callable[[int], float | None],
) -> list[Result]:
    """Return what rules of thumb say of the field that is sized, and what the curve says of that."""
    hospital = candidate.hospital(question.strategy)
    path = over.levers[0].path
    further = _above_level(question, path)
    if len(over.levers) > 1 or further is None or not noted or hospital.cylinders is None:
        return []
    found = []
    for rule in rules_of_thumb(hospital, use_of(hospital, noted), question.target):
        number = ceil(rule.level - 1e-9) + further
        found.append(
            {
                "rule": rule.rule,
                "level": rule.level,
                "figures": rule.figures,
                "value": number,
                "estimate": chance(number),
            }
        )
    return found


def _above_level(question: Question, path: str) -> int | None:
    """Return by how much the sized field lies above the order-up-to level; None for a field no rule speaks of."""
    hospital = question.source.scenario.hospitals[question.strategy]
    if path == "resupply.order_up_to":
        return 0
    if path != FLEET or hospital.resupply is None or hospital.cylinders is None:
        return None
    return hospital.cylinders.fleet - hospital.resupply.order_up_to
