"""A better reorder rule, before any cylinder is bought: other levels with the fleet as it is.

A pair is chosen by a pilot (or by the search over all pairs) and then compared with the levels of the file on
fresh replications, the same for both, with supply alone. It is called better only where luck alone would hardly
show so clear a difference: McNemar's exact test of the replications in which one of the two fails and the other
does not.
"""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.errors import ScenarioError
from o2sim.money.unbought import mean_of
from o2sim.questions.size.candidate_runs import Kept
from o2sim.questions.size.candidates import Candidate, Question, candidate
from o2sim.questions.size.parts import is_too_much, litres_missing
from o2sim.questions.size.result import BetterRule, Found, Run, Values
from o2sim.questions.size.which_run import runs_of
from o2sim.runs.executors import Crew
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER, pair_text, present, raised_pairs
from o2sim.scenario.changing.splice import as_keys
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital
from o2sim.statistics.selection import mcnemar_one_sided
from o2sim.statistics.sequential import least_replications, most_failures

PILOT = 40  # replications by which one pair of a few is chosen
COMPARED = 300  # fresh ones in which it stands beside the levels of the file
MORE_THAN_LEAST = 2  # times as many as could show the target to be met at all


def worth_a_look(hospital: Hospital, paths: Sequence[str], found: Found) -> bool:
    """Return True where cylinders would be bought that other levels might save."""
    cylinders = hospital.cylinders
    if FLEET not in paths or cylinders is None or hospital.resupply is None or not found.complete:
        return False
    return found.answer is None or float(found.answer.point.values[FLEET]) > cylinders.fleet


def better_rule(question: Question, crew: Crew) -> BetterRule | None:
    """Return what the best of a few pairs of higher levels gives beside those of the file, None without any."""
    candidates = [
        _of(question, pair) for pair in (pair_text(*present(question.hospital)), *raised_pairs(question.hospital))
    ]
    tried = [each for each in candidates if each is not None]
    if len(tried) < 2 or candidates[0] is None:
        return None
    pilot = min(PILOT, question.replications)
    with crew:
        runs = runs_of(question, tried, crew)
        runs.prepare([(place, 0, pilot) for place in range(1, len(tried))])
        best = _chosen(question, [runs.row(place, 0, pilot) for place in range(1, len(tried))]) + 1
    return compared(question, crew, tried[best], pilot)


def compared(question: Question, crew: Crew, other: Candidate, first: int) -> BetterRule | None:
    """Return what a pair gives beside the levels of the file, in replications from the first on that are fresh.

    None where it is the pair of the file, or where that makes no scenario by itself.
    """
    here = _of(question, pair_text(*present(question.hospital)))
    if here is None or here.values == other.values:
        return None
    hospital, least = question.hospital, least_replications(question.target, question.confidence)
    n = min(question.replications, max(COMPARED, MORE_THAN_LEAST * least))
    with crew:
        runs = runs_of(question, [here, other], crew)
        runs.prepare([(0, first, first + n), (1, first, first + n)])
        before, after = (runs.row(place, first, first + n) for place in (0, 1))
    if len(before) < n or len(after) < n:
        raise KeyboardInterrupt
    causes = frozenset(question.causes)
    pairs = [(one.fails(causes), two.fails(causes)) for one, two in zip(before, after, strict=True)]
    worse, better = pairs.count((True, False)), pairs.count((False, True))
    by_luck = mcnemar_one_sided(worse, better)
    failures = sum(two for _, two in pairs)
    missing = litres_missing(after, question.confidence)
    cylinders = hospital.cylinders
    assert cylinders is not None
    return BetterRule(
        fleet=cylinders.fleet,
        first_replication=first,
        replications=n,
        present=_run(question, here, before),
        other=_run(question, other, after),
        only_present_fails=worse,
        only_other_fails=better,
        by_luck=by_luck,
        is_better=by_luck <= 1 - question.confidence,
        is_enough=failures <= most_failures(n, question.target, question.confidence)
        and not is_too_much(missing, question.most_missing),
        to_write=as_keys(other.there, question.strategy),
    )


def best_pair(candidates: Sequence[Candidate], found: Found) -> Candidate | None:
    """Return the pair that a search over all pairs ended with: the answer, else the best of those that failed."""
    values: Values | None = None
    if found.answer is not None:
        values = found.answer.point.values
    elif found.measured is not None:
        values = found.measured.values
    return next((each for each in candidates if each.values == values), None)


def _of(question: Question, pair: str) -> Candidate | None:
    """Return the hospital with a pair of levels, None where that is no scenario."""
    try:
        return candidate(question.source, question.strategy, pair)
    except ScenarioError:
        return None


def _chosen(question: Question, rows: Sequence[Sequence[Kept]]) -> int:
    """Return which pair to compare: the cheapest within the target, else the one that fails least often."""
    causes = frozenset(question.causes)
    found = []
    for place, row in enumerate(rows):
        share = sum(each.fails(causes) for each in row) / len(row)
        found.append((max(share, question.target), _burden(row), place))
    return min(found)[-1]


def _burden(row: Sequence[Kept]) -> float:
    """Return what a pair costs a year, or by how many deliveries where there are no prices."""
    return sum(each.deliveries if each.cost is None else each.cost for each in row) / len(row)


def _run(question: Question, of: Candidate, row: Sequence[Kept]) -> Run:
    causes, days = frozenset(question.causes), row[0].horizon_s / DAY_S
    costs = [each.cost for each in row if each.cost is not None]
    return Run(
        levels=of.values[LEVELS_TOGETHER],
        failures=sum(each.fails(causes) for each in row),
        litres_missing=litres_missing(row, question.confidence),
        deliveries_a_year=sum(each.deliveries for each in row) / len(row) * YEAR_DAYS / days,
        annual_cost=sum(costs) / len(row) if len(costs) == len(row) else None,
        unbought=mean_of(each.unbought for each in row),
    )
