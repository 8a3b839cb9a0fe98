"""The chance of running short at every stock, from one batch of replications at the largest.

As long as nobody has met a bare shelf, a stock that is smaller by d throughout (fleet, full at the start,
reorder point and order-up-to level alike) goes through the same orders and deliveries with d fewer full
cylinders on the shelf. So it meets its first bare shelf exactly where the larger one has fewer than d left after
a cylinder is taken; the lowest shelf of each replication gives the whole curve, and its order statistic a stock
with a guarantee. What counts is the first time that somebody needs a cylinder and the shelf is bare, warm-up
included: it comes before any interruption for lack of a cylinder, so the answer is on the safe side.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from o2sim.money.cost import equivalent_annual_cost
from o2sim.outcome import Cause
from o2sim.questions.size.candidate_runs import SizingRuns
from o2sim.questions.size.candidates import Field, Question
from o2sim.questions.size.parts import measured, more, neighbours, next_one, rules_beside
from o2sim.questions.size.result import Answer, Found, Point
from o2sim.questions.size.search import ENOUGH, NOT_SHOWN
from o2sim.runs.executors import Crew
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.changing.splice import as_keys
from o2sim.scenario.types.hospital import Hospital
from o2sim.statistics.intervals import clopper_pearson, one_sided_upper
from o2sim.statistics.sequential import most_failures

MEASURED = 200  # fresh replications, at most, on which an answer by one batch is looked at as a whole


def why_not(hospital: Hospital, over: Field, causes: Sequence[Cause]) -> tuple[str, ...]:
    """Return why one batch cannot give the curve; nothing where it can."""
    cylinders, resupply = hospital.cylinders, hospital.resupply
    if [each.path for each in over.levers] != [FLEET] or cylinders is None:
        return ("only the whole stock, cylinders.fleet with its levels, moves without changing any order",)
    found = (
        (tuple(causes) != (Cause.NO_CYLINDER,), "the target names other causes than no cylinder"),
        (over.held, "the levels are held while the fleet changes, so orders come at other times"),
        (hospital.manifold is not None, "banks of the manifold take what is on the shelf"),
        (resupply is not None and resupply.emergency is not None, "emergency orders look at a level that stays"),
        (hospital.allocation.reserve > 0, "the last cylinders are kept for a priority"),
        (cylinders.losses_per_day > 0, "how many go missing depends on how many there are"),
        (
            cylinders.unusable > 0 or cylinders.underfilled is not None,
            "a bad fill comes to the bedside at another time",
        ),
        (bool(hospital.wards), "wards keep cylinders of their own"),
    )
    return tuple(reason for holds, reason in found if holds)


def failures_at(lowest: Sequence[int], fewer: int) -> int:
    """Return how many replications meet a bare shelf with `fewer` cylinders less."""
    return sum(each < fewer for each in lowest)


def by_one_batch(question: Question, over: Field, crew: Crew, progress: Callable[[int, int], None]) -> Found:
    """Return curve and answer from the lowest shelf of each replication at the largest stock."""
    candidates, total = over.candidates, question.replications
    with crew:
        runs = SizingRuns(candidates, question.strategy, question.seed, question.engine, crew)
        batch = runs.batch(len(candidates) - 1, 0, total, lambda done: progress(done, total))
        return _of_batch(question, over, runs, [each.lowest_shelf for each in batch])


def _of_batch(question: Question, over: Field, runs: SizingRuns, lowest: Sequence[int]) -> Found:
    """Return curve and answer, and what else happens at the answer on fresh replications."""
    candidates, total, n = over.candidates, question.replications, len(lowest)
    fleets = [_fleet(each.hospital(question.strategy)) for each in candidates]
    allowed = most_failures(n, question.target, question.confidence)
    curve = []
    for candidate, fleet in zip(candidates, fleets, strict=True):
        count = failures_at(lowest, fleets[-1] - fleet)
        found = clopper_pearson(count, n, question.confidence)
        status = ENOUGH if count <= allowed else NOT_SHOWN
        curve.append(Point(candidate.values, n, count, count / n, found.low, found.high, status))
    place = next((place for place, point in enumerate(curve) if point.failures <= allowed), None)
    at = len(candidates) - 1 if place is None else place
    looked_at, complete = candidates[at], n == total
    kept = runs.batch(at, total, total + min(MEASURED, total)) if complete else []
    one_more_costs = _one_more_costs(looked_at.hospital(question.strategy))
    step = fleets[at + 1] - fleets[at] if at + 1 < len(fleets) else 0
    answer = None
    if place is not None:
        at_most = one_sided_upper(curve[place].failures, n, question.confidence)
        answer = Answer(curve[place], at_most, None, as_keys(looked_at.there, question.strategy))
    return Found(
        complete=complete,
        replications_done=n,
        answer=answer,
        curve=tuple(curve),
        neighbours=neighbours(curve, place),
        next_one=next_one(curve, place, None if one_more_costs is None else one_more_costs * step),
        more_replications=more(question, curve, place, n),
        measured=measured(question, looked_at, total, kept),
        rules_of_thumb=rules_beside(
            question,
            looked_at,
            over,
            kept,
            lambda fleet: failures_at(lowest, fleets[-1] - fleet) / n if fleet <= fleets[-1] else None,
        ),
    )


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
