"""The path of a store in, finished chunks written to it and read back: a SQLite file that survives a kill.

One row of `chunk` is one finished range of replications under one strategy, keyed by scenario hash, strategy, seed
and range, and never changed. The engine is recorded but not in the key: engines agree bit for bit, so a batch begun
under one may be finished under the other. The version is that of the whole file, since results of two versions must
not be mixed. A rollback journal, not a write-ahead log, so that the store is one file that can be copied, also on a
network drive; each write is one transaction that takes the lock at its beginning, so two processes can share a store.
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
from typing import Any, Literal

import o2sim
from o2sim.analysis.chunks import PIECE_S
from o2sim.analysis.packing import Packed, PackingError, layout, unpack
from o2sim.errors import O2simError
from o2sim.outcome import Outcome
from o2sim.scenario.types import Scenario

APPLICATION_ID = 0x6F32736D  # "o2sm", in the header of every store
FORMAT = "1"
WAIT_S = 60.0  # for another process to finish writing
Kind = Literal["scenario", "study"]
_KINDS = {"scenario": "runs of one scenario", "study": "a study of many facilities"}
_MAGIC = b"SQLite format 3\0"
_TABLES = """
CREATE TABLE IF NOT EXISTS meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS scenario (
    hash TEXT NOT NULL, name TEXT NOT NULL, strategies TEXT NOT NULL, classes TEXT NOT NULL,
    horizon_s INTEGER NOT NULL, currency TEXT, PRIMARY KEY (hash, name)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS asked (
    hash TEXT NOT NULL, strategy TEXT NOT NULL, seed INTEGER NOT NULL, replications INTEGER NOT NULL,
    PRIMARY KEY (hash, strategy, seed)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS chunk (
    hash TEXT NOT NULL, strategy TEXT NOT NULL, seed INTEGER NOT NULL,
    first INTEGER NOT NULL, stop INTEGER NOT NULL,
    engine TEXT NOT NULL, finished TEXT NOT NULL, checksum TEXT NOT NULL,
    totals BLOB NOT NULL, daily BLOB NOT NULL,
    UNIQUE (hash, strategy, seed, first, stop));
CREATE TRIGGER IF NOT EXISTS chunk_is_final BEFORE UPDATE ON chunk
    BEGIN SELECT RAISE(ABORT, 'a finished chunk is never changed'); END;
"""


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
    """An open store; made by open_store and read_store."""

    def __init__(self, path: Path, connection: sqlite3.Connection, kind: Kind) -> None:
        """Take the connection, and what the store is for."""
        self.path, self.kind = path, kind
        self._db = connection

    def begin(self, scenarios: Iterable[Scenario], chosen: Sequence[str] | None, seed: int, wanted: int) -> None:
        """Note what is about to be run: scenarios, strategies (None: all of each), replications wanted."""
        with self._writing():
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
                self._db.execute("INSERT OR IGNORE INTO scenario VALUES (?, ?, ?, ?, ?, ?)", about)
                names = [name for name in scenario.strategies if chosen is None or name in chosen]
                self._db.executemany(
                    "INSERT INTO asked VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE "
                    "SET replications = max(replications, excluded.replications)",
                    [(scenario.hash, name, seed, wanted) for name in names],
                )

    def have(self, scenario_hash: str, seed: int) -> dict[str, set[int]]:
        """Return the numbers of the replications at hand, by strategy."""
        found: dict[str, set[int]] = {}
        query = "SELECT strategy, first, stop FROM chunk WHERE hash = ? AND seed = ?"
        for strategy, first, stop in self._read(query, (scenario_hash, seed)):
            found.setdefault(strategy, set()).update(range(first, stop))
        return found

    def put(self, ranges: Sequence[Range]) -> None:
        """Write finished chunks in one transaction; one that is there already must be the same.

        Raises StoreError where it cannot be written; what was written before is safe.
        """
        if not ranges:
            return
        now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
        with self._writing():
            for item in ranges:
                key = (item.hash, item.strategy, item.seed, item.first, item.stop)
                packed = item.packed
                added = self._db.execute(
                    "INSERT OR IGNORE INTO chunk VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (*key, item.engine, now, packed.checksum, packed.totals, packed.daily),
                )
                if added.rowcount == 0:
                    self._require_same(key, packed.checksum)

    def _require_same(self, key: tuple[str, str, int, int, int], checksum: str) -> None:
        query = (
            "SELECT checksum FROM chunk WHERE hash = ? AND strategy = ? AND seed = ? AND first = ? AND stop = ?"
        )
        ((stored,),) = self._db.execute(query, key).fetchall()
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
        for first, stop, engine, totals, daily, checksum in self._read(
            query, (scenario_hash, strategy, seed, limit)
        ):
            if stop <= reached:
                continue  # two processes cut the batch differently
            where = f"replications {first} to {stop - 1} of {strategy!r}"
            try:
                outcomes, costs = unpack(Packed(totals, daily, checksum), first)
            except PackingError as error:
                raise StoreError(f"{self.path}: {where} are damaged: {error}; {_MEND}") from error
            if len(outcomes) != stop - first:
                raise StoreError(f"{self.path}: {where} are damaged: found {len(outcomes)}; {_MEND}")
            for outcome, cost in zip(outcomes, costs, strict=True):
                if reached <= outcome.replication < limit:
                    yield outcome, cost, engine
            reached = stop

    def described(self) -> list[Described]:
        """Return what the store says of each scenario, in the order of their names."""
        query = "SELECT hash, name, strategies, classes, horizon_s, currency FROM scenario ORDER BY name, hash"
        return [
            Described(digest, name, tuple(json.loads(strategies)), tuple(json.loads(classes)), horizon_s, money)
            for digest, name, strategies, classes, horizon_s, money in self._read(query)
        ]

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
            yield from self._db.execute(query, values)
        except sqlite3.Error as error:
            raise _explained(self.path, error) from error

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Take the lock, and commit what is done inside, or undo it."""
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise _explained(self.path, error) from error


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


_MEND = "move the file away and run again; `o2sim runs` still lists it"


@contextmanager
def open_store(path: Path, kind: Kind, scenario: Scenario | None = None) -> Iterator[RunStore]:
    """Give the store at a path, made if there is none; for runs of one scenario, name it.

    Raises StoreError where the place cannot be written, holds something else, or a store of another version, kind or
    scenario; nothing is changed then.
    """
    _require_place(path)
    connection = _connect(path, "rwc")
    try:
        store = RunStore(path, connection, kind)
        _prepare(store, scenario)
        yield store
    except sqlite3.Error as error:
        raise _explained(path, error) from error
    finally:
        connection.close()


@contextmanager
def read_store(path: Path) -> Iterator[RunStore]:
    """Give an existing store of any kind and of this version, to read. Raises StoreError as open_store does."""
    if not path.exists():
        raise StoreError(f"{path}: found no such file; `--store {path}` of run, compare or study makes one")
    _require_place(path)
    if path.stat().st_size == 0:
        raise StoreError(f"{path}: is empty; allowed: a store made by --store")
    connection = _connect(path, "rw")
    try:
        meta = _meta(path, connection)
        _require_version(path, meta)
        kind: Kind = "study" if meta.get("kind") == "study" else "scenario"
        yield RunStore(path, connection, kind)
    except sqlite3.Error as error:
        raise _explained(path, error) from error
    finally:
        connection.close()


def _require_place(path: Path) -> None:
    """Raise StoreError where no store can be at a path."""
    try:
        if path.is_dir():
            raise StoreError(f"{path}: found a folder; allowed: the name of a file, as {path / 'runs.o2store'}")
        if not path.parent.is_dir():
            raise StoreError(f"{path}: the folder {path.parent} is not there; make it first")
        if path.exists() and not path.is_file():
            raise StoreError(f"{path}: found no regular file; allowed: a store, or a name not yet taken")
        if path.exists():
            with path.open("rb") as file:
                start = file.read(len(_MAGIC))
            if start and start != _MAGIC:
                raise StoreError(f"{path}: found another kind of file; allowed: a store, or a name not yet taken")
    except (OSError, ValueError) as error:
        raise StoreError(f"{path}: cannot be used ({getattr(error, 'strerror', None) or error})") from error


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    try:
        address = f"{path.resolve().as_uri()}?mode={mode}"
        connection = sqlite3.connect(address, uri=True, timeout=WAIT_S, isolation_level=None)
        connection.execute("PRAGMA synchronous = FULL")
        return connection
    except sqlite3.Error as error:
        raise _explained(path, error) from error


def _prepare(store: RunStore, scenario: Scenario | None) -> None:
    """Make the tables of a new store; raise StoreError for one that is there and does not fit."""
    db, path = store._db, store.path
    ((tables,),) = db.execute("SELECT count(*) FROM sqlite_master").fetchall()
    if tables == 0:
        with store._writing():
            for statement in _statements():
                db.execute(statement)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            about = {"format": FORMAT, "version": o2sim.__version__, "layout": layout(), "kind": store.kind}
            if scenario is not None:
                about |= {"scenario_hash": scenario.hash, "scenario": scenario.name}
            db.executemany("INSERT OR IGNORE INTO meta VALUES (?, ?)", about.items())
    meta = _meta(path, db)
    _require_version(path, meta)
    kind = meta.get("kind", "")
    if kind != store.kind:
        holds, wanted = _KINDS.get(kind, "something else"), _KINDS[store.kind]
        raise StoreError(f"{path}: holds {holds}, not {wanted}; choose another name for --store")
    if scenario is not None and meta.get("scenario_hash") != scenario.hash:
        raise StoreError(
            f"{path}: holds runs of another scenario, {meta.get('scenario')!r} ({meta.get('scenario_hash')}); this "
            f"is {scenario.name!r} ({scenario.hash}). A changed file counts as another; choose another name for "
            "--store"
        )


def _statements() -> Iterator[str]:
    """Yield the statements that make the tables, one by one, so that they are one transaction."""
    statement = ""
    for line in _TABLES.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def _meta(path: Path, connection: sqlite3.Connection) -> dict[str, str]:
    """Return what the store says of itself; raise StoreError for a database of something else."""
    ((number,),) = connection.execute("PRAGMA application_id").fetchall()
    if number != APPLICATION_ID:
        raise StoreError(f"{path}: found a database of another program; allowed: a store, or a name not yet taken")
    return dict(connection.execute("SELECT key, value FROM meta").fetchall())


def _require_version(path: Path, meta: dict[str, str]) -> None:
    """Raise StoreError for a store whose results this version may not go on with."""
    found, here = meta.get("version"), o2sim.__version__
    if found != here:
        raise StoreError(
            f"{path}: was written by o2sim {found}, this is {here}, whose results may differ; use that version, or "
            "another name for --store"
        )
    if meta.get("format") != FORMAT or meta.get("layout") != layout():
        raise StoreError(
            f"{path}: was written by another build of o2sim {here}, whose records differ; choose another name for "
            "--store"
        )


def _explained(path: Path, error: sqlite3.Error) -> StoreError:
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
        return StoreError(f"{path}: is damaged ({text}); move it away, and run again with a new store")
    return StoreError(f"{path}: cannot be used ({text}); {safe}")
