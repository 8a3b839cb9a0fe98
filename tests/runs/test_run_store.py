"""Stores of finished chunks: what goes in comes out, kills lose nothing, and what does not fit is refused."""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
import time
from dataclasses import replace
from pathlib import Path

import pytest
from test_study import SCENARIO

import o2sim
from o2sim.measures.measures import summarise
from o2sim.runs import run_store, store_file
from o2sim.runs import study as study_module
from o2sim.runs.packing import pack
from o2sim.runs.run_store import Range, StoreError
from o2sim.runs.store_file import open_store, read_store
from o2sim.runs.study import run_study

OTHER = replace(SCENARIO, name="Loud Bay", hash="fedcba9876543210")


@pytest.fixture
def path(tmp_path):
    """Return where a store may be made."""
    return tmp_path / "runs.o2store"


def run(path, replications=6, scenario=SCENARIO, **more):
    """Run a study with a store and return what it prints."""
    with open_store(path, "scenario", scenario) as store:
        return json.dumps(summarise(run_study(scenario, replications=replications, seed=5, store=store, **more)))


def printed(replications=6, **more):
    """Return what the same study prints without a store."""
    return json.dumps(summarise(run_study(SCENARIO, replications=replications, seed=5, **more)))


def rows(path):
    """Return (strategy, first, stop) of every chunk."""
    with sqlite3.connect(path) as database:
        return database.execute("SELECT strategy, first, stop FROM chunk ORDER BY strategy, first").fetchall()


def nothing_runs(monkeypatch):
    """Let any further replication fail the test."""
    monkeypatch.setattr(study_module, "simulate", lambda *_, **__: pytest.fail("it ran"))


def test_a_second_run_reads_what_the_first_has_stored(path, monkeypatch):
    """The figures are the same to the last digit, daily counts included, and nothing is run again."""
    first = run(path)
    assert first == printed()
    nothing_runs(monkeypatch)
    assert run(path) == first
    told = []
    run(path, progress=told.append)
    assert told == [6]


def test_more_replications_and_strategies_add_what_is_missing(path):
    """A store begun with few replications of one strategy serves a larger batch of both."""
    run(path, 3, strategies=["three units"], chunk_size=2)
    assert run(path, 7, chunk_size=4) == printed(7)
    assert rows(path) == [
        ("three units", 0, 2),
        ("three units", 2, 3),
        ("three units", 3, 7),
        ("two units", 0, 3),
        ("two units", 3, 7),
    ]


def test_seeds_do_not_mix(path):
    """Two seeds share a store and keep their own results."""
    run(path, 3)
    with open_store(path, "scenario", SCENARIO) as store:
        other = run_study(SCENARIO, replications=3, seed=6, store=store)
    assert other.outcomes == run_study(SCENARIO, replications=3, seed=6).outcomes
    assert run(path, 3) == printed(3)


def test_fewer_replications_than_are_stored(path, monkeypatch):
    """A smaller batch is the beginning of the larger one."""
    run(path, 6, chunk_size=4)
    nothing_runs(monkeypatch)
    stored = run(path, 5)
    monkeypatch.undo()
    assert stored == printed(5)


def test_two_that_cut_the_batch_differently_share_a_store(path):
    """Ranges that overlap are read once each."""
    with open_store(path, "scenario", SCENARIO) as one, open_store(path, "scenario", SCENARIO) as two:
        whole = run_study(SCENARIO, replications=6, seed=5, chunk_size=6, store=one)
        for first, stop in ((0, 4), (1, 3), (2, 6)):
            for name, outcomes in whole.outcomes.items():
                packed = pack(outcomes[first:stop], [None] * (stop - first))
                two.put([Range(SCENARIO.hash, name, 5, first, stop, "reference", packed)])
        found = [o for o, _, _ in one.outcomes(SCENARIO.hash, "two units", 5)]
    assert found == whole.outcomes["two units"]
    assert len(rows(path)) == 8


def test_another_result_for_the_same_chunk_is_an_error(path):
    """Results are a function of the key; two that differ cannot both be right, and the first stays."""
    with open_store(path, "scenario", SCENARIO) as store:
        found = run_study(SCENARIO, replications=2, seed=5, store=store, chunk_size=2)
        wrong = [replace(o, patients=o.patients + 1) for o in found.outcomes["two units"]]
        packed = pack(wrong, [None, None])
        with pytest.raises(StoreError, match="another result for replications 0 to 1 of 'two units'"):
            store.put([Range(SCENARIO.hash, "two units", 5, 0, 2, "reference", packed)])
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            store.db.execute("UPDATE chunk SET totals = x'00'")
    assert run(path, 2) == printed(2)


def test_chunks_are_written_all_or_none(path):
    """Where one of several chunks is refused, those before it in the same write are not left either."""
    with open_store(path, "scenario", SCENARIO) as store:
        found = run_study(SCENARIO, replications=1, seed=5, store=store)
        wrong = replace(found.outcomes["two units"][0], patients=99)
        new = Range(SCENARIO.hash, "two units", 5, 7, 8, "reference", pack([wrong], [None]))
        with pytest.raises(StoreError, match="another result"):
            store.put([new, replace(new, first=0, stop=1)])
    assert rows(path) == [("three units", 0, 1), ("two units", 0, 1)]


