"""Run many facilities, and give the figures of each as soon as it is finished.

Only sums are kept (tally.py), and only of the facilities under way: memory depends on the facilities and their
figures, not on the number of replications.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any

from o2sim.errors import Problem, ScenarioError
from o2sim.questions.facilities.joint_tally import RowTallies, tallied, tally_rows
from o2sim.questions.facilities.result import FacilityFigures, StudyResult
from o2sim.questions.facilities.tally import Tally
from o2sim.runs.chunks import Chunk, Pacer, cut, missing
from o2sim.runs.executors import Crew
from o2sim.runs.identity import Ran, drawn_from
from o2sim.runs.packing import Packed
from o2sim.runs.run_store import Range, RunStore, Writer
from o2sim.runs.running import run_pieces
from o2sim.scenario.changing.facilities import Facilities, FacilitiesError, Facility
from o2sim.scenario.changing.joint import Joint
from o2sim.scenario.text.problems import listing, nearest, quote
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Scenario
from o2sim.statistics import doubt
from o2sim.statistics.estimator import Summary
from o2sim.typed import as_json
from o2sim.version import __version__

CONFIDENCE = 0.95
Piece = tuple[int, Chunk]  # the place of a facility in the list, and replications of it


@dataclass(frozen=True)
class Plan:
    """What is to be run of every facility; strategies None are all of each."""

    facilities: Sequence[Facility]
    replications: int
    seed: int
    engine: str
    strategies: Sequence[str] | None = None
    joints: Sequence[Joint] = ()  # joint draws laid over each facility, if any

    def kept_as(self, place: int) -> Scenario:
        """Return the scenario of a facility under the name by which its runs are kept."""
        scenario = self.facilities[place].scenario
        return self.joints[place].kept_as(scenario) if self.joints else scenario

    def names(self, scenario: Scenario) -> tuple[str, ...]:
        """Return the strategies of one facility, in the order of its file."""
        return tuple(n for n in scenario.strategies if self.strategies is None or n in self.strategies)

    @property
    def total(self) -> int:
        """Return the number of replications of all facilities together."""
        return self.replications * len(self.facilities)


def sound_facilities(
    read: Facilities, strategies: Sequence[str] | None, skip_bad: bool
) -> tuple[list[Facility], list[Problem], int]:
    """Return the facilities to run, what is wrong with the others, and how many those are.

    Raises FacilitiesError with all problems where bad ones are not to be left out, or none is sound.
    """
    lacking = _lacking(read.sound, strategies)
    files = {problem.file for problem in lacking}
    problems, bad = [*read.problems, *lacking], read.bad + len(files)
    sound = [facility for facility in read.sound if facility.scenario.file not in files]
    if problems and (not skip_bad or not sound):
        raise FacilitiesError(problems, bad)
    return sound, problems, bad


def _lacking(facilities: Sequence[Facility], strategies: Sequence[str] | None) -> list[Problem]:
    """Return a problem for each facility and strategy asked for that it lacks."""
    return [
        Problem(each.file, 0, "strategies", f"found no strategy named {quote(name)}", listing(each.strategies),
                nearest(name, each.strategies))
        for each in (facility.scenario for facility in facilities)
        for name in strategies or ()
        if name not in each.hospitals
    ]  # fmt: skip


def run_facilities(
    plan: Plan, crew: Crew, store: RunStore | None = None, progress: Callable[[int], None] | None = None
) -> Generator[FacilityFigures, None, None]:
    """Yield the figures of each facility, in the order of the list, as soon as those before it are done too.

    The figures depend neither on the crew nor on the order in which its work is done. Raises ScenarioError where a
    facility lacks a strategy, and as run_study does.
    """
    if wrong := _lacking(plan.facilities, plan.strategies):
        raise ScenarioError(wrong)
    with crew, Writer(store) as writer:
        yield from _Run(plan, crew, store, writer, progress or (lambda _: None)).figures()


def finished(
    plan: Plan, crew: Crew, store: RunStore | None = None, progress: Callable[[int], None] | None = None
) -> tuple[list[FacilityFigures], bool]:
    """Return the figures of the facilities that were finished, and True where Ctrl-C ended it."""
    found: list[FacilityFigures] = []
    try:
        with closing(run_facilities(plan, crew, store, progress)) as figures:
            found.extend(figures)
    except KeyboardInterrupt:
        return found, True
    return found, False


def study_result(plan: Plan, found: Sequence[FacilityFigures]) -> Summary:
    """Return the figures of the facilities that are finished and where they come from, ready for JSON."""
    hashes = " ".join(facility.scenario.hash for facility in plan.facilities)
    result = StudyResult(
        facilities_hash=hashlib.sha256(hashes.encode("ascii")).hexdigest()[:16],
        ran=Ran(__version__, plan.engine, plan.seed, plan.replications),
        facilities_finished=len(found),
        facilities_requested=len(plan.facilities),
        complete=len(found) == len(plan.facilities),
        per_days=YEAR_DAYS,
        confidence=CONFIDENCE,
        interval_holds=doubt.CHANCE_AND_INPUTS if plan.joints else doubt.CHANCE,
        facilities=tuple(found),
        draws=drawn_from(plan.joints[0], plan.replications) if plan.joints else None,
    )
    return dict(as_json(result))


def tally_chunk(
    scenario: Scenario, chunk: Chunk, seed: int, engine: str, keep: bool
) -> tuple[dict[str, Tally], dict[str, Packed], float]:
    """Return tallies of a chunk by strategy, packed totals if they are to be kept, and how long it took."""
    return tallied([scenario], chunk, seed, engine, keep, Tally)


class _Run:
    """One run of a plan: what is open, what waits for its turn, how far it is."""

    def __init__(
        self, plan: Plan, crew: Crew, store: RunStore | None, writer: Writer, progress: Callable[[int], None]
    ) -> None:
        self.plan, self.crew, self.store, self.writer, self.progress = plan, crew, store, writer, progress
        self.pacer = Pacer()
        self.tallies: dict[
            int, dict[str, Tally] | dict[str, RowTallies]
        ] = {}  # of the facilities begun and not yet given out
        self.left: dict[int, int] = {}  # of them, replications to do
        self.done = 0
        self.spent_s = 0.0

    def figures(self) -> Iterator[FacilityFigures]:
        """Yield the figures of each facility in order."""
        due = 0
        work = tally_rows if self.plan.joints else tally_chunk
        for done in chain(run_pieces(self.crew, work, self._pieces(), self._arguments), [None]):
            if done is not None:
                self._take(*done)
            while self.left.get(due) == 0:
                yield self._figures(due)
                due += 1

    def _pieces(self) -> Iterator[Piece]:
        if self.store is not None:
            scenarios = map(self.plan.kept_as, range(len(self.plan.facilities)))
            self.store.begin(scenarios, self.plan.strategies, self.plan.seed, self.plan.replications)
        for place, facility in enumerate(self.plan.facilities):
            for chunk in cut(self._open(place, facility.scenario), self.pacer):
                yield place, chunk

    def _open(self, place: int, scenario: Scenario) -> list[Chunk]:
        """Return what is to be run of a facility, once its tallies hold what is in the store."""
        names, plan = self.plan.names(scenario), self.plan
        tallies: Any = {name: self._tally(place) for name in names}
        self.tallies[place] = tallies
        at_hand: dict[str, set[int]] = {name: set() for name in names}
        if self.store is not None:
            digest = self.plan.kept_as(place).hash
            for name in names:
                for outcome, cost, _ in self.store.outcomes(digest, name, plan.seed, plan.replications):
                    tallies[name].add(outcome, cost)
                    at_hand[name].add(outcome.replication)
        chunks = missing(names, self.plan.replications, at_hand)
        self.left[place] = sum(chunk.size for chunk in chunks)
        self._advance(self.plan.replications - self.left[place])
        return chunks

    def _tally(self, place: int) -> Tally | RowTallies:
        return RowTallies.of(self.plan.joints[place].rows) if self.plan.joints else Tally()

    def _arguments(self, piece: Piece) -> tuple[Any, ...]:
        place, chunk = piece
        if self.plan.joints:
            joint, keep = self.plan.joints[place], self.store is not None
            rows = joint.rows_from(chunk.first, chunk.stop)
            return rows, chunk, self.plan.seed, self.plan.engine, keep, joint.rows
        scenario = self.plan.facilities[place].scenario
        return scenario, chunk, self.plan.seed, self.plan.engine, self.store is not None

    def _take(self, piece: Piece, found: tuple[dict[str, Any], dict[str, Packed], float]) -> None:
        (place, chunk), (tallies, packed, seconds) = piece, found
        digest = self.plan.kept_as(place).hash
        for name, tally in tallies.items():
            self.tallies[place][name].merge(tally)
        self.writer.add(
            Range(digest, name, self.plan.seed, chunk.first, chunk.stop, self.plan.engine, rows)
            for name, rows in packed.items()
        )
        self.left[place] -= chunk.size
        self._advance(chunk.size)
        self.spent_s += seconds
        self.pacer.learn(chunk.size, seconds)
        self.crew.consider(self.spent_s, (self.plan.total - self.done) * self.pacer.seconds_each)

    def _advance(self, replications: int) -> None:
        if replications:
            self.done += replications
            self.progress(self.done)

    def _figures(self, place: int) -> FacilityFigures:
        """Return the figures of a facility that is done, and forget its tallies."""
        facility, tallies = self.plan.facilities[place], self.tallies.pop(place)
        del self.left[place]
        hospitals = facility.scenario.hospitals
        first = next(iter(hospitals.values()))
        return FacilityFigures(
            facility=facility.scenario.name,
            place=facility.place,
            scenario_hash=facility.scenario.hash,
            horizon_days=first.horizon_s / DAY_S,
            currency=next((h.costs.currency for h in hospitals.values() if h.costs is not None), None),
            strategies={
                name: replace(
                    tally.figures(first.horizon_s, hospitals[name].costs is not None, CONFIDENCE),
                    unbought=tally.unbought(hospitals[name]),
                )
                for name, tally in tallies.items()
            },
        )
