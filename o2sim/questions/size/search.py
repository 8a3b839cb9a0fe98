"""Try candidates in the order of their price and take the first that meets a target: scanned, then confirmed.

The chance need not fall from one candidate to the next, so they are scanned one by one and never halved. All
meet the same replications (0, 1, 2 ...), each until a test that is valid at every look has decided, or until no
run of successes within the limit could make it decide. Taking the best of many would flatter it: so the one
that passes is confirmed on as many fresh replications, which took no part in the scan. The j-th that is confirmed
may err with a chance of alpha / 2^j, so that all attempts together err with at most alpha.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import ceil

from o2sim.money.unbought import mean_of
from o2sim.outcome import Cause
from o2sim.questions.size.candidate_runs import Kept, SizingRuns, nothing
from o2sim.questions.size.candidates import Candidate, Field, Question
from o2sim.questions.size.more_replications import more_of_search
from o2sim.questions.size.parts import (
    handled,
    is_too_much,
    litres_missing,
    measured,
    neighbours,
    neighbours_by_field,
    next_one,
    rules_beside,
)
from o2sim.questions.size.result import (
    CONFIRMED,
    CURVE,
    DEARER,
    MISSING_LITRES,
    NOT_CONFIRMED,
    NOT_SHOWN,
    PASSED,
    TOO_OFTEN,
    Answer,
    AtEnough,
    Cost,
    Found,
    Neighbours,
    Point,
    Sides,
)
from o2sim.questions.size.which_run import (
    EnoughAt,
    by_enough,
    counting,
    gives_parts,
    runs_of,
    shares,
    with_handling,
)
from o2sim.runs.executors import Crew
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER, pair_text, present
from o2sim.scenario.changing.levers import Lever
from o2sim.scenario.changing.splice import as_keys
from o2sim.statistics.sequential import any_time_interval, hopeless, refuted, shown, shown_bound

CURVE_REPLICATIONS = 100  # of candidates that need no test
COMMON = 400  # replications, at least where the limit allows, that the candidates near the answer share
BESIDE = 6  # candidates on each side of the answer that share them
PILOT = 20  # replications by which combinations are put in the order of their cost
CURVE_BEYOND = 6  # candidates beyond the answer that the curve of a search shows
Progress = Callable[[int, int], None]  # how many are done, and of how many


@dataclass
class Scan:
    """What was tried: trials by candidate, in the scan and afresh, the verdict on each, which was confirmed."""

    causes: frozenset[Cause]
    target: float
    alpha: float
    limit: int  # replications of one candidate, in the scan and again afresh
    trial: Callable[[int, int], Kept]  # candidate, replication
    progress: Callable[[int], None] = nothing
    prepare: Callable[..., None] = nothing  # given ranges that will be needed, and a progress
    trials: dict[int, list[Kept]] = field(default_factory=dict)
    fresh: dict[int, list[Kept]] = field(default_factory=dict)
    status: dict[int, str] = field(default_factory=dict)
    answer: int | None = None
    answer_alpha: float = 0.0
    stopped: bool = False
    most_missing: float = 1.0  # share of the litres needed

    def misses_too_much(self, trials: Sequence[Kept], alpha: float) -> bool:
        """Return True unless trials show with confidence 1 - alpha that few enough litres are missing."""
        return is_too_much(litres_missing(trials, 1 - alpha), self.most_missing)

    def failures(self, candidate: int) -> int:
        """Return how many of a candidate's trials in the scan failed."""
        return sum(each.fails(self.causes) for each in self.trials.get(candidate, ()))

    def extend(self, candidate: int, count: int) -> None:
        """Run a candidate until it has `count` trials in the scan."""
        done = self.trials.setdefault(candidate, [])
        while len(done) < count:
            done.append(self.trial(candidate, len(done)))


