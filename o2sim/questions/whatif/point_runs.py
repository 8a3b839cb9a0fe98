"""Run every strategy at all points of a what-if, and keep a few numbers of each replication.

All points are one stream of pieces, so that workers are started once and none waits for the last of a point. What
comes back of a replication is a row of whole numbers and its money, not its outcome: an outcome is 23 kB.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import astuple, dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.measures.names import CHANCE, COST, NEEDED, SUPPLY_HOURS
from o2sim.measures.replications import OF_UNBOUGHT
from o2sim.money.unbought import Lacking, lacking_of, unbought
from o2sim.outcome import Outcome, supply_unserved_s
from o2sim.runs.chunks import Chunk, Pacer, cut, missing
from o2sim.runs.executors import Crew, Processes
from o2sim.runs.packing import Packed, pack
from o2sim.runs.run_store import Range, RunStore, Writer
from o2sim.runs.running import run_pieces
from o2sim.runs.study import costs_of, run_replication
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital, Scenario

HOUR_S, GAS_PER_LITRE = 3_600, 60_000
Row = tuple[float, ...]
Column = npt.NDArray[np.float64]
Measures = dict[str, Column]


@dataclass(frozen=True)
class PointTable:
    """One strategy at one point, as columns of shape (n,), scaled to 365 days; cost None without prices."""

    stock_outs: Column
    interruptions: Column
    supply_hours: Column  # patient-hours unserved for lack of supply
    hours: Column
    litres_delivered: Column
    litres_needed: Column
    cost: Column | None
    per_year: float  # horizons in 365 days
    lacking: Measures = field(
        default_factory=dict
    )  # what was not bought, by measure; {} where nobody counts money

    @property
    def stock_out(self) -> npt.NDArray[np.bool_]:
        """Return which replications had at least one supply shortfall."""
        return self.stock_outs > 0

    @property
    def measures(self) -> Measures:
        """Return what strategies are compared by: chance (0 or 1), hours, cost if any, what was not bought."""
        found = {CHANCE: self.stock_out.astype(np.float64), SUPPLY_HOURS: self.supply_hours}
        beside = {name: column for name, column in self.lacking.items() if name != NEEDED}
        return {**found, **({} if self.cost is None else {COST: self.cost}), **beside}


@dataclass(frozen=True)
class Piece:
    """A chunk of the point at a place of the list."""

    place: int
    chunk: Chunk


@dataclass(frozen=True)
class Finished:
    """A piece that is finished: (row, money a year) of each replication, and for a store packed outcomes."""

    rows: dict[str, list[tuple[Row, float | None]]]
    packed: dict[str, Packed]
    seconds: float


def _row(outcome: Outcome) -> Row:
    """Return the whole numbers of an outcome that a what-if looks at, in the order of PointTable."""
    return (
        outcome.stock_outs,
        sum(outcome.interruptions),
        supply_unserved_s(outcome),
        sum(outcome.unserved_s),
        outcome.cylinder_gas,
        outcome.concentrator_gas,
        outcome.needed_gas,
        *astuple(lacking_of(outcome)),
    )


def _table(found: Sequence[tuple[Row, float | None]], hospital: Hospital) -> PointTable:
    """Return rows of a hospital with their money as columns."""
    per_year = YEAR_DAYS * DAY_S / hospital.horizon_s
    rows, costs = zip(*found, strict=True)
    columns = np.array(rows, dtype=np.float64).T
    stock_outs, interruptions, supply_s, unserved_s, from_cylinders, from_units, needed = columns[:7]
    return PointTable(
        stock_outs * per_year,
        interruptions * per_year,
        supply_s * (per_year / HOUR_S),
        unserved_s * (per_year / HOUR_S),
        (from_cylinders * per_year + from_units * per_year) / GAS_PER_LITRE,  # rounded as `compare` does
        needed * (per_year / GAS_PER_LITRE),
        None if None in costs else np.array(costs, dtype=np.float64),
        per_year,
        _lacking(hospital, columns[7:]),
    )


def _lacking(hospital: Hospital, sums: npt.NDArray[np.float64]) -> Measures:
    """Return what was not bought in each replication, by measure; sums has shape (3, n), as Lacking has them."""
    each = [unbought(hospital, Lacking(*map(float, one))) for one in sums.T]
    found = {name: [getattr(one, part, None) for one in each] for name, part in OF_UNBOUGHT.items()}
    return {name: np.array(many, dtype=np.float64) for name, many in found.items() if None not in many}


def run_piece(scenario: Scenario, chunk: Chunk, seed: int, engine: str, keep: bool) -> Finished:
    """Return the rows of a chunk; its outcomes, packed, if they are to be kept."""
    began = time.perf_counter()
    found = [
        run_replication(scenario, chunk.strategies, seed, replication, engine)
        for replication in range(chunk.first, chunk.stop)
    ]
    rows: dict[str, list[tuple[Row, float | None]]] = {}
    packed: dict[str, Packed] = {}
    for name, outcomes in zip(chunk.strategies, zip(*found, strict=True), strict=True):
        many = list(outcomes)
        costs = costs_of(scenario, name, many)
        rows[name] = list(zip(map(_row, many), costs, strict=True))
        if keep:
            packed[name] = pack(many, costs)
    return Finished(rows, packed, time.perf_counter() - began)


def _felt(hospital: Hospital) -> Hospital:
    """Return the part of a hospital that its measures can feel: without concentrators, power is nothing to it."""
    return hospital if hospital.concentrators is not None else replace(hospital, grid=None, power=None)


class PointRuns:
    """One run over all points: which strategies are new at each, what is known of them so far."""

    def __init__(
        self,
        scenarios: Sequence[Scenario],
        strategies: Sequence[str] | None,
        replications: int,
        seed: int,
        engine: str,
        store: RunStore | None = None,
        chunk_size: int | None = None,
        progress: Callable[[int], None] | None = None,
    ) -> None:
        """Take the scenario of each point; progress is given the replications done, all points together."""
        self.scenarios, self.replications, self.seed, self.engine = scenarios, replications, seed, engine
        self.store, self.pacer, self._fixed = store, Pacer(chunk_size), chunk_size
        self.progress = progress or (lambda _: None)
        self.names = tuple(name for name in scenarios[0].strategies if strategies is None or name in strategies)
        self.new: list[tuple[str, ...]] = []  # by point, the strategies that no point before it has
        self.run_at: list[dict[str, int]] = []  # by point, where each strategy is run
        first: dict[tuple[str, Hospital], int] = {}
        for place, scenario in enumerate(scenarios):
            at = {n: first.setdefault((n, _felt(scenario.hospitals[n])), place) for n in self.names}
            self.run_at.append(at)
            self.new.append(tuple(name for name, where in at.items() if where == place))
        self.found: dict[tuple[int, str], dict[int, tuple[Row, float | None]]] = {}
        self.tables: dict[tuple[int, str], PointTable] = {}
        self.done = 0
        self.spent_s = 0.0

    def run(self, crew: Crew) -> None:
        """Run all there is; an interrupt passes through, with what was done kept."""
        with crew, Writer(self.store) as writer:
            self._one_by_one(crew)
            for piece, done in run_pieces(crew, run_piece, self._pieces(), self._arguments):
                self._take(piece, done, writer)
                self.pacer.learn(piece.chunk.size, done.seconds)
                self.spent_s += done.seconds
                left = self.replications * len(self.scenarios) - self.done
                crew.consider(self.spent_s, left * self.pacer.seconds_each)
                self._one_by_one(crew)
                self.progress(self.done)

    def whole(self) -> list[dict[str, PointTable]]:
        """Return the tables of the points that are whole, from the first on without a break.

        Where not even the first is, that one as far as it is; nothing where it has no replication.
        """
        points = []
        for at in self.run_at:
            if any(len(self.found.get((where, name), ())) < self.replications for name, where in at.items()):
                break
            points.append({name: self._table(where, name, self.replications) for name, where in at.items()})
        if points:
            return points
        first = [self.found.get((0, name), {}) for name in self.names]
        count = next(k for k in range(self.replications + 1) if any(k not in rows for rows in first))
        return [{name: self._table(0, name, count) for name in self.names}] if count else []

    def _table(self, place: int, name: str, count: int) -> PointTable:
        """Return the first replications of a strategy at the point where it is run."""
        if (place, name) not in self.tables:
            rows = self.found[place, name]
            hospital = self.scenarios[place].hospitals[name]
            self.tables[place, name] = _table([rows[k] for k in range(count)], hospital)
        return self.tables[place, name]

    def _pieces(self) -> Iterator[Piece]:
        for place, (scenario, names) in enumerate(zip(self.scenarios, self.new, strict=True)):
            if not names:
                self._advance(self.replications)
                continue
            if self.store is not None:  # note in it what is about to be run
                self.store.begin([scenario], names, self.seed, self.replications)
            for name in names:
                self.found[place, name] = self._at_hand(scenario, name)
            chunks = missing(names, self.replications, {name: self.found[place, name] for name in names})
            self._advance(self.replications - sum(chunk.size for chunk in chunks))
            for chunk in cut(chunks, self.pacer):
                yield Piece(place, chunk)

    def _at_hand(self, scenario: Scenario, name: str) -> dict[int, tuple[Row, float | None]]:
        """Return what a store holds already."""
        if self.store is None:
            return {}
        found = self.store.outcomes(scenario.hash, name, self.seed, self.replications)
        return {outcome.replication: (_row(outcome), cost) for outcome, cost, _ in found}

    def _arguments(self, piece: Piece) -> tuple[Any, ...]:
        return self.scenarios[piece.place], piece.chunk, self.seed, self.engine, self.store is not None

    def _take(self, piece: Piece, done: Finished, writer: Writer) -> None:
        chunk, digest = piece.chunk, self.scenarios[piece.place].hash
        for name, rows in done.rows.items():
            self.found[piece.place, name].update(zip(range(chunk.first, chunk.stop), rows, strict=True))
        writer.add(
            Range(digest, name, self.seed, chunk.first, chunk.stop, self.engine, packed)
            for name, packed in done.packed.items()
        )
        self.done += chunk.size

    def _advance(self, replications: int) -> None:
        """Count replications that need no run."""
        if replications:
            self.done += replications
            self.progress(self.done)

    def _one_by_one(self, crew: Crew) -> None:
        """Let pieces be single replications where that costs nothing, so that Ctrl-C loses one."""
        if self._fixed is None:
            self.pacer.fixed = 1 if crew.window == 1 and self.store is None else None


def run_points(
    scenarios: Sequence[Scenario],
    strategies: Sequence[str] | None,
    replications: int,
    seed: int,
    engine: str,
    progress: Callable[[int, int], None] | None = None,
    run_options: Mapping[str, Any] | None = None,
) -> list[dict[str, PointTable]]:
    """Run every point; return the tables of those that are whole, else of the first as far as it is.

    progress is given the replications done and of how many. run_options: workers or crew, store and chunk_size.
    Raises KeyboardInterrupt where Ctrl-C left nothing.
    """
    options = dict(run_options or {})
    crew = options.pop("crew", None) or Processes(options.pop("workers", 1))
    total = len(scenarios) * replications
    done = None if progress is None else (lambda count: progress(count, total))
    runs = PointRuns(scenarios, strategies, replications, seed, engine, progress=done, **options)
    try:
        runs.run(crew)
    except KeyboardInterrupt:
        if not runs.whole():
            raise
    return runs.whole()
