"""Size over joint draws: rows of a table that replications meet in turn, so that inputs and chance are both in
doubt.

Replications that share a row go together, so each stock has the bound of o2sim/statistics/clusters.py. Stocks are
judged from the largest down, each at the whole error, and the first that is not shown to be enough ends it: as
their order is fixed beforehand, all together err at most that often, though every one meets the same rows (a fixed
sequence of tests: Maurer, Hothorn and Lehmacher 1995, from memory). Where one batch gives the curve
(one_batch.py) it does so here too, since each row goes through the same orders at every stock.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
import numpy.typing as npt

from o2sim.errors import O2simError
from o2sim.questions.size.candidate_runs import Kept, SizingRuns
from o2sim.questions.size.candidates import Field, Question
from o2sim.questions.size.parts import (
    handled,
    is_too_much,
    litres_missing,
    measured,
    neighbours,
    next_one,
    rules_beside,
)
from o2sim.questions.size.result import (
    ENOUGH,
    MISSING_LITRES,
    NOT_SHOWN,
    Answer,
    AtEnough,
    ByRow,
    Found,
    Point,
    Values,
)
from o2sim.questions.size.which_run import by_enough, gives_parts, runs_of, with_handling
from o2sim.runs.executors import Crew
from o2sim.runs.identity import drawn_from
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER
from o2sim.scenario.changing.splice import as_keys
from o2sim.scenario.types.hospital import Hospital
from o2sim.statistics.estimator import Estimator
from o2sim.statistics.sequential import least_replications

MEASURED = 200  # fresh replications, at most, in which an answer is looked at as a whole; each row at least once
SHARES = (0.05, 0.5, 0.95)  # of the rows, whose own answers are shown
Seen = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Tried:
    """What was seen of the largest candidates, from the place on: in which replications each failed."""

    first: int
    seen: tuple[Seen, ...]
    points: tuple[Point, ...]
    at_most: tuple[float, ...]

    def least_enough(self, target: float) -> int | None:
        """Return the place of the least that is enough with all that are larger; None where there is none."""
        place = None
        for at in reversed(range(len(self.at_most))):
            if self.at_most[at] > target or self.points[at].status == MISSING_LITRES:
                break
            place = self.first + at
        return place


def check_rows(question: Question, fields: Sequence[str]) -> None:
    """Raise O2simError where rows cannot show the target, or hold what is sized themselves."""
    joint = question.joint
    assert joint is not None
    if LEVELS_TOGETHER in fields or len(fields) > 1:
        raise O2simError("size: draws go with one field at a time, such as --vary cylinders.fleet")
    held = [path for path in joint.table.paths if f"{path}.".startswith(f"{fields[0]}.")]
    if held:
        raise O2simError(f"size: {fields[0]} is sized, and a column of the draws as well; take the column out")
    least = least_replications(question.target, question.confidence)
    if joint.rows < least:
        raise O2simError(
            f"size: {joint.rows} rows of draws cannot show a chance of at most {100 * question.target:g} % with a "
            f"confidence of {100 * question.confidence:g} %, however many replications meet them; it takes at "
            f"least "
            f"{least} rows"
        )


def by_rows(
    question: Question, over: Field, crew: Crew, progress: Callable[[int, int], None], one_batch: bool
) -> Found:
    """Return curve and answer over joint draws. one_batch: the largest stock gives the whole curve."""
    with crew:
        runs = runs_of(question, over.candidates, crew)
        tried, batch = (_of_one_batch if one_batch else _in_turn)(question, over, runs, progress)
        return _found(question, over, runs, tried, batch, one_batch)


def _of_one_batch(
    question: Question, over: Field, runs: SizingRuns, progress: Callable[[int, int], None]
) -> tuple[Tried, list[Kept]]:
    """Return what one batch at the largest stock says of every stock, and the batch."""
    total, last = question.replications, len(over.candidates) - 1
    batch = _whole(runs, last, 0, total, lambda done: progress(done, total))
    lowest = np.array([each.lowest_shelf for each in batch])
    fleets = [_fleet(each.hospital(question.strategy)) for each in over.candidates]
    seen = [lowest < fleets[-1] - fleet for fleet in fleets]
    return _tried(question, over, 0, seen, [False] * len(seen)), batch


def _in_turn(
    question: Question, over: Field, runs: SizingRuns, progress: Callable[[int, int], None]
) -> tuple[Tried, list[Kept]]:
    """Return what a batch of each candidate says, from the largest down to the first that is not enough."""
    total, causes = question.replications, frozenset(question.causes)
    seen: list[Seen] = []
    missing: list[bool] = []
    batch: list[Kept] = []
    for done, at in enumerate(reversed(range(len(over.candidates))), 1):
        kept = _whole(runs, at, 0, total)
        progress(done * total, len(over.candidates) * total)
        batch = batch or kept
        seen.insert(0, np.array([each.fails(causes) for each in kept]))
        lacking = litres_missing(kept, question.confidence, question.rows)
        missing.insert(0, is_too_much(lacking, question.most_missing))
        if missing[0] or _estimator(question).at_most(seen[0]) > question.target:
            break
    return _tried(question, over, len(over.candidates) - len(seen), seen, missing), batch


def _tried(question: Question, over: Field, first: int, seen: Sequence[Seen], missing: Sequence[bool]) -> Tried:
    """Return the points of the curve with their bounds, from the place on."""
    estimator, points, bounds = _estimator(question), [], []
    for candidate, failed, lacks in zip(over.candidates[first:], seen, missing, strict=True):
        chance, bound = estimator.probability(failed), estimator.at_most(failed)
        status = MISSING_LITRES if lacks else ENOUGH if bound <= question.target else NOT_SHOWN
        count, n = int(failed.sum()), len(failed)
        points.append(Point(candidate.values, n, count, count / n, chance.low, chance.high, status))
        bounds.append(bound)
    return Tried(first, tuple(seen), tuple(points), tuple(bounds))


def _found(
    question: Question, over: Field, runs: SizingRuns, tried: Tried, batch: Sequence[Kept], one_batch: bool
) -> Found:
    """Return the answer, its curve, and what else happens at it on fresh replications."""
    total, candidates, curve = question.replications, over.candidates, list(tried.points)
    chosen = tried.least_enough(question.target)
    first, stop = total, total + min(max(MEASURED, question.rows or 0), total)
    kept, handling, complete = list[Kept](), list[Kept](), True
    try:
        chosen = _with_enough_gas(question, runs, tried, chosen, curve, batch)
        at = len(candidates) - 1 if chosen is None else chosen
        kept = _whole(runs, at, first, stop)
        handling = with_handling(question, candidates, runs.crew, at, first, stop)
        complete = len(handling) == len(kept)
    except KeyboardInterrupt:
        chosen, at, complete = None, len(candidates) - 1, False
    place = None if chosen is None else chosen - tried.first
    looked_at, answer = candidates[at], None
    if place is not None:
        answer = Answer(curve[place], tried.at_most[place], None, as_keys(looked_at.there, question.strategy))
    return Found(
        complete=complete,
        replications_done=len(tried.seen[-1]),
        answer=answer,
        curve=tuple(curve),
        neighbours=neighbours(curve, place),
        next_one=next_one(curve, place, None),
        more_replications=None,
        measured=measured(question, looked_at, first, kept, handling),
        rules_of_thumb=rules_beside(question, looked_at, over, kept, lambda value: _chance_at(over, curve, value)),
        with_handling=handled(question, looked_at, first, handling),
        by_enough=_by_enough(question, answer, one_batch),
        draws=None if question.joint is None else drawn_from(question.joint, question.replications),
        by_row=_by_row(question, tried),
    )


def _by_enough(question: Question, answer: Answer | None, one_batch: bool) -> tuple[AtEnough, ...]:
    """Return the answer by what counts as served: all shares where they have one answer, else that of the file."""
    found = (None, None) if answer is None else (answer.point.values, answer.at_most)
    if one_batch or not gives_parts(question.hospital):
        return by_enough(question, found, shared=True, anew=lambda _: found)
    return (AtEnough(question.hospital.shortfall.enough_permille / 1_000, True, False, *found),)


def _with_enough_gas(
    question: Question,
    runs: SizingRuns,
    tried: Tried,
    chosen: int | None,
    curve: list[Point],
    batch: Sequence[Kept],
) -> int | None:
    """Return the place from the chosen one up that surely leaves few enough litres missing, if any."""
    if chosen is None:
        return None
    total, confidence, most = question.replications, question.confidence, question.most_missing
    if is_too_much(litres_missing(batch, confidence, question.rows), most):
        return None
    for at in range(chosen, tried.first + len(curve)):
        if not is_too_much(litres_missing(_whole(runs, at, 0, total), confidence, question.rows), most):
            return at
        curve[at - tried.first] = _marked(curve[at - tried.first])
    return None


def _marked(point: Point) -> Point:
    return Point(
        point.values, point.replications, point.failures, point.estimate, point.low, point.high, MISSING_LITRES
    )


def _by_row(question: Question, tried: Tried) -> ByRow | None:
    """Return the least that is enough within single rows; None where a row has too few replications to say."""
    rows, n = question.rows, len(tried.seen[-1])
    assert rows is not None
    if n // rows * question.target < 1:
        return None
    counts = np.bincount(np.arange(n) % rows, minlength=rows)
    allowed = np.floor(counts * question.target + 1e-9)
    fails = np.array([np.bincount(np.arange(n) % rows, weights=seen, minlength=rows) for seen in tried.seen])
    enough = np.flip(np.cumprod(np.flip(fails <= allowed, axis=0), axis=0), axis=0)  # with all that are larger
    places = len(tried.seen) - enough.sum(axis=0).astype(int)  # that many: the largest is not enough
    ordered = np.sort(places)
    low, middle, high = (_values_at(tried, int(ordered[_rank(share, rows)])) for share in SHARES)
    return ByRow(n // rows, low, middle, high, float((places == len(tried.seen)).mean()))


def _rank(share: float, rows: int) -> int:
    """Return the place of the row below or at which this share of them lies."""
    return max(floor(rows * share) if share < SHARES[1] else ceil(rows * share) - 1, 0)


def _values_at(tried: Tried, place: int) -> Values | None:
    return tried.points[place].values if place < len(tried.points) else None


def _chance_at(over: Field, curve: Sequence[Point], value: int) -> float | None:
    """Return the chance at a value of the field by the curve, None where it is not on it."""
    path = over.levers[0].path
    return next((point.estimate for point in curve if point.values[path] == str(value)), None)


def _estimator(question: Question) -> Estimator:
    return Estimator(question.confidence, "", question.rows)


def _whole(
    runs: SizingRuns, at: int, first: int, stop: int, progress: Callable[[int], None] = lambda _: None
) -> list[Kept]:
    """Return replications of a candidate, all of them; KeyboardInterrupt where some are missing."""
    kept = runs.batch(at, first, stop, progress)
    if len(kept) < stop - first:
        raise KeyboardInterrupt
    return kept


def _fleet(hospital: Hospital) -> int:
    assert hospital.cylinders is not None
    return hospital.cylinders.fleet