def scan(state: Scan, order: Sequence[int], around: Sequence[int] = (), also: Sequence[int] = ()) -> Scan:
    """Try candidates in order until one is confirmed; then run those of `around` not tried yet, for the curve.

    also: candidates that share the replications of the answer wherever they stand.

    Ctrl-C ends it with what was done so far, `stopped` set.
    """
    try:
        attempts = 0
        for place, candidate in enumerate(order):
            trials = state.trials.setdefault(candidate, [])
            state.status[candidate] = _judge(state, candidate, trials, state.alpha, fresh=False)
            state.progress(place + 1)
            if state.status[candidate] != PASSED:
                continue
            if litres_missing(trials, 0.5).mean > state.most_missing:  # fresh ones would hardly show it to be less
                state.status[candidate] = MISSING_LITRES
                if _is_no_cure(state, order[-1]):
                    break
                continue
            attempts += 1
            alpha, fresh = state.alpha / 2**attempts, state.fresh.setdefault(candidate, [])
            state.status[candidate] = NOT_CONFIRMED
            if _judge(state, candidate, fresh, alpha, fresh=True) == PASSED:
                if not state.misses_too_much(fresh, alpha):
                    state.status[candidate], state.answer, state.answer_alpha = CONFIRMED, candidate, alpha
                    break
                state.status[candidate] = MISSING_LITRES
        _finish_curve(state, order, around, also)
    except KeyboardInterrupt:
        state.stopped = True
        if not any(state.trials.values()):
            raise
    return state


def _is_no_cure(state: Scan, last: int) -> bool:
    """Return True if the last candidate surely leaves too many litres missing too: no more of it is a cure."""
    state.extend(last, min(PILOT, state.limit))
    found = litres_missing(state.trials[last], 1 - state.alpha)
    if (found.mean if found.low is None else found.low) <= state.most_missing:
        return False
    state.status.setdefault(last, MISSING_LITRES)
    return True


def _judge(state: Scan, candidate: int, trials: list[Kept], alpha: float, *, fresh: bool) -> str:
    """Return what replications, one after the other, say of a candidate; fresh ones never refute it early."""
    failures = 0
    for n in range(1, state.limit + 1):
        if len(trials) < n:
            trials.append(state.trial(candidate, n - 1 + fresh * state.limit))
        failures += trials[n - 1].fails(state.causes)
        if not fresh and refuted(failures, n, state.target, alpha):
            return TOO_OFTEN
        if shown(failures, n, state.target, alpha):
            return PASSED
        if hopeless(failures, state.limit, state.target, alpha):
            return NOT_SHOWN
    return NOT_SHOWN


def _finish_curve(state: Scan, order: Sequence[int], around: Sequence[int], also: Sequence[int]) -> None:
    """Run the answer and those beside it over the same replications, then a few of the whole range for the curve.

    Without an answer the best stands in its place. Nothing of this changes a verdict.
    """
    if not around:
        return
    middle = order.index(_best(state) if state.answer is None else state.answer)
    beside = list(dict.fromkeys((*order[max(0, middle - BESIDE) : middle + BESIDE + 1], *also)))
    common = max(min(COMMON, state.limit), *(len(state.trials.get(candidate, ())) for candidate in beside))
    further = [candidate for candidate in around if candidate not in state.status and candidate not in beside]
    state.prepare([(candidate, 0, common) for candidate in beside])
    for candidate, count in (
        *((candidate, common) for candidate in beside),
        *((candidate, min(CURVE_REPLICATIONS, state.limit)) for candidate in further),
    ):
        state.extend(candidate, count)
        state.status.setdefault(candidate, CURVE)


def _best(state: Scan) -> int:
    """Return the candidate tried that failed least often, the last of several."""
    tried = [place for place, trials in state.trials.items() if trials]
    return min(tried, key=lambda place: (state.failures(place) / len(state.trials[place]), -place))