def test_the_engine_is_recorded_but_not_part_of_the_key(path):
    """Engines agree bit for bit, so what one has done the other goes on with; the list tells which it was."""
    run(path, 2)
    assert run(path, 4, engine="reference", chunk_size=2) == printed(4, engine="reference")
    with open_store(path, "scenario", SCENARIO) as store:
        found = [(b.engines, b.complete, b.requested) for b in store.batches()]
    assert found == [(("kernel", "reference"), True, 4)] * 2


def _set(path, key, value):
    with sqlite3.connect(path) as database:
        database.execute("UPDATE meta SET value = ? WHERE key = ?", (value, key))


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("version", "0.0.9", "was written by o2sim 0.0.9, this is .*, whose results may differ"),
        ("layout", "x", "another build of o2sim"),
        ("format", "0", "another build of o2sim"),
        ("kind", "study", "holds a study of many facilities, not runs of one scenario"),
        ("kind", "stamps", "holds something else, not runs of one scenario"),
        ("scenario_hash", "00", r"another scenario, 'Quiet Bay' \(00\); this is 'Quiet Bay' \(0123456789abcdef\)"),
    ],
)
def test_a_store_that_does_not_fit_is_refused(path, key, value, message):
    """Version, build, kind and scenario each get their reason, and the file is left as it is."""
    run(path, 2)
    _set(path, key, value)
    before = path.read_bytes()
    with pytest.raises(StoreError, match=message):
        run(path, 2)
    assert path.read_bytes() == before


def test_a_store_of_another_scenario_is_refused(path):
    """A changed scenario counts as another, and the message says so."""
    run(path, 2)
    with pytest.raises(StoreError, match="A changed file counts as another"):
        run(path, 2, scenario=OTHER)


def _text(path):
    path.write_text("minutes of the meeting, not a store at all", encoding="utf-8")


def _database(path):
    with sqlite3.connect(path) as database:
        database.execute("CREATE TABLE stamps (price)")


def _fifo(path):
    os.mkfifo(path)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (Path.mkdir, "found a folder"),
        (_text, "found another kind of file"),
        (_database, "found a database of another program"),
        pytest.param(
            _fifo,
            "found no regular file",
            marks=pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes"),
        ),
    ],
)
def test_a_place_that_holds_something_else_is_refused(path, make, message):
    """Nobody's file is written into; reading and writing say the same."""
    make(path)
    for attempt in (lambda: open_store(path, "scenario", SCENARIO), lambda: read_store(path)):
        with pytest.raises(StoreError, match=message), attempt():
            pass


def test_places_where_no_store_can_be(tmp_path, path):
    """A folder that is not there, a name with a NUL, and to read a file that is missing or empty."""
    with pytest.raises(StoreError, match=r"the folder .* is not there"), open_store(tmp_path / "a" / "b", "study"):
        pass
    with pytest.raises(StoreError, match="cannot be used"), open_store(tmp_path / "a\0b", "study"):
        pass
    with pytest.raises(StoreError, match="found no such file; `--store"), read_store(path):
        pass
    path.touch()
    with pytest.raises(StoreError, match="is empty"), read_store(path):
        pass
    assert run(path, 2) == printed(2)  # an empty file may become a store


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions as in Unix")
def test_a_folder_that_cannot_be_written():
    """Also to a user other than root, a store in a folder that may not be written is refused in one line."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o555)
    code = f"""
        import os
        from pathlib import Path
        from o2sim.runs.store_file import open_store
        if os.geteuid() == 0: os.setuid(65534)
        with open_store(Path({str(folder)!r}) / "runs", "study"): pass
    """
    shown = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], capture_output=True, text=True)
    folder.rmdir()
    told = shown.stderr.splitlines()[-1]
    assert told.endswith(
        f"StoreError: {folder / 'runs'}: cannot be written there; choose a folder you may write in"
    )


def test_a_full_disk_is_told_and_what_was_stored_stays(path):
    """SQLite's own limit on pages stands for a disk that fills up; later the run goes on from there."""
    run(path, 2)
    before = rows(path)
    with open_store(path, "scenario", SCENARIO) as store:
        store.db.execute("PRAGMA max_page_count = 1")
        with pytest.raises(StoreError, match=r"the disk is full; what was stored before is safe"):
            run_study(SCENARIO, replications=60, seed=5, store=store, chunk_size=60)
    assert rows(path) == before
    assert run(path, 4) == printed(4)


def test_a_damaged_file_is_told(path):
    """Whichever page of the file is overwritten, there is one error that says what to do, or the right result."""
    run(path, 6, chunk_size=1)
    whole, right, told = path.read_bytes(), printed(6), []
    for place in range(0, len(whole), 4_096):
        path.write_bytes(whole[:place] + b"\xaa" * 4_096 + whole[place + 4_096 :])
        try:
            assert run(path, 6) == right
        except StoreError as error:
            told.append(str(error))
    assert [said for said in told if "move it away" not in said and "another kind of file" not in said] == []
    assert len(told) > len(whole) / 4_096 / 2


