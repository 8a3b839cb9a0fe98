"""Keep finished chunks in a store and read them back: a SQLite file that survives a kill at any moment.

One row of `chunk` is one finished range of replications under one strategy, keyed by scenario hash, strategy, seed
and range, and never changed. The engine is recorded but not in the key: engines agree bit for bit, so a batch
begun under one may be finished under the other. Each write is one transaction that takes the lock as it begins, so
two processes can share a store.
"""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, get_args

from o2sim.errors import O2simError
from o2sim.outcome import Outcome
from o2sim.runs.chunks import PIECE_S
from o2sim.runs.packing import Packed, PackingError, unpack
from o2sim.scenario.types.hospital import Scenario

WAIT_S = 60.0  # for another process to finish writing
Kind = Literal["scenario", "study", "whatif", "drivers"]
KINDS: tuple[Kind, ...] = get_args(Kind)
_MEND = "move it away, and run again with a new store"


class StoreError(O2simError):
    """A store that cannot be used, or written to."""


@dataclass(frozen=True)
class Range:
    """One finished chunk of one strategy, as bytes; engine is the one that ran it."""

    hash: str
    strategy: str
    seed: int
    first: int
    stop: int
    engine: str
    packed: Packed


@dataclass(frozen=True)
class Stored:
    """Where a chunk of one strategy is in the store; numbers: the replications of it that no chunk before has."""

    row: int
    strategy: str
    first: int
    stop: int
    numbers: range

    @property
    def words(self) -> str:
        """Return which replications these are."""
        return range_in_words(self.strategy, self.first, self.stop)


@dataclass(frozen=True)
class Batch:
    """What a store holds of one scenario, strategy and seed; finished is when the last chunk was (UTC)."""

    scenarios: tuple[str, ...]  # names; facilities that are alike share their results
    scenario_hash: str
    strategy: str
    seed: int
    replications: int
    requested: int
    engines: tuple[str, ...]
    finished: str | None

    @property
    def complete(self) -> bool:
        """Return True where as many replications are there as were asked for."""
        return self.replications >= self.requested


@dataclass(frozen=True)
class Described:
    """What a store says of one scenario, so that its rows can be read without the file."""

    hash: str
    name: str
    strategies: tuple[str, ...]
    classes: tuple[str, ...]
    horizon_s: int
    currency: str | None


