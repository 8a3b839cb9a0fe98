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
from dataclasses import replace

from o2sim.money.added import on_top
from o2sim.money.cost import CYLINDERS, equivalent_annual_cost, yearly
from o2sim.outcome import Cause
from o2sim.questions.size.candidate_runs import Kept, SizingRuns
from o2sim.questions.size.candidates import Field, Question
from o2sim.questions.size.more_replications import more_of_batch
from o2sim.questions.size.parts import (
    handled,
    is_too_much,
    litres_missing,
    measured,
    neighbours,
    next_one,
    rules_beside,
)
from o2sim.questions.size.result import ENOUGH, MISSING_LITRES, NOT_SHOWN, Answer, Found, Point
from o2sim.questions.size.which_run import by_enough, runs_of, with_handling
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
        (
            not {Cause.NO_CYLINDER} <= set(causes) <= {Cause.NO_CYLINDER, Cause.NO_FUNDS},
            "the target names other causes than no cylinder",
        ),
        (over.held, "the levels are held while the fleet changes, so orders come at other times"),
        (hospital.manifold is not None, "banks of the manifold take what is on the shelf"),
        (resupply is not None and resupply.emergency is not None, "emergency orders look at a level that stays"),
        (hospital.allocation.reserve > 0, "the last cylinders are kept for a priority"),
        (cylinders.losses_per_day > 0, "how many go missing depends on how many there are"),
        (
            cylinders.unusable > 0 or cylinders.underfilled is not None,
            "a bad fill comes to the bedside at another time",
        ),
        (hospital.funds is not None, "how much is ordered depends on the money there is"),
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
        runs = runs_of(question, candidates, crew)
        batch = runs.batch(len(candidates) - 1, 0, total, lambda done: progress(done, total))
        return _of_batch(question, over, runs, batch)


def _of_batch(question: Question, over: Field, runs: SizingRuns, batch: Sequence[Kept]) -> Found:
    """Return curve and answer, and what else happens at the answer on fresh replications."""
    candidates, total, n = over.candidates, question.replications, len(batch)
    lowest = [each.lowest_shelf for each in batch]
    fleets = [_fleet(each.hospital(question.strategy)) for each in candidates]
    allowed = most_failures(n, question.target, question.confidence)
    curve = []
    for candidate, fleet in zip(candidates, fleets, strict=True):
        count = failures_at(lowest, fleets[-1] - fleet)
        found = clopper_pearson(count, n, question.confidence)
        status = ENOUGH if count <= allowed else NOT_SHOWN
        curve.append(Point(candidate.values, n, count, count / n, found.low, found.high, status))
    place = next((place for place, point in enumerate(curve) if point.failures <= allowed), None)
    first, stop, complete = total, total + min(MEASURED, total), n == total
    at, kept, handling = len(candidates) - 1, list[Kept](), list[Kept]()
    try:  # what Ctrl-C leaves is the curve, and no answer that was not looked at
        if complete and place is not None:
            place = _with_enough_gas(question, runs, curve, place, batch)
        at = at if place is None else place
        kept = _all_of(runs, at, first, stop) if complete else []
        handling = with_handling(question, candidates, runs.crew, at, first, stop) if complete else []
        complete = complete and len(handling) == len(kept)
    except KeyboardInterrupt:
        place, complete = None, False
    looked_at = candidates[at]
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
        more_replications=more_of_batch(question, curve, n) if n else None,
        measured=measured(question, looked_at, first, kept, handling),
        rules_of_thumb=rules_beside(
            question,
            looked_at,
            over,
            kept,
            lambda fleet: failures_at(lowest, fleets[-1] - fleet) / n if fleet <= fleets[-1] else None,
        ),
        with_handling=handled(question, looked_at, first, handling),
        by_enough=by_enough(
            question,
            (None, None) if answer is None else (answer.point.values, answer.at_most),
            shared=True,  # a bare shelf counts at once, whatever flow then counts as enough
            anew=lambda _: (None, None),
        ),
    )


def _all_of(runs: SizingRuns, at: int, first: int, stop: int) -> list[Kept]:
    """Return replications of a candidate, all of them; KeyboardInterrupt where some are missing."""
    kept = runs.batch(at, first, stop)
    if len(kept) < stop - first:
        raise KeyboardInterrupt
    return kept


def _with_enough_gas(
    question: Question, runs: SizingRuns, curve: list[Point], place: int, batch: Sequence[Kept]
) -> int | None:
    """Return the first place from one on that surely leaves few enough litres missing, None where none does.

    By fresh replications; the j-th that is looked at may err with a chance of alpha / 2^j. A place that does not
    is marked so on the curve. Where the largest stock leaves too many missing, more cylinders are no cure.
    """
    total = question.replications
    hopeless = litres_missing(batch, question.confidence)
    too_many = (hopeless.mean if hopeless.low is None else hopeless.low) > question.most_missing
    for attempt, at in enumerate(range(place, len(curve)), 1):
        if not too_many:
            kept = _all_of(runs, at, total, total + min(MEASURED, total))
            confidence = 1 - (1 - question.confidence) / 2**attempt
            if not is_too_much(litres_missing(kept, confidence), question.most_missing):
                return at
        curve[at] = replace(curve[at], status=MISSING_LITRES)
    return None


def _fleet(hospital: Hospital) -> int:
    assert hospital.cylinders is not None
    return hospital.cylinders.fleet


def _one_more_costs(hospital: Hospital) -> float | None:
    """Return what one more cylinder costs a year to own or rent; None without prices."""
    costs = hospital.costs
    if costs is None:
        return None
    owned = costs.cylinder
    plain = equivalent_annual_cost(
        owned.price, owned.life_years, costs.discount_rate, owned.salvage, costs.cylinder_rent_per_year
    )
    more = on_top(costs, [(CYLINDERS, 1, owned, 0.0)])
    return (
        plain + sum(yearly(each, costs) for _, _, each, _ in more) + costs.cylinder_test / costs.test_every_years
    )