def by_search(question: Question, over: Field, crew: Crew, progress: Progress) -> Found:
    """Return curve and answer from the scan of all candidates, in the order of value or cost."""
    candidates, n, one_field = over.candidates, question.replications, over.in_a_row
    piloted = 0 if one_field else len(candidates)
    shared = not gives_parts(question.hospital)
    tries = piloted + len(candidates) * (1 if shared else len(shares(question)))
    with crew:
        runs = runs_of(question, candidates, crew)
        state = _scan_of(question, runs, lambda done: progress(done + piloted, tries))
        try:
            runs.limit, runs.order = n, _order(over, state, progress)
        except KeyboardInterrupt:
            _pilot_stopped(state, runs)
        if not state.stopped:
            around = () if len(over.levers) > 1 else _beyond(runs.order)
            scan(state, runs.order, around, _of_the_file(question, over))
        looked_at = _look_closer(state)
        first, trials = 0, state.trials[looked_at]
        if state.answer is not None:
            first, trials = n, state.fresh[state.answer]
        handling = []
        if not state.stopped:
            handling = with_handling(question, candidates, crew, looked_at, first, first + len(trials))
            state.stopped = len(handling) < len(trials)
        rows = _by_enough(question, over, state, runs, shared, progress)
    unnamed = CURVE if state.answer is None or len(over.levers) == 1 else DEARER
    points = {
        place: _point(question, candidates[place], trials, state.status.get(place, unnamed), _mean_cost(trials))
        for place, trials in sorted(state.trials.items())
        if trials
    }
    curve = tuple(points.values())
    in_order = [points[place] for place in runs.order if place in points]  # none where there was no order yet
    place = answer = None
    if state.answer is not None:
        place = curve.index(points[state.answer])
        answer = _confirmed(question, state, candidates[state.answer], points[state.answer])
    kept = runs.row(looked_at, first, first + len(trials))
    return Found(
        complete=not state.stopped and len(rows) == len(shares(question)),
        replications_done=sum(map(len, (*state.trials.values(), *state.fresh.values()))),
        answer=answer,
        curve=curve,
        neighbours=_neighbours(over, curve, place),
        next_one=next_one(curve, place if one_field else None, None),
        more_replications=more_of_search(question, in_order, n) if in_order else None,
        measured=measured(question, candidates[looked_at], first, kept, handling),
        rules_of_thumb=rules_beside(
            question, candidates[looked_at], over, kept, lambda value: _at(curve, over, value)
        ),
        with_handling=handled(question, candidates[looked_at], first, handling),
        by_enough=rows,
    )


def _of_the_file(question: Question, over: Field) -> list[int]:
    """Return where the pair of levels of the file stands, beside which the others are looked at."""
    if not over.pairs:
        return []
    here = {LEVELS_TOGETHER: pair_text(*present(question.hospital))}
    return [place for place, each in enumerate(over.candidates) if each.values == here]


def _neighbours(over: Field, curve: Sequence[Point], place: int | None) -> Neighbours:
    if over.pairs:  # a pair has no next one
        return Neighbours(Sides())
    return neighbours(curve, place) if over.in_a_row else neighbours_by_field(over.levers, curve, place)


def _scan_of(question: Question, runs: SizingRuns, progress: Callable[[int], None]) -> Scan:
    return Scan(
        frozenset(question.causes),
        question.target,
        1 - question.confidence,
        question.replications,
        runs.one,
        progress,
        runs.prepare,
        most_missing=question.most_missing,
    )


def _by_enough(
    question: Question, over: Field, state: Scan, runs: SizingRuns, shared: bool, progress: Progress
) -> tuple[AtEnough, ...]:
    """Return the answer by what counts as enough of a flow: found anew where somebody may be given a part."""
    candidates, order, done = over.candidates, runs.order, len(over.candidates)
    tries = done * len(shares(question))

    def found(ended: Scan) -> EnoughAt:
        if ended.answer is None:
            return None, None
        fresh = ended.fresh[ended.answer]
        bound = shown_bound(sum(each.fails(ended.causes) for each in fresh), len(fresh), ended.answer_alpha)
        return candidates[ended.answer].values, bound

    def anew(permille: int) -> EnoughAt:
        nonlocal done
        again = runs_of(question, candidates, runs.crew, counting(permille))
        again.limit, again.order, before = runs.limit, order, done
        other = scan(_scan_of(question, again, lambda tried: progress(before + tried, tries)), order)
        if other.stopped:
            raise KeyboardInterrupt
        done += len(candidates)
        return found(other)

    return () if state.stopped else by_enough(question, found(state), shared, anew)


