"""Which run a stock is sized on, what its answer gives with handling, and what counts as enough of a flow.

Sized is the companion run, in which hands, eyes and the way to the store cost no time: gas spared by patients who
went without must not shrink a stock. How much of a flow counts as enough moves nothing in the hospital: no rule of
allocation, no transfer and no order asks for it. It only says who counts as short, so runs are shared where nobody
can be given a part of a flow, or where a bare shelf counts at once; else they are counted anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from o2sim.questions.size.candidate_runs import Kept, SizingRuns
from o2sim.questions.size.candidates import Candidate, Question
from o2sim.questions.size.result import AtEnough, Values
from o2sim.runs.executors import Crew
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.types.hospital import Hospital

PERMILLES = (500, 800, 1_000)  # of the prescribed flow, at which the answer is shown
EnoughAt = tuple[Values | None, float | None]  # the values that are enough, and the bound of their chance


def as_it_is(hospital: Hospital) -> Hospital:
    """Return a hospital with handling as in the file."""
    return hospital


def counting(permille: int) -> Callable[[Hospital], Hospital]:
    """Return what makes the companion's hospital, with this much of a flow as enough."""

    def made(hospital: Hospital) -> Hospital:
        alone = with_perfect_handling(hospital)
        return replace(alone, shortfall=replace(alone.shortfall, enough_permille=permille))

    return made


def gives_parts(hospital: Hospital) -> bool:
    """Return True if somebody may be given a part of the prescribed flow."""
    return hospital.concentrators is not None and hospital.allocation.reduced_flow != "never"


def runs_of(
    question: Question,
    candidates: Sequence[Candidate],
    crew: Crew,
    made: Callable[[Hospital], Hospital] = with_perfect_handling,
) -> SizingRuns:
    """Return the replications of candidates, of the companion run unless another is made."""
    how = (question.strategy, question.seed, question.engine, crew, made)
    return SizingRuns(candidates, *how, joint=question.joint, hold_levels=question.hold_levels)


def with_handling(
    question: Question, candidates: Sequence[Candidate], crew: Crew, at: int, first: int, stop: int
) -> list[Kept]:
    """Return replications of a candidate with handling as in the file; those done where Ctrl-C ends it."""
    try:
        return runs_of(question, candidates, crew, as_it_is).batch(at, first, stop)
    except KeyboardInterrupt:
        return []


def shares(question: Question) -> list[int]:
    """Return how much of a flow may count as enough, in thousandths: those of the file among them."""
    return sorted({*PERMILLES, question.hospital.shortfall.enough_permille})


def by_enough(
    question: Question, found: EnoughAt, shared: bool, anew: Callable[[int], EnoughAt]
) -> tuple[AtEnough, ...]:
    """Return the answer at each share of the flow that may count as enough, that of the file among them.

    found: the answer as the file counts. shared: whether it is that of all shares. anew: finds that of another
    share. Those before Ctrl-C, where that ends it.
    """
    own = question.hospital.shortfall.enough_permille
    rows: list[AtEnough] = []
    for permille in shares(question):
        try:
            values, at_most = found if shared or permille == own else anew(permille)
        except KeyboardInterrupt:
            break
        rows.append(AtEnough(permille / 1_000, permille == own, shared and permille != own, values, at_most))
    return tuple(rows)