def test_a_damaged_chunk_is_told(path):
    """A chunk whose bytes do not fit its checksum, or its range, is never read as a result."""
    run(path, 2, chunk_size=2)
    with sqlite3.connect(path) as database:
        database.execute("DROP TRIGGER chunk_is_final")
        database.execute("UPDATE chunk SET stop = 3")
    with pytest.raises(StoreError, match="replications 0 to 2 of 'two units' are damaged: found 2; move"):
        run(path, 2)
    with sqlite3.connect(path) as database:
        database.execute("UPDATE chunk SET stop = 2, checksum = 'x'")
    with pytest.raises(StoreError, match="checksum does not fit"):
        run(path, 2)


def test_a_store_that_somebody_else_keeps_locked(path, monkeypatch):
    """A wait in vain for another process ends with a message that says so."""
    run(path, 2)
    monkeypatch.setattr(store_file, "WAIT_S", 0.01)
    with sqlite3.connect(path, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="another process has been writing"):
            run(path, 3)
        other.execute("ROLLBACK")
    assert run(path, 3) == printed(3)


def test_a_description_that_is_damaged(path):
    """What a store says of its scenarios is read with the same care as its chunks."""
    run(path, 1)
    with sqlite3.connect(path) as database:
        database.execute("UPDATE scenario SET strategies = '['")
    with read_store(path) as store, pytest.raises(StoreError, match=r"is damaged .*; move it away"):
        store.described()


def test_what_else_the_database_may_say():
    """An error not foreseen is shown with SQLite's own words."""
    told = str(run_store.explained(Path("a"), sqlite3.OperationalError("disk I/O error")))
    assert told == "a: cannot be used (disk I/O error); what was stored before is safe"


CHILD = """
import sys
from pathlib import Path
from test_study import SCENARIO
from o2sim.runs import run_store
from o2sim.runs.store_file import open_store
from o2sim.runs.study import run_study
run_store.PIECE_S = 0.0
run_study(SCENARIO, replications=1, seed=5, engine="reference")  # what is compiled is at hand from here on
print("ready", flush=True)
with open_store(Path(sys.argv[1]), "scenario", SCENARIO) as store:
    run_study(SCENARIO, replications=int(sys.argv[2]), seed=5, engine="reference", store=store, chunk_size=1)
"""


def child(path, wanted):
    """Start a process that runs into a store, writing each replication; wait until it begins."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([p for p in sys.path if p])}
    process = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(path), str(wanted)], stdout=subprocess.PIPE, env=environment
    )
    assert process.stdout.readline() == b"ready\n"
    return process


@pytest.mark.parametrize("kills", [5, pytest.param(100, marks=pytest.mark.slow)])
def test_kills_at_random_moments_lose_nothing(path, kills):
    """Killed again and again, the store never shrinks, and the last run ends as one never interrupted."""
    chance, wanted, stored = random.Random(kills), 12 * kills, [0]
    for _ in range(kills):
        process = child(path, wanted)
        time.sleep(chance.uniform(0.0, 0.15))
        process.send_signal(signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
        process.communicate()
        try:
            stored.append(len(rows(path)))
        except sqlite3.OperationalError:  # killed before the tables were made
            stored.append(0)
    assert stored == sorted(stored)
    assert any(0 < count < 2 * wanted for count in stored)
    assert run(path, wanted) == printed(wanted)


def test_two_processes_on_one_store(path):
    """Both run the whole batch at once; the store holds each chunk once and serves a third run."""
    both = [child(path, 40), child(path, 40)]
    assert [process.wait(timeout=60) for process in both] == [0, 0]
    for process in both:
        process.stdout.close()
    assert len(rows(path)) == len(set(rows(path))) == 80
    assert run(path, 40) == printed(40)


def test_ctrl_c_stores_what_is_done(path, monkeypatch):
    """Chunks that wait to be written are written as an interrupted run ends, and are not run again."""
    real, calls = study_module.simulate, []

    def interrupted(*args, **more):
        if len(calls) == 7:
            raise KeyboardInterrupt
        calls.append(1)
        return real(*args, **more)

    monkeypatch.setattr(study_module, "simulate", interrupted)
    found = json.loads(run(path, 6, chunk_size=1))
    assert (found["replications"], found["complete"]) == (3, False)
    monkeypatch.undo()
    assert [stop for _, _, stop in rows(path)] == [1, 2, 3] * 2
    assert run(path, 6) == printed(6)


def test_ctrl_c_reports_what_all_strategies_have(path, monkeypatch):
    """A strategy that was stored before has more replications than the one at work; only pairs are reported."""
    run(path, 6, strategies=["three units"])
    real, calls = study_module.simulate, []

    def interrupted(*args, **more):
        if len(calls) == 2:
            raise KeyboardInterrupt
        calls.append(1)
        return real(*args, **more)

    monkeypatch.setattr(study_module, "simulate", interrupted)
    assert json.loads(run(path, 6, chunk_size=1))["replications"] == 2


def test_the_version_is_that_of_the_file():
    """What a store is refused by is the package's own version."""
    assert store_file.__version__ == o2sim.__version__
