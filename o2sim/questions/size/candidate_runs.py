"""Candidates and numbers of replications in, what these told out: run when asked for, by workers ahead of that.

What is run ahead may be run in vain, and never changes an answer: a replication depends on its number alone, and
whoever asks takes them one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from o2sim.questions.size.candidates import Candidate
from o2sim.questions.size.kept_outcome import Noted, alone, note_range
from o2sim.runs.executors import Crew
from o2sim.runs.running import run_pieces

Piece = tuple[int, int, int]  # candidate, first replication, the one after the last
FIRST = 16  # replications of a candidate of which nothing is known: enough to see that most are hopeless
AHEAD_S = 0.25  # of one worker's work


class SizingRuns:
    """The replications of candidates, by number, each run once."""

    def __init__(self, candidates: Sequence[Candidate], strategy: str, seed: int, engine: str, crew: Crew) -> None:
        """Take who does the work; it is entered and left by the caller."""
        self.strategy, self.seed, self.engine, self.crew = strategy, seed, engine, crew
        self.candidates = candidates
        self.order: Sequence[int] = ()  # in which a search goes through the candidates
        self.limit = 0  # replications of one candidate, after which fresh ones come
        self.known: dict[int, dict[int, Noted]] = {}
        self.spent_s, self.seconds_each = 0.0, 0.0

    def batch(
        self, candidate: int, first: int, stop: int, tell: Callable[[int], None] | None = None
    ) -> list[Noted]:
        """Return consecutive replications; where Ctrl-C ends it, those done without a gap, if any.

        tell is told how many are done.
        """
        try:
            self.prepare([(candidate, first, stop)], tell)
        except KeyboardInterrupt:
            if not self.row(candidate, first, stop):
                raise
        return self.row(candidate, first, stop)

    def one(self, candidate: int, replication: int) -> Noted:
        """Return one replication, run now if it is not known; with workers, what may be asked for next with it."""
        known = self.known.setdefault(candidate, {})
        if replication not in known:
            self.prepare(self._next(candidate, replication))
        return known[replication]

    def row(self, candidate: int, first: int, stop: int) -> list[Noted]:
        """Return what is known of consecutive replications up to the first gap."""
        known, found = self.known.get(candidate, {}), list[Noted]()
        while first + len(found) < stop and first + len(found) in known:
            found.append(known[first + len(found)])
        return found

    def prepare(self, ranges: Sequence[Piece], tell: Callable[[int], None] | None = None) -> None:
        """Run ranges that will be asked for, but for what is known; tell is told how many are done."""
        lacking = [(c, first + len(self.row(c, first, stop)), stop) for c, first, stop in ranges]
        total, done = sum(stop - first for _, first, stop in lacking), 0
        scenarios: dict[int, Any] = {}

        def arguments(piece: Piece) -> tuple[Any, ...]:
            candidate, first, stop = piece
            if candidate not in scenarios:
                scenarios[candidate] = alone(self.candidates[candidate].scenario, self.strategy)
            return scenarios[candidate], self.strategy, self.seed, self.engine, first, stop

        for (candidate, first, stop), (noted, seconds) in run_pieces(
            self.crew, note_range, self._cut(lacking), arguments
        ):
            self.known.setdefault(candidate, {}).update(zip(range(first, stop), noted, strict=True))
            done += stop - first
            self.spent_s += seconds
            self.seconds_each = seconds / (stop - first)
            self.crew.consider(self.spent_s, (total - done + self._to_come()) * self.seconds_each)
            if tell is not None:
                tell(done)

    def _cut(self, ranges: Sequence[Piece]) -> Iterator[Piece]:
        """Yield ranges in pieces: of one replication in place, so that Ctrl-C loses one, else for all workers."""
        for candidate, first, stop in ranges:
            while first < stop:
                size = 1
                if self.crew.window > 1:
                    size = max(FIRST, int(AHEAD_S / self.seconds_each)) if self.seconds_each else FIRST
                    size = min(size, max(1, -(-(stop - first) // self.crew.window)))
                yield candidate, first, min(first + size, stop)
                first += size

    def _next(self, candidate: int, replication: int) -> list[Piece]:
        """Return what to run where one replication of a candidate is asked for."""
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
