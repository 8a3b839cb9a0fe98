"""Candidates in the order of their price in, the first that meets a target out: scanned, then confirmed afresh.

The chance need not fall from one candidate to the next, so they are scanned one by one and never halved. All
meet the same replications (0, 1, 2 ...), each until a test that holds at every look has spoken, or until no row
of successes within the limit could make it speak. Looking at many and taking the best would flatter it: so the
one that passes is confirmed on as many fresh replications, which took no part in the scan. The j-th that is
confirmed may err with a chance of alpha / 2^j, so that all attempts together err with at most alpha.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from o2sim.outcome import Cause
from o2sim.statistics.sequential import hopeless, refuted, shown

TOO_OFTEN, NOT_SHOWN, PASSED, CONFIRMED, NOT_CONFIRMED, CURVE, DEARER, ENOUGH = (
    "fails too often",
    "not shown to be enough",
    "passed the scan",
    "confirmed",
    "not confirmed",
    "for the curve",
    "dearer, not tried",
    "enough in the simulation",
)
Range = tuple[int, int, int]  # candidate, first replication, the one after the last
Prepare = Callable[..., None]  # told ranges that will be asked for, and whom to tell how many are done
CURVE_REPLICATIONS = 100  # of candidates that need no test


@dataclass(frozen=True)
class Trial:
    """What one replication told: the causes of its interruptions, its money a year (None: no prices)."""

    causes: frozenset[Cause]
    cost: float | None = None

    def fails(self, causes: frozenset[Cause]) -> bool:
        """Return True where somebody was interrupted by one of these causes."""
        return bool(self.causes & causes)


@dataclass
class Scan:
    """What was tried: trials by candidate, in the scan and afresh, the verdict on each, which was confirmed."""

    causes: frozenset[Cause]
    target: float
    alpha: float
    limit: int  # replications of one candidate, in the scan and again afresh
    trial: Callable[[int, int], Trial]  # candidate, replication
    progress: Callable[[int], None] | None = None
    prepare: Prepare = lambda *_: None
    trials: dict[int, list[Trial]] = field(default_factory=dict)
    fresh: dict[int, list[Trial]] = field(default_factory=dict)
    status: dict[int, str] = field(default_factory=dict)
    answer: int | None = None
    answer_alpha: float = 0.0
    stopped: bool = False

    def failures(self, candidate: int) -> int:
        """Return how many of a candidate's trials in the scan failed."""
        return sum(each.fails(self.causes) for each in self.trials.get(candidate, ()))

    def extend(self, candidate: int, count: int) -> None:
        """Run a candidate until it has `count` trials in the scan."""
        done = self.trials.setdefault(candidate, [])
        while len(done) < count:
            done.append(self.trial(candidate, len(done)))


def scan(state: Scan, order: Sequence[int], around: Sequence[int] = ()) -> Scan:
    """Try candidates in order until one is confirmed; then run those of `around` not tried yet, for the curve.

    Ctrl-C ends it with what was done so far, `stopped` set.
    """
    try:
        attempts = 0
        for place, candidate in enumerate(order):
            state.status[candidate] = _screen(state, candidate)
            if state.progress is not None:
                state.progress(place + 1)
            if state.status[candidate] != PASSED:
                continue
            attempts += 1
            alpha = state.alpha / 2**attempts
            if _confirm(state, candidate, alpha):
                state.status[candidate], state.answer, state.answer_alpha = CONFIRMED, candidate, alpha
                break
            state.status[candidate] = NOT_CONFIRMED
        _finish_curve(state, order, around)
    except KeyboardInterrupt:
        state.stopped = True
        if not any(state.trials.values()):
            raise
    return state


def _screen(state: Scan, candidate: int) -> str:
    """Return what the scan says of a candidate."""
    failures = 0
    for n in range(1, state.limit + 1):
        state.extend(candidate, n)
        failures += state.trials[candidate][n - 1].fails(state.causes)
        if refuted(failures, n, state.target, state.alpha):
            return TOO_OFTEN
        if shown(failures, n, state.target, state.alpha):
            return PASSED
        if hopeless(failures, state.limit, state.target, state.alpha):
            return NOT_SHOWN
    return NOT_SHOWN


def _confirm(state: Scan, candidate: int, alpha: float) -> bool:
    """Return True where fresh replications show the candidate to be enough."""
    done = state.fresh.setdefault(candidate, [])
    failures = 0
    for n in range(1, state.limit + 1):
        done.append(state.trial(candidate, state.limit + n - 1))
        failures += done[-1].fails(state.causes)
        if shown(failures, n, state.target, alpha):
            return True
        if hopeless(failures, state.limit, state.target, alpha):
            return False
    return False


def _finish_curve(state: Scan, order: Sequence[int], around: Sequence[int]) -> None:
    """Run a few candidates for the curve alone; the answer and the next one over the same replications."""
    enough = min(CURVE_REPLICATIONS, state.limit)
    if state.answer is not None and around:
        beside = order.index(state.answer) + 1
        enough = max(enough, len(state.trials[state.answer]))
        state.extend(state.answer, enough)
        around = sorted({*around, *order[beside : beside + 1]})
    around = [candidate for candidate in around if candidate not in state.status]
    state.prepare([(candidate, 0, enough) for candidate in around])
    for candidate in around:
        state.extend(candidate, enough)
        state.status[candidate] = CURVE
