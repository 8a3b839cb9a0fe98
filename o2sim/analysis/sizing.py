"""A scenario file and a target in, the least or cheapest stock that meets it with a stated confidence out.

Two methods. One batch of replications gives the whole curve where a larger stock changes no order (one_batch); else
candidates are scanned and the first that passes is confirmed afresh (search). The result is one object ready for
JSON, whatever the method: the question, the method and why, the answer, the curve, its neighbours, what the next one
buys, what rules of thumb say, what more replications would buy, and what limits where there is no answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from html import escape
from math import ceil
from pathlib import Path
from typing import Any

import o2sim
from o2sim.analysis.candidates import FLEET, Candidate, Field, field_of, told
from o2sim.analysis.cost import annual_cost, equivalent_annual_cost
from o2sim.analysis.intervals import clopper_pearson
from o2sim.analysis.levers import Lever
from o2sim.analysis.one_batch import failures_at, levels_moved, lowest_shelves, why_not
from o2sim.analysis.search import CURVE, Scan, Trial, scan
from o2sim.analysis.sequential import any_time_interval, least_replications, most_failures
from o2sim.analysis.study import run_replication
from o2sim.analysis.thumb import rules_of_thumb, use_of
from o2sim.errors import O2simError, QuantityError
from o2sim.outcome import CAUSE_LABELS, SUPPLY_CAUSES, Cause, Outcome
from o2sim.scenario.override import Original, original
from o2sim.scenario.types import DAY_S, YEAR_DAYS, Hospital
from o2sim.units import read

Result = dict[str, Any]
ONE_BATCH, SEARCH = "one batch", "search"
PILOT = 20  # replications by which combinations are put in the order of their cost
MEASURED = 200  # fresh replications, at most, on which an answer by one batch is looked at as a whole
CURVE_BEYOND = 6  # candidates beyond the answer that the curve of a search shows


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

    def outcome(self, candidate: Candidate, replication: int) -> Outcome:
        """Return one replication of a candidate."""
        return run_replication(candidate.scenario, (self.strategy,), self.seed, replication, self.engine)[0]


@dataclass(frozen=True)
class Sizing:
    """The answer to a sizing question; result is the object that `o2sim size --json` prints."""

    result: Result
    hospital: Hospital = field(repr=False)  # of the answer, else of the largest candidate

    @property
    def answer(self) -> dict[str, str] | None:
        """Return the values that meet the target, None where none of the candidates does."""
        found = self.result["answer"]
        return None if found is None else dict(found["values"])

    @property
    def curve(self) -> list[Result]:
        """Return the points of the curve, in the order of the candidates."""
        return list(self.result["curve"])

    def _repr_html_(self) -> str:
        """Return the curve as a table, for a notebook."""
        heads = ("values", "replications", "failures", "estimate", "low", "high", "status")
        rows = "".join(
            "<tr>" + "".join(f"<td>{escape(_cell(point[head]))}</td>" for head in heads) + "</tr>"
            for point in self.result["curve"]
        )
        answer = "no candidate meets the target" if self.answer is None else f"answer: {told(self.answer)}"
        head = "".join(f"<th>{name}</th>" for name in heads)
        return f"<p>{escape(answer)}</p><table><tr>{head}</tr>{rows}</table>"


def _cell(value: object) -> str:
    if isinstance(value, dict):
        return told(value)
    return f"{value:.3g}" if isinstance(value, float) else str(value)


def size(
    source: str | Path | Original,
    strategy: str,
    *,
    target: float | str = 0.05,
    vary: str | Sequence[str] = FLEET,
    causes: Sequence[Cause | str] | None = None,
    confidence: float | str = 0.95,
    replications: int = 400,
    seed: int = 1,
    engine: str = "reference",
    hold_levels: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Sizing:
    """Return the least (one field) or cheapest (several) of the candidates with P(failure) <= target.

    source: a scenario file, or what override.original made of it. target and confidence: shares, 0-1, or texts such
    as "5 %". vary: fields as `cylinders.fleet`, or with values, `cylinders.fleet = 40..60`; without values half to
    twice what the file says. causes: whose interruptions count as failure within the horizon, by label; by default
    "no cylinder" where cylinders are sized, else all of supply. replications: how many one candidate gets at most,
    and again afresh. hold_levels: the levels of the reorder rule stay where the fleet changes. progress is told the
    number done and of how many. Ctrl-C gives what is done, `complete` False. Raises O2simError.
    """
    kept = source if isinstance(source, Original) else original(source)
    if strategy not in kept.scenario.hospitals:
        raise O2simError(f"no strategy is named {strategy!r}; known: {', '.join(kept.scenario.strategies)}")
    texts = [vary] if isinstance(vary, str) else list(vary)
    over = field_of(kept, strategy, texts, hold_levels)
    question = Question(
        kept,
        strategy,
        share(target, "target"),
        share(confidence, "confidence"),
        _causes(causes, kept.scenario.hospitals[strategy], over.levers),
        replications,
        seed,
        engine,
    )
    least = least_replications(question.target, question.confidence)
    if replications < least:
        raise O2simError(
            f"size: {replications} replications cannot show a chance of at most {100 * question.target:g} % with a "
            f"confidence of {100 * question.confidence:g} %; it takes at least {least}"
        )
    reasons = why_not(kept.scenario.hospitals[strategy], over.levers, over, question.causes)
    by_scan = _search(question, over, progress) if reasons else _one_batch(question, over, progress)
    result = {**_head(question, over, reasons), **by_scan}
    return Sizing(result, _hospital(question, over, result))


def share(value: float | str, name: str) -> float:
    """Return a share between 0 and 1 (both excluded) from a number or a text such as `5 %`; raise O2simError."""
    try:
        number = read(value, "share") if isinstance(value, str) else float(value)
    except QuantityError as error:
        raise O2simError(f"{name}: {error}") from error
    if not 0 < number < 1:
        raise O2simError(f"{name}: found {value!r}; allowed: a share above 0 and below 1, such as 5 %")
    return number


def read_causes(names: Sequence[Cause | str]) -> tuple[Cause, ...]:
    """Return causes by their labels; `supply` and `any` stand for many. Raises O2simError for an unknown one."""
    by_label = {label: cause for cause, label in CAUSE_LABELS.items()}
    found: set[Cause] = set()
    for name in names:
        if isinstance(name, Cause):
            found.add(name)
        elif name.strip() in ("supply", "any"):
            found |= set(SUPPLY_CAUSES if name.strip() == "supply" else Cause)
        elif name.strip() in by_label:
            found.add(by_label[name.strip()])
        else:
            raise O2simError(f"causes: found {name!r}; allowed: supply, any, {', '.join(by_label)}")
    return tuple(sorted(found))


def _causes(named: Sequence[Cause | str] | None, hospital: Hospital, levers: Sequence[Lever]) -> tuple[Cause, ...]:
    if named:
        return read_causes(named)
    cylinders = all(each.path.split(".")[0] in ("cylinders", "resupply") for each in levers)
    return (Cause.NO_CYLINDER,) if cylinders and hospital.cylinders is not None else tuple(sorted(SUPPLY_CAUSES))


def _head(question: Question, over: Field, reasons: Sequence[str]) -> Result:
    scenario = question.source.scenario
    hospital = scenario.hospitals[question.strategy]
    return {
        "scenario": scenario.name,
        "scenario_hash": scenario.hash,
        "version": o2sim.__version__,
        "engine": question.engine,
        "seed": question.seed,
        "replications": question.replications,
        "horizon_days": hospital.horizon_s / DAY_S,
        "strategy": question.strategy,
        "target": question.target,
        "confidence": question.confidence,
        "causes": [cause.label for cause in question.causes],
        "currency": hospital.costs.currency if hospital.costs else None,
        "vary": [{"field": each.path, "unit": each.unit, "values": list(each.values)} for each in over.levers],
        "levels_moved": levels_moved(over),
        "refused": list(over.refused),
        "method": {"name": SEARCH if reasons else ONE_BATCH, "why": list(reasons)},
    }


def _hospital(question: Question, over: Field, result: Result) -> Hospital:
    values = over.candidates[-1].values if result["answer"] is None else result["answer"]["values"]
    return next(each for each in over.candidates if each.values == values).hospital(question.strategy)


# --- one batch ---------------------------------------------------------------------------------------------------


def _one_batch(question: Question, over: Field, progress: Callable[[int, int], None] | None) -> Result:
    """Return curve and answer from the lowest shelf of each replication at the largest stock."""
    candidates = over.candidates
    fleets = [int(each.values[FLEET]) for each in candidates]
    total = question.replications
    tell = None if progress is None else (lambda done: progress(done, total))
    lowest = lowest_shelves(
        candidates[-1].scenario, question.strategy, total, question.seed, question.engine, tell
    )
    n = len(lowest)
    allowed = most_failures(n, question.target, question.confidence)
    failures = [failures_at(lowest, fleets[-1] - fleet) for fleet in fleets]
    curve = []
    for candidate, count in zip(candidates, failures, strict=True):
        found = clopper_pearson(count, n, question.confidence)
        status = "certified" if count <= allowed else "not certified"
        curve.append(_point(candidate.values, n, count, found.low, found.high, status))
    place = next((place for place, count in enumerate(failures) if count <= allowed), None)
    complete = n == total
    fresh = range(total, total + min(MEASURED, total)) if complete else range(0)
    looked_at = candidates[-1 if place is None else place]
    outcomes = [question.outcome(looked_at, replication) for replication in fresh]
    slope = _one_more_costs(looked_at.hospital(question.strategy))
    more = [most_failures(n * times, question.target, question.confidence) / (n * times) for times in (4, 16)]
    return {
        "complete": complete,
        "replications_done": n,
        "answer": None if place is None else curve[place],
        "curve": curve,
        "neighbours": _neighbours(curve, place),
        "next_one": _next_one(curve, place, slope),
        "more_replications": _more(curve, place, more, n),
        "measured": _measured(question, looked_at, outcomes),
        "thumb": _thumb(question, looked_at, over, curve, outcomes),
    }


def _one_more_costs(hospital: Hospital) -> float | None:
    """Return what one more cylinder costs a year to own or rent; None without prices."""
    costs = hospital.costs
    if costs is None:
        return None
    owned = costs.cylinder
    return equivalent_annual_cost(
        owned.price, owned.life_years, costs.discount_rate, owned.salvage, costs.cylinder_rent_per_year
    )


# --- search ------------------------------------------------------------------------------------------------------


def _search(question: Question, over: Field, progress: Callable[[int, int], None] | None) -> Result:
    """Return curve and answer from the scan of all candidates, in the order of value or cost."""
    candidates = over.candidates
    cache: dict[tuple[int, int], Outcome] = {}

    def trial(candidate: int, replication: int) -> Trial:
        key = candidate, replication
        outcome = cache.pop(key, None) or question.outcome(candidates[candidate], replication)
        if replication < question.replications:
            kept.setdefault(candidate, []).append(outcome)
        items = annual_cost(candidates[candidate].hospital(question.strategy), outcome)
        return Trial(_interrupted(outcome), sum(items.values()) if items else None)

    kept: dict[int, list[Outcome]] = {}
    state = Scan(
        frozenset(question.causes),
        question.target,
        1 - question.confidence,
        question.replications,
        trial,
        None if progress is None else (lambda done: progress(done, len(candidates))),
    )
    order = _order(over, state)
    scan(state, order, _beyond(order) if len(over.levers) == 1 else ())
    tried = [place for place in range(len(candidates)) if state.trials.get(place)]
    curve = [_searched(question, candidates[place], state, place) for place in tried]
    place = None if state.answer is None else tried.index(state.answer)
    one = len(over.levers) == 1
    looked_at = _best(state, tried) if state.answer is None else state.answer
    limits = [most_failures(question.replications * k, question.target, question.confidence) for k in (4, 16)]
    more = [count / (question.replications * k) for count, k in zip(limits, (4, 16), strict=True)]
    answer = None if place is None else _confirmed(question, state, curve[place])
    return {
        "complete": not state.stopped,
        "replications_done": sum(map(len, state.trials.values())) + sum(map(len, state.fresh.values())),
        "answer": answer,
        "curve": curve,
        "neighbours": _neighbours(curve, place if one else None),
        "next_one": _next_one(curve, place if one else None, None),
        "more_replications": _more(curve, place, more, question.replications) if one else None,
        "measured": _measured(question, candidates[looked_at], kept.get(looked_at, [])),
        "thumb": _thumb(question, candidates[looked_at], over, curve, kept.get(looked_at, [])),
    }


def _interrupted(outcome: Outcome) -> frozenset[Cause]:
    return frozenset(cause for cause, count in zip(Cause, outcome.interruptions, strict=True) if count)


def _order(over: Field, state: Scan) -> list[int]:
    """Return the candidates in the order in which they are tried: by value, or several fields by cost."""
    places = list(range(len(over.candidates)))
    if len(over.levers) == 1:
        return places
    for place in places:
        state.extend(place, min(PILOT, state.limit))
    costs = [_mean_cost(state.trials[place]) for place in places]
    if any(cost is None for cost in costs):  # without prices: by how far up its range each value is
        return sorted(places, key=lambda place: sum(_rank(each, over.candidates[place]) for each in over.levers))
    return sorted(places, key=lambda place: (costs[place], place))


def _rank(each: Lever, candidate: Candidate) -> float:
    return each.values.index(candidate.values[each.path]) / max(1, len(each.values) - 1)


def _mean_cost(trials: Sequence[Trial]) -> float | None:
    costs = [each.cost for each in trials if each.cost is not None]
    return sum(costs) / len(costs) if trials and len(costs) == len(trials) else None


def _beyond(order: Sequence[int]) -> list[int]:
    """Return a few candidates of the whole range that the curve is to show whatever the answer."""
    step = max(1, ceil(len(order) / CURVE_BEYOND))
    return sorted({*order[::step], order[-1]})


def _best(state: Scan, tried: Sequence[int]) -> int:
    """Return the candidate that failed least often of those tried."""
    return min(tried, key=lambda place: (state.failures(place) / len(state.trials[place]), -place))


def _searched(question: Question, candidate: Candidate, state: Scan, place: int) -> Result:
    trials, count = state.trials[place], state.failures(place)
    low, high = any_time_interval(count, len(trials), question.confidence)
    status = state.status.get(place, CURVE)
    point = _point(candidate.values, len(trials), count, low, high, status)
    return {**point, "annual_cost": _mean_cost(trials)}


def _confirmed(question: Question, state: Scan, point: Result) -> Result:
    """Return the answer as its fresh replications tell it."""
    assert state.answer is not None
    fresh = state.fresh[state.answer]
    count = sum(each.fails(state.causes) for each in fresh)
    low, high = any_time_interval(count, len(fresh), question.confidence)
    return {
        **_point(point["values"], len(fresh), count, low, high, point["status"]),
        "annual_cost": point["annual_cost"],
        "attempts": sum(1 for trials in state.fresh.values() if trials),
    }


# --- what both tell ----------------------------------------------------------------------------------------------


def _point(values: dict[str, str], n: int, failures: int, low: float, high: float, status: str) -> Result:
    return {
        "values": dict(values),
        "replications": n,
        "failures": failures,
        "estimate": failures / n,
        "low": low,
        "high": high,
        "status": status,
    }


def _neighbours(curve: Sequence[Result], place: int | None) -> Result:
    """Return the points one less and one more than the answer, None where there is none."""
    if place is None:
        return {"one_less": None, "one_more": None}
    return {
        "one_less": curve[place - 1] if place > 0 else None,
        "one_more": curve[place + 1] if place + 1 < len(curve) else None,
    }


def _next_one(curve: Sequence[Result], place: int | None, cost: float | None) -> Result | None:
    """Return what the step from the answer to the next candidate buys."""
    if place is None or place + 1 >= len(curve):
        return None
    here, there = curve[place], curve[place + 1]
    costs = here.get("annual_cost"), there.get("annual_cost")
    if costs[0] is not None and costs[1] is not None:
        cost = costs[1] - costs[0]
    return {"to": there["values"], "lowers_the_chance_by": here["estimate"] - there["estimate"], "cost_a_year": cost}


def _more(curve: Sequence[Result], place: int | None, shares: Sequence[float], n: int) -> list[Result]:
    """Return what 4 and 16 times as many replications would certify if the curve is as estimated."""
    upto = len(curve) if place is None else place + 1
    found = []
    for times, allowed in zip((4, 16), shares, strict=True):
        least = next((point for point in curve[:upto] if point["estimate"] <= allowed), None)
        values = None if least is None else least["values"]
        if values is None and place is not None:
            values = curve[place]["values"]
        found.append({"replications": n * times, "values": values})
    return found


def _measured(question: Question, candidate: Candidate, outcomes: Sequence[Outcome]) -> Result | None:
    """Return what else happens at a candidate: any stock-out, the causes, the cost a year."""
    if not outcomes:
        return None
    n = len(outcomes)
    supply = sum(outcome.stock_outs > 0 for outcome in outcomes)
    named = sum(bool(_interrupted(outcome) & frozenset(question.causes)) for outcome in outcomes)
    causes = {cause.label: sum(outcome.interruptions[cause] > 0 for outcome in outcomes) / n for cause in Cause}
    costs = [sum(annual_cost(candidate.hospital(question.strategy), outcome).values()) for outcome in outcomes]
    priced = candidate.hospital(question.strategy).costs is not None
    return {
        "values": candidate.values,
        "replications": n,
        "chance_by_named_causes": _chance(named, n, question.confidence),
        "chance_of_a_stock_out": _chance(supply, n, question.confidence),
        "chance_by_cause": {label: part for label, part in causes.items() if part},
        "annual_cost": sum(costs) / n if priced else None,
        "cylinders_emptied_a_day": sum(o.cylinders_emptied for o in outcomes)
        / (n * outcomes[0].horizon_s / DAY_S),
        "deliveries_a_year": sum(o.deliveries for o in outcomes) / n * YEAR_DAYS * DAY_S / outcomes[0].horizon_s,
    }


def _chance(count: int, n: int, confidence: float) -> Result:
    found = clopper_pearson(count, n, confidence)
    return {"estimate": found.estimate, "low": found.low, "high": found.high, "confidence": confidence}


def _thumb(
    question: Question, candidate: Candidate, over: Field, curve: Sequence[Result], outcomes: Sequence[Outcome]
) -> list[Result]:
    """Return what rules of thumb say of the field that is sized, and what the curve says of that."""
    hospital = candidate.hospital(question.strategy)
    path = over.levers[0].path
    further = _above_level(question, path)
    if len(over.levers) > 1 or further is None or not outcomes or hospital.cylinders is None:
        return []
    found = []
    for rule in rules_of_thumb(hospital, use_of(hospital, outcomes), question.target):
        number = ceil(rule.level - 1e-9) + further
        near = [point for point in curve if float(point["values"][path]) <= number]
        inside = near and number <= float(curve[-1]["values"][path])
        found.append(
            {
                "rule": rule.rule,
                "level": rule.level,
                "figures": rule.figures,
                "value": number,
                "estimate": near[-1]["estimate"] if inside else None,
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