class RunStore:
    """An open store; made by store_file.open_store and read_store."""

    def __init__(self, path: Path, connection: sqlite3.Connection, kind: Kind) -> None:
        """Take the connection, and what the store is for."""
        self.path, self.kind = path, kind
        self.db = connection

    def begin(self, scenarios: Iterable[Scenario], chosen: Sequence[str] | None, seed: int, wanted: int) -> None:
        """Note what is about to be run: scenarios, strategies (None: all of each), replications wanted."""
        with self.writing():
            for scenario in scenarios:
                hospital = next(iter(scenario.hospitals.values()))
                about = (
                    scenario.hash,
                    scenario.name,
                    json.dumps(scenario.strategies),
                    json.dumps([kind.name for kind in hospital.patients]),
                    hospital.horizon_s,
                    None if hospital.costs is None else hospital.costs.currency,
                )
                self.db.execute("INSERT OR IGNORE INTO scenario VALUES (?, ?, ?, ?, ?, ?)", about)
                names = [name for name in scenario.strategies if chosen is None or name in chosen]
                self.db.executemany(
                    "INSERT INTO asked VALUES (?, ?, ?, ?) ON CONFLICT (hash, strategy, seed) DO UPDATE "
                    "SET replications = max(replications, excluded.replications)",
                    [(scenario.hash, name, seed, wanted) for name in names],
                )

    def put(self, ranges: Sequence[Range]) -> None:
        """Write finished chunks in one transaction; one that is there already must be the same.

        Raises StoreError where it cannot be written; what was written before is safe.
        """
        if not ranges:
            return
        now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
        with self.writing():
            for item in ranges:
                key = (item.hash, item.strategy, item.seed, item.first, item.stop)
                packed = item.packed
                added = self.db.execute(
                    "INSERT OR IGNORE INTO chunk VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (*key, item.engine, now, packed.checksum, packed.totals, packed.daily),
                )
                if added.rowcount == 0:
                    self._require_same(key, packed.checksum)

    def _require_same(self, key: tuple[str, str, int, int, int], checksum: str) -> None:
        query = (
            "SELECT checksum FROM chunk WHERE hash = ? AND strategy = ? AND seed = ? AND first = ? AND stop = ?"
        )
        ((stored,),) = self.db.execute(query, key).fetchall()
        if stored != checksum:
            raise StoreError(
                f"{self.path}: holds another result for replications {key[3]} to {key[4] - 1} of {key[1]!r}, "
                "which can only come from another version or a changed file; move it away and run again"
            )

    def outcomes(
        self, scenario_hash: str, strategy: str, seed: int, below: int | None = None
    ) -> Iterator[tuple[Outcome, float | None, str]]:
        """Yield (outcome, money a year, engine) for each replication at hand, once each, in order.

        below leaves out those from that number on. Raises StoreError for a damaged chunk.
        """
        query = (
            "SELECT first, stop, engine, totals, daily, checksum FROM chunk "
            "WHERE hash = ? AND strategy = ? AND seed = ? AND first < ? ORDER BY first, stop"
        )
        limit = 2**62 if below is None else below
        reached = 0
        for first, stop, engine, *packed in self._read(query, (scenario_hash, strategy, seed, limit)):
            if stop <= reached:
                continue  # two processes cut the batch differently
            outcomes, costs = self._unpacked(strategy, first, stop, Packed(*packed))
            for outcome, cost in zip(outcomes, costs, strict=True):
                if reached <= outcome.replication < limit:
                    yield outcome, cost, engine
            reached = stop

    def stored(self, scenario_hash: str, strategy: str, seed: int, below: int) -> list[Stored]:
        """Return where the replications at hand are, each once, in order, so that they can be read one by one.

        Nothing is held open meanwhile: another process may write.
        """
        query = (
            "SELECT rowid, first, stop FROM chunk "
            "WHERE hash = ? AND strategy = ? AND seed = ? AND first < ? ORDER BY first, stop"
        )
        reached, found = 0, []
        for row, first, stop in list(self._read(query, (scenario_hash, strategy, seed, below))):
            if stop > reached:
                found.append(Stored(row, strategy, first, stop, range(max(first, reached), min(stop, below))))
                reached = stop
        return found

    def read(self, stored: Stored) -> list[Outcome]:
        """Return the outcomes of one chunk. Raises StoreError where it is damaged or gone."""
        found = list(self._read("SELECT totals, daily, checksum FROM chunk WHERE rowid = ?", (stored.row,)))
        if not found:
            raise StoreError(f"{self.path}: {stored.words} are gone; {_MEND}")
        return self._unpacked(stored.strategy, stored.first, stored.stop, Packed(*found[0]))[0]

    def _unpacked(
        self, strategy: str, first: int, stop: int, packed: Packed
    ) -> tuple[list[Outcome], list[float | None]]:
        """Return the outcomes of a chunk and their money a year; StoreError where it is damaged."""
        where = range_in_words(strategy, first, stop)
        try:
            outcomes, costs = unpack(packed, first)
        except PackingError as error:
            raise StoreError(f"{self.path}: {where} are damaged: {error}; {_MEND}") from error
        if len(outcomes) != stop - first:
            raise StoreError(f"{self.path}: {where} are damaged: found {len(outcomes)}; {_MEND}")
        return outcomes, costs

    def described(self) -> list[Described]:
        """Return what the store says of each scenario, in the order of their names."""
        query = "SELECT hash, name, strategies, classes, horizon_s, currency FROM scenario ORDER BY name, hash"
        try:
            return [
                Described(
                    digest, name, tuple(json.loads(strategies)), tuple(json.loads(classes)), horizon_s, money
                )
                for digest, name, strategies, classes, horizon_s, money in self._read(query)
            ]
        except (ValueError, TypeError) as error:
            raise StoreError(f"{self.path}: is damaged ({error}); {_MEND}") from error

    def batches(self) -> list[Batch]:
        """Return what is in the store, by scenario, seed and strategy."""
        names: dict[str, list[str]] = {}
        order: dict[tuple[str, str], int] = {}
        for item in self.described():
            names.setdefault(item.hash, []).append(item.name)
            order |= {(item.hash, name): place for place, name in enumerate(item.strategies)}
        chunks: dict[tuple[str, str, int], list[tuple[int, int, str, str]]] = {}
        for digest, strategy, seed, *rest in self._read(
            "SELECT hash, strategy, seed, first, stop, engine, finished FROM chunk"
        ):
            chunks.setdefault((digest, strategy, seed), []).append(tuple(rest))
        batches = []
        for digest, strategy, seed, asked in self._read("SELECT hash, strategy, seed, replications FROM asked"):
            found = chunks.get((digest, strategy, seed), [])
            done = set().union(*(range(first, stop) for first, stop, _, _ in found))
            engines = tuple(sorted({engine for _, _, engine, _ in found}))
            last = max((finished for *_, finished in found), default=None)
            batches.append(
                Batch(tuple(names.get(digest, [digest])), digest, strategy, seed, len(done), asked, engines, last)
            )
        return sorted(batches, key=lambda b: (b.scenarios, b.seed, order.get((b.scenario_hash, b.strategy), 0)))

    def _read(self, query: str, values: Sequence[object] = ()) -> Iterator[tuple[Any, ...]]:
        try:
            yield from self.db.execute(query, values)
        except sqlite3.Error as error:
            raise explained(self.path, error) from error

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Take the lock, and commit what is done inside, or undo it."""
        try:
            self.db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.db.execute("COMMIT")
            except BaseException:
                if self.db.in_transaction:
                    self.db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise explained(self.path, error) from error


def range_in_words(strategy: str, first: int, stop: int) -> str:
    """Return which replications of which strategy."""
    return f"replications {first} to {stop - 1} of {strategy!r}"


class Writer:
    """Collects finished chunks and writes them a few times a second; the rest at its end, however that comes."""

    def __init__(self, store: RunStore | None) -> None:
        """Take the store; with None nothing is kept."""
        self._store = store
        self._waiting: list[Range] = []
        self._written_at = time.monotonic()

    def add(self, ranges: Iterable[Range]) -> None:
        """Take finished chunks."""
        if self._store is not None:
            self._waiting += ranges
            if time.monotonic() - self._written_at >= PIECE_S:
                self._write()

    def _write(self) -> None:
        if self._store is not None:
            waiting, self._waiting = self._waiting, []
            self._store.put(waiting)
            self._written_at = time.monotonic()

    def __enter__(self) -> Writer:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Write what is left, unless the store is what failed."""
        if not isinstance(error, StoreError):
            self._write()


def explained(path: Path, error: sqlite3.Error) -> StoreError:
    """Return what SQLite says in words, with what to do."""
    text = str(error)
    safe = "what was stored before is safe"
    if "full" in text:
        return StoreError(f"{path}: the disk is full; {safe}: free some space and run again")
    if "locked" in text or "busy" in text:
        return StoreError(f"{path}: another process has been writing for {WAIT_S:g} s; {safe}: run again later")
    if "readonly" in text or "unable to open" in text:
        return StoreError(f"{path}: cannot be written there; choose a folder you may write in")
    if "malformed" in text or "not a database" in text or "no such table" in text:
        return StoreError(f"{path}: is damaged ({text}); {_MEND}")
    return StoreError(f"{path}: cannot be used ({text}); {safe}")
