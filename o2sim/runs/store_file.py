"""Open a store at a path, or make one if there is none; refuse what does not fit, with the reason.

The version is that of the whole file, since results of two versions must not be mixed. A rollback journal, not a
write-ahead log, so that the store is one file that can be copied, also on a network drive.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from o2sim.runs.packing import layout
from o2sim.runs.run_store import KINDS, WAIT_S, Kind, RunStore, StoreError, explained
from o2sim.scenario.types.hospital import Scenario
from o2sim.version import __version__

APPLICATION_ID = 0x6F32736D  # "o2sm", in the header of every store
FORMAT = "1"
_KINDS: dict[str, str] = {
    "scenario": "runs of one scenario",
    "study": "a study of many facilities",
    "whatif": "the points of a what-if",
    "drivers": "the points of a search for what drives the answer",
}
_MAGIC = b"SQLite format 3\0"
_TABLES = (
    "CREATE TABLE IF NOT EXISTS meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE IF NOT EXISTS scenario (
    hash TEXT NOT NULL, name TEXT NOT NULL, strategies TEXT NOT NULL, classes TEXT NOT NULL,
    horizon_s INTEGER NOT NULL, currency TEXT, PRIMARY KEY (hash, name)) WITHOUT ROWID""",
    """CREATE TABLE IF NOT EXISTS asked (
    hash TEXT NOT NULL, strategy TEXT NOT NULL, seed INTEGER NOT NULL, replications INTEGER NOT NULL,
    PRIMARY KEY (hash, strategy, seed)) WITHOUT ROWID""",
    """CREATE TABLE IF NOT EXISTS chunk (
    hash TEXT NOT NULL, strategy TEXT NOT NULL, seed INTEGER NOT NULL,
    first INTEGER NOT NULL, stop INTEGER NOT NULL,
    engine TEXT NOT NULL, finished TEXT NOT NULL, checksum TEXT NOT NULL,
    totals BLOB NOT NULL, daily BLOB NOT NULL,
    UNIQUE (hash, strategy, seed, first, stop))""",
    """CREATE TRIGGER IF NOT EXISTS chunk_is_final BEFORE UPDATE ON chunk
    BEGIN SELECT RAISE(ABORT, 'a finished chunk is never changed'); END""",
)


@contextmanager
def open_store(path: Path, kind: Kind, scenario: Scenario | None = None) -> Iterator[RunStore]:
    """Give the store at a path, made if there is none; for runs of one scenario, name it.

    Raises StoreError where the place cannot be written, holds something else, or a store of another version, kind
    or scenario; nothing is changed then.
    """
    _require_place(path)
    connection = _connect(path, "rwc")
    try:
        store = RunStore(path, connection, kind)
        _prepare(store, scenario)
        yield store
    except sqlite3.Error as error:
        raise explained(path, error) from error
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
        kind: Kind = next((each for each in KINDS if each == meta.get("kind")), "scenario")
        yield RunStore(path, connection, kind)
    except sqlite3.Error as error:
        raise explained(path, error) from error
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
        raise explained(path, error) from error
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path
        raise StoreError(f"{path}: cannot be used ({getattr(error, 'strerror', None) or error})") from error


def _prepare(store: RunStore, scenario: Scenario | None) -> None:
    """Make the tables of a new store; raise StoreError for one that is there and does not fit."""
    db, path = store.db, store.path
    ((tables,),) = db.execute("SELECT count(*) FROM sqlite_master").fetchall()
    if tables == 0:
        with store.writing():
            for statement in _TABLES:  # one by one, so that they are one transaction
                db.execute(statement)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            about = {"format": FORMAT, "version": __version__, "layout": layout(), "kind": store.kind}
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
            f"{path}: holds runs of another scenario, {meta.get('scenario')!r} ({meta.get('scenario_hash')}); "
            f"this is {scenario.name!r} ({scenario.hash}). A changed file counts as another; choose another name "
            "for --store"
        )


def _meta(path: Path, connection: sqlite3.Connection) -> dict[str, str]:
    """Return what the store says of itself; raise StoreError for a database of something else."""
    ((number,),) = connection.execute("PRAGMA application_id").fetchall()
    if number != APPLICATION_ID:
        raise StoreError(f"{path}: found a database of another program; allowed: a store, or a name not yet taken")
    return dict(connection.execute("SELECT key, value FROM meta").fetchall())


def _require_version(path: Path, meta: dict[str, str]) -> None:
    """Raise StoreError for a store whose results this version may not go on with."""
    found, here = meta.get("version"), __version__
    if found != here:
        raise StoreError(
            f"{path}: was written by o2sim {found}, this is {here}, whose results may differ; use that version, "
            "or another name for --store"
        )
    if meta.get("format") != FORMAT or meta.get("layout") != layout():
        raise StoreError(
            f"{path}: was written by another build of o2sim {here}, whose records differ; choose another name for "
            "--store"
        )