def _at(curve: Sequence[Point], over: Field, value: int) -> float | None:
    """Return the chance at a value of the curve, None between its points and outside."""
    path = over.levers[0].path
    return next((point.estimate for point in curve if float(point.values[path]) == value), None)


def _order(over: Field, state: Scan, progress: Progress) -> list[int]:
    """Return the candidates in the order in which they are tried: by value, or several fields by cost."""
    places = list(range(len(over.candidates)))
    if over.in_a_row:
        return places
    pilot = min(PILOT, state.limit)
    state.prepare([(place, 0, pilot) for place in places], lambda done: progress(done // pilot, 2 * len(places)))
    for place in places:
        state.extend(place, pilot)
    costs = [_mean_cost(state.trials[place]) for place in places]
    if all(cost is not None for cost in costs):
        return sorted(places, key=lambda place: (costs[place], place))
    if over.pairs:  # without prices: by how often a lorry comes
        return sorted(places, key=lambda place: (sum(each.deliveries for each in state.trials[place]), place))
    # by how far up its range each value is
    return sorted(places, key=lambda place: sum(_rank(each, over.candidates[place]) for each in over.levers))


def _pilot_stopped(state: Scan, runs: SizingRuns) -> None:
    """Keep what was done where Ctrl-C came before the order was known; stop at once where nothing was."""
    state.trials |= {place: runs.row(place, 0, PILOT) for place in runs.known}
    if not any(state.trials.values()):
        raise KeyboardInterrupt
    state.stopped = True


def _rank(each: Lever, candidate: Candidate) -> float:
    return each.values.index(candidate.values[each.path]) / max(1, len(each.values) - 1)


def _mean_cost(trials: Sequence[Kept]) -> float | None:
    costs = [each.cost for each in trials if each.cost is not None]
    return sum(costs) / len(costs) if trials and len(costs) == len(trials) else None


def _beyond(order: Sequence[int]) -> list[int]:
    """Return a few candidates of the whole range that the curve is to show whatever the answer."""
    step = max(1, ceil(len(order) / CURVE_BEYOND))
    return sorted({*order[::step], order[-1]})


def _look_closer(state: Scan) -> int:
    """Return the answer, else the best of those that failed, run until its causes can be seen.

    Two failures out of two say little about why.
    """
    if state.answer is not None:
        return state.answer
    best = _best(state)
    if not state.stopped:
        try:
            state.extend(best, min(CURVE_REPLICATIONS, state.limit))
        except KeyboardInterrupt:
            state.stopped = True
    return best


def _point(
    question: Question, candidate: Candidate, trials: Sequence[Kept], status: str, cost: float | None
) -> Point:
    count = sum(each.fails(frozenset(question.causes)) for each in trials)
    low, high = any_time_interval(count, len(trials), question.confidence)
    return Point(
        candidate.values,
        len(trials),
        count,
        count / len(trials),
        low,
        high,
        status,
        Cost(cost, mean_of(each.unbought for each in trials)),
    )


def _confirmed(question: Question, state: Scan, candidate: Candidate, scanned: Point) -> Answer:
    """Return the answer by its fresh replications."""
    assert state.answer is not None
    fresh = state.fresh[state.answer]
    point = _point(question, candidate, fresh, scanned.status, scanned.annual_cost)
    return Answer(
        point,
        at_most=shown_bound(point.failures, len(fresh), state.answer_alpha),
        attempts=sum(1 for trials in state.fresh.values() if trials),
        to_write=as_keys(candidate.there, question.strategy),
    )
