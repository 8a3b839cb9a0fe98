"""Run the replications of candidates, each once and only when it is needed; workers run ahead of that.

What is run ahead may never be used, and never changes an answer: a replication depends on its number alone, and
whoever needs replications takes them one by one. Only what a sizing needs of an outcome is kept: small enough for
workers to send thousands.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import takewhile
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.money.cost import annual_cost
from o2sim.money.unbought import Unbought, lacking_of, unbought
from o2sim.outcome import DAILY_COLUMNS, Cause, Outcome
from o2sim.questions.size.candidates import Candidate
from o2sim.runs.executors import Crew
from o2sim.runs.running import run_pieces
from o2sim.runs.study import run_replication
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.changing.joint import Joint
from o2sim.scenario.types.hospital import Hospital, Scenario

Range = tuple[int, int, int]  # candidate, first replication, the one after the last
FIRST = 16  # replications of a candidate run first: enough to see that most candidates are hopeless
AHEAD_S = 0.25  # of one worker's work
WEEK_DAYS = 7
_USED, _USED_IN_ONE = DAILY_COLUMNS.index("used_7_days_litres"), DAILY_COLUMNS.index("used_litres")


@dataclass(frozen=True)
class Kept:
    """What is kept of one replication: the causes of its interruptions, its money a year (None: no prices)."""

    causes: frozenset[Cause]
    cost: float | None = None
    horizon_s: int = 0
    stock_out: bool = False
    emptied: int = 0  # cylinders
    deliveries: int = 0
    lowest_shelf: int = 0  # fewest full cylinders left after one was taken; -1 where somebody went without
    interrupted: bool = False  # by whatever cause
    short_s: int = 0  # patient-seconds
    needed_gas: int = 0
    lacking_gas: int = 0  # of it, what was not delivered
    unbought: Unbought | None = None  # cylinders a year; None where nobody counts money
    weeks_l: npt.NDArray[np.int32] = field(  # litres drawn from cylinders in each week, from the stock book
        default_factory=lambda: np.zeros(0, dtype=np.int32), compare=False
    )
    days_l: npt.NDArray[np.int32] = field(  # the same for each day but the last
        default_factory=lambda: np.zeros(0, dtype=np.int32), compare=False
    )

    def fails(self, causes: frozenset[Cause]) -> bool:
        """Return True where somebody was interrupted by one of these causes."""
        return bool(self.causes & causes)


def kept_of(hospital: Hospital, outcome: Outcome) -> Kept:
    """Return what a sizing needs of an outcome.

    The lowest shelf is -1 where somebody went without, or had to do with a part of the flow, at this very stock:
    no smaller one would do then, however much of a flow counts as enough.
    """
    items = annual_cost(hospital, outcome)
    in_part = outcome.under_served_s + outcome.short_served_s
    without = outcome.unserved_s[Cause.NO_CYLINDER] + outcome.interruptions[Cause.NO_CYLINDER] + in_part > 0
    return Kept(
        causes=outcome.went_wrong,
        cost=sum(items.values()) if items else None,
        horizon_s=outcome.horizon_s,
        stock_out=outcome.stock_outs > 0,
        emptied=outcome.cylinders_emptied,
        deliveries=outcome.deliveries,
        lowest_shelf=-1 if without and outcome.fewest_full == 0 else outcome.fewest_full,
        interrupted=sum(outcome.interruptions) > 0,
        short_s=sum(outcome.unserved_s) + outcome.short_served_s,
        needed_gas=outcome.needed_gas,
        lacking_gas=outcome.needed_gas - outcome.cylinder_gas - outcome.concentrator_gas,
        unbought=unbought(hospital, lacking_of(outcome)),
        weeks_l=outcome.daily[WEEK_DAYS::WEEK_DAYS, _USED].copy(),
        days_l=outcome.daily[1:, _USED_IN_ONE].copy(),
    )


def run_range(
    rows: Sequence[Scenario], strategy: str, seed: int, engine: str, first: int, stop: int
) -> tuple[list[Kept], float]:
    """Return what is kept of replications first ... stop - 1, and the seconds they took.

    rows: the scenarios that they meet in turn, from the first on; one without joint draws.
    """
    began, kept = time.perf_counter(), []
    for place, replication in enumerate(range(first, stop)):
        scenario = rows[place % len(rows)]
        outcome = run_replication(scenario, (strategy,), seed, replication, engine)[0]
        kept.append(kept_of(scenario.hospitals[strategy], outcome))
    return kept, time.perf_counter() - began


def nothing(*_: object) -> None:
    """Do nothing, in place of a progress bar."""


class SizingRuns:
    """The replications of candidates, by number, each run once."""

    def __init__(
        self,
        candidates: Sequence[Candidate],
        strategy: str,
        seed: int,
        engine: str,
        crew: Crew,
        made: Callable[[Hospital], Hospital] = with_perfect_handling,
        joint: Joint | None = None,
        hold_levels: bool = False,
    ) -> None:
        """Take who does the work; it is entered and left by the caller. made: what is run of each hospital.

        joint: draws that replications meet in turn; hold_levels: as for the candidates.
        """
        self.joint, self.hold_levels = joint, hold_levels
        self._alone: dict[tuple[int, int], Scenario] = {}  # by candidate and row
        self.strategy, self.seed, self.engine, self.crew, self.made = strategy, seed, engine, crew, made
        self.candidates = candidates
        self.order: Sequence[int] = ()  # in which a search goes through the candidates
        self.limit = 0  # replications of one candidate, after which fresh ones come
        self.known: dict[int, dict[int, Kept]] = {}
        self.spent_s, self.seconds_each = 0.0, 0.0

    def batch(
        self, candidate: int, first: int, stop: int, progress: Callable[[int], None] = nothing
    ) -> list[Kept]:
        """Return consecutive replications; where Ctrl-C ends it, those done without a gap, if any.

        progress is given how many are done.
        """
        try:
            self.prepare([(candidate, first, stop)], progress)
        except KeyboardInterrupt:
            if not self.row(candidate, first, stop):
                raise
        return self.row(candidate, first, stop)

    def one(self, candidate: int, replication: int) -> Kept:
        """Return one replication, run now if it is not known; workers run what may be needed next as well."""
        known = self.known.setdefault(candidate, {})
        if replication not in known:
            self.prepare(self._next(candidate, replication))
        return known[replication]

    def row(self, candidate: int, first: int, stop: int) -> list[Kept]:
        """Return what is known of consecutive replications up to the first gap."""
        known = self.known.get(candidate, {})
        return [known[each] for each in takewhile(known.__contains__, range(first, stop))]

    def prepare(self, ranges: Sequence[Range], progress: Callable[[int], None] = nothing) -> None:
        """Run ranges that will be needed, except what is known; progress is given how many are done."""
        lacking = [(c, first + len(self.row(c, first, stop)), stop) for c, first, stop in ranges]
        total, done = sum(stop - first for _, first, stop in lacking), 0

        def arguments(piece: Range) -> tuple[Any, ...]:
            candidate, first, stop = piece
            count = 1 if self.joint is None else self.joint.rows
            rows = [self._of(candidate, each % count) for each in range(first, min(stop, first + count))]
            return rows, self.strategy, self.seed, self.engine, first, stop

        for (candidate, first, stop), (kept, seconds) in run_pieces(
            self.crew, run_range, self._cut(lacking), arguments
        ):
            self.known.setdefault(candidate, {}).update(zip(range(first, stop), kept, strict=True))
            done += stop - first
            self.spent_s += seconds
            self.seconds_each = seconds / (stop - first)
            self.crew.consider(self.spent_s, (total - done + self._to_come()) * self.seconds_each)
            progress(done)

    def _of(self, candidate: int, row: int) -> Scenario:
        """Return the scenario of a candidate, at a row of draws if any, with one strategy."""
        if (candidate, row) not in self._alone:
            here = self.candidates[candidate]
            whole = here.scenario
            if self.joint is not None:
                whole = here.at_row(self.joint, row, self.strategy, self.hold_levels)
            alone = {self.strategy: self.made(whole.hospitals[self.strategy])}
            self._alone[candidate, row] = replace(whole, hospitals=alone, lines={}, tree=None)
        return self._alone[candidate, row]

    def _cut(self, ranges: Sequence[Range]) -> Iterator[Range]:
        """Yield ranges in pieces: of one replication in place, so that Ctrl-C loses one, else for all workers."""
        for candidate, first, stop in ranges:
            while first < stop:
                size = 1
                if self.crew.window > 1:
                    size = max(FIRST, int(AHEAD_S / self.seconds_each)) if self.seconds_each else FIRST
                    size = min(size, max(1, -(-(stop - first) // self.crew.window)))
                yield candidate, first, min(first + size, stop)
                first += size

    def _next(self, candidate: int, replication: int) -> list[Range]:
        """Return what to run where one replication of a candidate is needed."""
        if self.crew.window == 1:
            return [(candidate, replication, replication + 1)]
        fresh = self.limit <= replication
        done, end = (replication - self.limit, 2 * self.limit) if fresh else (replication, self.limit)
        stop = max(replication + 1, min(end, replication + max(FIRST, done)))  # as many again as went before
        ranges = [(candidate, replication, stop)]
        if not fresh and candidate in self.order:
            after = self.order[self.order.index(candidate) + 1 :]
            unknown = [each for each in after if not self.known.get(each)]
            ranges += [(each, 0, min(FIRST, self.limit)) for each in unknown[: self.crew.window]]
        return ranges

    def _to_come(self) -> int:
        """Return about how many replications a search still takes: most candidates few, one of them all."""
        unknown = sum(not self.known.get(each) for each in self.order)
        return FIRST * unknown + (2 * self.limit if self.order else 0)
