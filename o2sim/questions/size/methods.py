"""A sizing question and its candidates in, curve and answer out: by one batch, or by a scan confirmed afresh."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil

from o2sim.money.cost import equivalent_annual_cost
from o2sim.questions.size.candidate_runs import SizingRuns
from o2sim.questions.size.candidates import Candidate, Field
from o2sim.questions.size.one_batch import failures_at
from o2sim.questions.size.parts import (
    Question,
    Result,
    measured,
    more,
    neighbours,
    neighbours_by_field,
    next_one,
    point_of,
    thumb,
)
from o2sim.questions.size.search import CURVE, CURVE_REPLICATIONS, DEARER, ENOUGH, NOT_SHOWN, Scan, Trial, scan
from o2sim.runs.executors import Crew
from o2sim.scenario.changing.levers import Lever
from o2sim.scenario.types.hospital import Hospital
from o2sim.statistics.intervals import clopper_pearson, one_sided_upper
from o2sim.statistics.sequential import any_time_interval, most_failures, shown_bound

PILOT = 20  # replications by which combinations are put in the order of their cost
MEASURED = 200  # fresh replications, at most, on which an answer by one batch is looked at as a whole
CURVE_BEYOND = 6  # candidates beyond the answer that the curve of a search shows


def by_one_batch(
    question: Question, over: Field, crew: Crew, progress: Callable[[int, int], None] | None
) -> Result:
    """Return curve and answer from the lowest shelf of each replication at the largest stock."""
    candidates = over.candidates
    total = question.replications
    tell = None if progress is None else (lambda done: progress(done, total))
    with crew:
        runs = SizingRuns(candidates, question.strategy, question.seed, question.engine, crew)
        lowest = [each.lowest_shelf for each in runs.batch(len(candidates) - 1, 0, total, tell)]
        return _of_batch(question, over, runs, lowest)


def _of_batch(question: Question, over: Field, runs: SizingRuns, lowest: Sequence[int]) -> Result:
    """Return curve and answer, and what else happens at the answer on fresh replications."""
    candidates, total = over.candidates, question.replications
    fleets = [_fleet(each.hospital(question.strategy)) for each in candidates]
    n = len(lowest)
    allowed = most_failures(n, question.target, question.confidence)
    failures = [failures_at(lowest, fleets[-1] - fleet) for fleet in fleets]
    curve = []
    for candidate, count in zip(candidates, failures, strict=True):
        found = clopper_pearson(count, n, question.confidence)
        status = ENOUGH if count <= allowed else NOT_SHOWN
        curve.append(point_of(candidate.values, n, count, found.low, found.high, status))
    place = next((place for place, count in enumerate(failures) if count <= allowed), None)
    at_most = 0.0 if place is None else one_sided_upper(failures[place], n, question.confidence)
    complete = n == total
    at = len(candidates) - 1 if place is None else place
    looked_at = candidates[at]
    noted = runs.batch(at, total, total + min(MEASURED, total)) if complete else []
    each = _one_more_costs(looked_at.hospital(question.strategy))
    step = fleets[at + 1] - fleets[at] if at + 1 < len(fleets) else 0
    shares = [most_failures(n * times, question.target, question.confidence) / (n * times) for times in (4, 16)]
    return {
        "complete": complete,
        "replications_done": n,
        "answer": None if place is None else {**curve[place], "at_most": at_most},
        "curve": curve,
        "neighbours": neighbours(curve, place),
        "next_one": next_one(curve, place, None if each is None else each * step),
        "more_replications": more(curve, place, shares, n),
        "measured": measured(question, looked_at, total, noted),
        "thumb": thumb(
            question,
            looked_at,
            over,
            noted,
            lambda fleet: failures_at(lowest, fleets[-1] - fleet) / n if fleet <= fleets[-1] else None,
        ),
    }


def _fleet(hospital: Hospital) -> int:
    assert hospital.cylinders is not None
    return hospital.cylinders.fleet


def _one_more_costs(hospital: Hospital) -> float | None:
    """Return what one more cylinder costs a year to own or rent; None without prices."""
    costs = hospital.costs
    if costs is None:
        return None
    owned = costs.cylinder
    return equivalent_annual_cost(
        owned.price, owned.life_years, costs.discount_rate, owned.salvage, costs.cylinder_rent_per_year
    )


def by_search(question: Question, over: Field, crew: Crew, progress: Callable[[int, int], None] | None) -> Result:
    """Return curve and answer from the scan of all candidates, in the order of value or cost."""
    candidates, piloted = over.candidates, len(over.candidates) if len(over.levers) > 1 else 0
    tell = None if progress is None else (lambda done: progress(done, len(candidates) + piloted))
    with crew:
        runs = SizingRuns(candidates, question.strategy, question.seed, question.engine, crew)
        state = Scan(
            frozenset(question.causes),
            question.target,
            1 - question.confidence,
            question.replications,
            runs.one,
            None if tell is None else (lambda done: tell(done + piloted)),
            runs.prepare,
        )
        try:
            runs.limit, runs.order = question.replications, _order(over, state, tell)
        except KeyboardInterrupt:
            _pilot_stopped(state, runs)
        if not state.stopped:
            scan(state, runs.order, _beyond(runs.order) if len(over.levers) == 1 else ())
        looked_at = _look_closer(state)
    tried = [place for place in range(len(candidates)) if state.trials.get(place)]
    curve = [_searched(question, over, state, place) for place in tried]
    place = None if state.answer is None else tried.index(state.answer)
    one = len(over.levers) == 1
    first, kept = (0, state.trials) if state.answer is None else (question.replications, state.fresh)
    noted = runs.row(looked_at, first, first + len(kept[looked_at]))
    limits = [most_failures(question.replications * k, question.target, question.confidence) for k in (4, 16)]
    shares = [count / (question.replications * k) for count, k in zip(limits, (4, 16), strict=True)]
    answer = None if place is None else _confirmed(question, state, curve[place])
    return {
        "complete": not state.stopped,
        "replications_done": sum(map(len, state.trials.values())) + sum(map(len, state.fresh.values())),
        "answer": answer,
        "curve": curve,
        "neighbours": neighbours(curve, place) if one else neighbours_by_field(over.levers, curve, place),
        "next_one": next_one(curve, place if one else None, None),
        "more_replications": _more(runs.order, tried, curve, place, shares, question.replications),
        "measured": measured(question, candidates[looked_at], first, noted),
        "thumb": thumb(question, candidates[looked_at], over, noted, lambda value: _at(curve, over, value)),
    }


def _at(curve: Sequence[Result], over: Field, value: int) -> float | None:
    """Return the chance at a value of the curve, None between its points and outside."""
    path = over.levers[0].path
    return next((point["estimate"] for point in curve if float(point["values"][path]) == value), None)


def _order(over: Field, state: Scan, tell: Callable[[int], None] | None) -> list[int]:
    """Return the candidates in the order in which they are tried: by value, or several fields by cost."""
    places = list(range(len(over.candidates)))
    if len(over.levers) == 1:
        return places
    pilot = min(PILOT, state.limit)
    state.prepare(
        [(place, 0, pilot) for place in places],
        None if tell is None else (lambda done: tell(done // pilot)),
    )
    for place in places:
        state.extend(place, pilot)
    costs = [_mean_cost(state.trials[place]) for place in places]
    if any(cost is None for cost in costs):  # without prices: by how far up its range each value is
        return sorted(places, key=lambda place: sum(_rank(each, over.candidates[place]) for each in over.levers))
    return sorted(places, key=lambda place: (costs[place], place))


def _pilot_stopped(state: Scan, runs: SizingRuns) -> None:
    """Keep what was done where Ctrl-C came before the order was known; pass it on where that is nothing."""
    for place in runs.known:
        state.trials[place] = list(runs.row(place, 0, PILOT))
    if not any(state.trials.values()):
        raise KeyboardInterrupt
    state.stopped = True


def _rank(each: Lever, candidate: Candidate) -> float:
    return each.values.index(candidate.values[each.path]) / max(1, len(each.values) - 1)


def _mean_cost(trials: Sequence[Trial]) -> float | None:
    costs = [each.cost for each in trials if each.cost is not None]
    return sum(costs) / len(costs) if trials and len(costs) == len(trials) else None


def _beyond(order: Sequence[int]) -> list[int]:
    """Return a few candidates of the whole range that the curve is to show whatever the answer."""
    step = max(1, ceil(len(order) / CURVE_BEYOND))
    return sorted({*order[::step], order[-1]})


def _more(
    order: Sequence[int],
    tried: Sequence[int],
    curve: Sequence[Result],
    place: int | None,
    shares: Sequence[float],
    n: int,
) -> list[Result] | None:
    """Return what more replications would show to be enough, candidates in the order in which they were tried."""
    by_candidate = dict(zip(tried, curve, strict=True))
    ordered = [by_candidate[candidate] for candidate in order if candidate in by_candidate]
    if not ordered:
        return None  # stopped before there was an order
    return more(ordered, None if place is None else ordered.index(curve[place]), shares, n)


def _look_closer(state: Scan) -> int:
    """Return the answer, else the best of those that failed, run until its causes can be told.

    Two failures out of two tell little of why.
    """
    if state.answer is not None:
        return state.answer
    best = _best(state, [place for place, trials in state.trials.items() if trials])
    if not state.stopped:
        try:
            state.extend(best, min(CURVE_REPLICATIONS, state.limit))
        except KeyboardInterrupt:
            state.stopped = True
    return best


def _best(state: Scan, tried: Sequence[int]) -> int:
    """Return the candidate that failed least often of those tried."""
    return min(tried, key=lambda place: (state.failures(place) / len(state.trials[place]), -place))


def _searched(question: Question, over: Field, state: Scan, place: int) -> Result:
    trials, count, one_field = state.trials[place], state.failures(place), len(over.levers) == 1
    low, high = any_time_interval(count, len(trials), question.confidence)
    status = state.status.get(place, CURVE if state.answer is None or one_field else DEARER)
    point = point_of(over.candidates[place].values, len(trials), count, low, high, status)
    return {**point, "annual_cost": _mean_cost(trials)}


def _confirmed(question: Question, state: Scan, point: Result) -> Result:
    """Return the answer as its fresh replications tell it."""
    assert state.answer is not None
    fresh = state.fresh[state.answer]
    count = sum(each.fails(state.causes) for each in fresh)
    low, high = any_time_interval(count, len(fresh), question.confidence)
    return {
        **point_of(point["values"], len(fresh), count, low, high, point["status"]),
        "annual_cost": point["annual_cost"],
        "at_most": shown_bound(count, len(fresh), state.answer_alpha),
        "attempts": sum(1 for trials in state.fresh.values() if trials),
    }
