"""Facilities, strategies and a number of replications in, the figures of each facility out, as each is finished.

Only sums are kept (tally.py), and only of the facilities under way: memory depends on the facilities and their
figures, not on the number of replications.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from o2sim.errors import Problem, ScenarioError
from o2sim.questions.facilities.result import FacilityFigures, StudyProvenance
from o2sim.questions.facilities.tally import Tally
from o2sim.runs.chunks import Chunk, Pacer, cut, missing
from o2sim.runs.executors import Crew
from o2sim.runs.identity import Ran
from o2sim.runs.packing import Packed, Row, pack_totals, totals_of
from o2sim.runs.run_store import Range, RunStore, Writer
from o2sim.runs.running import run_pieces
from o2sim.runs.study import costs_of, run_replication
from o2sim.scenario.changing.facilities import Facility
from o2sim.scenario.text.problems import listing, nearest, quote
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Scenario
from o2sim.statistics import doubt
from o2sim.typed import as_json
from o2sim.version import __version__

Figures = dict[str, Any]
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Piece:
    """A chunk of the facility at a place of the list."""

    place: int
    chunk: Chunk


@dataclass(frozen=True)
class Tallied:
    """A piece that is finished: tallies and, for a store, packed outcomes by strategy, and how long it took."""

    tallies: dict[str, Tally]
    packed: dict[str, Packed]
    seconds: float


@dataclass(frozen=True)
class Plan:
    """What is to be run of every facility; strategies None are all of each."""

    facilities: Sequence[Facility]
    replications: int
    seed: int
    engine: str
    strategies: Sequence[str] | None = None

    def names(self, scenario: Scenario) -> tuple[str, ...]:
        """Return the strategies of one facility, in the order of its file."""
        return tuple(n for n in scenario.strategies if self.strategies is None or n in self.strategies)

    @property
    def total(self) -> int:
        """Return the number of replications of all facilities together."""
        return self.replications * len(self.facilities)


def check_strategies(facilities: Sequence[Facility], strategies: Sequence[str] | None) -> list[Problem]:
    """Return what is wrong where a facility lacks a strategy that is asked for."""
    return [
        Problem(
            facility.scenario.file,
            0,
            "strategies",
            f"found no strategy named {quote(name)}",
            listing(facility.scenario.strategies),
            nearest(name, facility.scenario.strategies),
        )
        for facility in facilities
        for name in strategies or ()
        if name not in facility.scenario.hospitals
    ]


def run_facilities(
    plan: Plan, crew: Crew, store: RunStore | None = None, progress: Callable[[int], None] | None = None
) -> Generator[Figures, None, None]:
    """Yield the figures of each facility, in the order of the list, as soon as those before it are done too.

    The figures depend neither on the crew nor on the order in which its work is done. Raises ScenarioError where a
    facility lacks a strategy, and as run_study does.
    """
    wrong = check_strategies(plan.facilities, plan.strategies)
    if wrong:
        raise ScenarioError(wrong)
    with crew, Writer(store) as writer:
        yield from _Run(plan, crew, store, writer, progress or (lambda _: None)).figures()


def provenance(plan: Plan, finished: int) -> Figures:
    """Return what tells where the figures come from, ready for JSON."""
    hashes = " ".join(facility.scenario.hash for facility in plan.facilities)
    found: Figures = as_json(
        StudyProvenance(
            facilities_hash=hashlib.sha256(hashes.encode("ascii")).hexdigest()[:16],
            ran=Ran(__version__, plan.engine, plan.seed, plan.replications),
            facilities_finished=finished,
            facilities_requested=len(plan.facilities),
            complete=finished == len(plan.facilities),
            per_days=YEAR_DAYS,
            confidence=CONFIDENCE,
            interval_holds=doubt.CHANCE,
        )
    )
    return found


def tally_chunk(scenario: Scenario, chunk: Chunk, seed: int, engine: str, keep: bool) -> Tallied:
    """Return the tallies of a chunk; its totals, packed without the daily counts, if they are to be kept."""
    began = time.perf_counter()
    names = chunk.strategies
    tallies = {name: Tally() for name in names}
    rows: dict[str, list[Row]] = {name: [] for name in names}
    costs: dict[str, list[float | None]] = {name: [] for name in names}
    for replication in range(chunk.first, chunk.stop):
        outcomes = run_replication(scenario, names, seed, replication, engine)
        for name, outcome in zip(names, outcomes, strict=True):
            (cost,) = costs_of(scenario, name, [outcome])
            tallies[name].add(outcome, cost)
            if keep:
                rows[name].append(totals_of(outcome))
                costs[name].append(cost)
    packed = {name: pack_totals(rows[name], costs[name]) for name in names} if keep else {}
    return Tallied(tallies, packed, time.perf_counter() - began)


class _Run:
    """One run of a plan: what is open, what waits for its turn, how far it is."""

    def __init__(
        self, plan: Plan, crew: Crew, store: RunStore | None, writer: Writer, progress: Callable[[int], None]
    ) -> None:
        self.plan, self.crew, self.store, self.writer, self.progress = plan, crew, store, writer, progress
        self.pacer = Pacer()
        self.tallies: dict[int, dict[str, Tally]] = {}  # of the facilities begun and not yet told
        self.left: dict[int, int] = {}  # of them, replications to do
        self.done = 0
        self.spent_s = 0.0

    def figures(self) -> Iterator[Figures]:
        """Yield the figures of each facility in order."""
        told = 0
        for piece, tallied in run_pieces(self.crew, tally_chunk, self._pieces(), self._arguments):
            self._take(piece, tallied)
            while self.left.get(told) == 0:
                yield self._told(told)
                told += 1
        while told in self.left:
            yield self._told(told)
            told += 1

    def _pieces(self) -> Iterator[Piece]:
        if self.store is not None:
            scenarios = (facility.scenario for facility in self.plan.facilities)
            self.store.begin(scenarios, self.plan.strategies, self.plan.seed, self.plan.replications)
        for place, facility in enumerate(self.plan.facilities):
            chunks = self._open(place, facility.scenario)
            for chunk in cut(chunks, self.pacer):
                yield Piece(place, chunk)

    def _open(self, place: int, scenario: Scenario) -> list[Chunk]:
        """Return what is to be run of a facility, once its tallies hold what is in the store."""
        names = self.plan.names(scenario)
        self.tallies[place] = {name: Tally() for name in names}
        at_hand: dict[str, set[int]] = {name: set() for name in names}
        if self.store is not None:
            for name in names:
                found = self.store.outcomes(scenario.hash, name, self.plan.seed, self.plan.replications)
                for outcome, cost, _ in found:
                    self.tallies[place][name].add(outcome, cost)
                    at_hand[name].add(outcome.replication)
        chunks = missing(names, self.plan.replications, at_hand)
        self.left[place] = sum(chunk.size for chunk in chunks)
        self._advance(self.plan.replications - self.left[place])
        return chunks

    def _arguments(self, piece: Piece) -> tuple[Any, ...]:
        scenario = self.plan.facilities[piece.place].scenario
        return scenario, piece.chunk, self.plan.seed, self.plan.engine, self.store is not None

    def _take(self, piece: Piece, tallied: Tallied) -> None:
        chunk, digest = piece.chunk, self.plan.facilities[piece.place].scenario.hash
        for name, tally in tallied.tallies.items():
            self.tallies[piece.place][name].merge(tally)
        self.writer.add(
            Range(digest, name, self.plan.seed, chunk.first, chunk.stop, self.plan.engine, packed)
            for name, packed in tallied.packed.items()
        )
        self.left[piece.place] -= chunk.size
        self._advance(chunk.size)
        self.spent_s += tallied.seconds
        self.pacer.learn(chunk.size, tallied.seconds)
        self.crew.consider(self.spent_s, (self.plan.total - self.done) * self.pacer.seconds_each)

    def _advance(self, replications: int) -> None:
        if replications:
            self.done += replications
            self.progress(self.done)

    def _told(self, place: int) -> Figures:
        """Return the figures of a facility that is done, and forget its tallies."""
        facility, tallies = self.plan.facilities[place], self.tallies.pop(place)
        del self.left[place]
        hospitals = facility.scenario.hospitals
        first = next(iter(hospitals.values()))
        figures = FacilityFigures(
            facility=facility.scenario.name,
            place=facility.place,
            scenario_hash=facility.scenario.hash,
            horizon_days=first.horizon_s / DAY_S,
            currency=next((h.costs.currency for h in hospitals.values() if h.costs is not None), None),
            strategies={
                name: tally.figures(first.horizon_s, hospitals[name].costs is not None, CONFIDENCE)
                for name, tally in tallies.items()
            },
        )
        found: Figures = as_json(figures)
        return found
