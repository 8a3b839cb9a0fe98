"""Who does the work changes no result; workers that die are replaced; Ctrl-C keeps what is done."""

from __future__ import annotations

import json
import multiprocessing
import os
import random
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_cli import SCENARIO as TEXT
from test_study import SCENARIO

from o2sim.errors import InvariantError
from o2sim.measures.measures import summarise
from o2sim.runs import executors
from o2sim.runs.executors import Given, InPlace, Processes, WorkerError, settle_in
from o2sim.runs.running import MOST_LOSSES, run_pieces
from o2sim.runs.study import run_study

WANTED = 9


class AnyOrder(Executor):
    """One thread that takes the waiting calls in an order drawn at random."""

    def __init__(self, seed):
        self.random, self.calls, self.changed = random.Random(seed), [], threading.Condition()
        self.thread = threading.Thread(target=self.work, daemon=True)
        self.thread.start()

    def submit(self, fn, /, *args, **kwargs):
        """Put the call among those that wait."""
        future = Future()
        with self.changed:
            self.calls.append((future, fn, args, kwargs))
            self.changed.notify()
        return future

    def work(self):
        """Run the calls, a moment after they come, so that several wait."""
        while True:
            with self.changed:
                self.changed.wait_for(lambda: self.calls)
                future, fn, args, kwargs = self.calls.pop(self.random.randrange(len(self.calls)))
            if fn is None:
                return
            future.set_result(fn(*args, **kwargs))


@lru_cache
def alone():
    """Return what the study prints when run one by one."""
    return json.dumps(summarise(run_study(SCENARIO, replications=WANTED, seed=4)))


@settings(max_examples=12, deadline=None)
@given(size=st.integers(1, 5) | st.none(), window=st.integers(1, 12), order=st.integers(0, 99))
def test_results_depend_neither_on_chunks_nor_on_the_order_they_come(size, window, order):
    """Pieces of any size that come back in any order make the same study, to the last digit."""
    hands = AnyOrder(order)
    found = run_study(SCENARIO, replications=WANTED, seed=4, crew=Given(hands, window), chunk_size=size)
    hands.submit(None)
    assert json.dumps(summarise(found)) == alone()
    numbers = list(range(WANTED))
    assert [[o.replication for o in outcomes] for outcomes in found.outcomes.values()] == [numbers, numbers]


class LastOnly:
    """A crew that ends the second piece and never the first."""

    lost_errors = ()
    window = 2
    given = 0

    def __enter__(self):
        """Return itself."""
        return self

    def __exit__(self, *_):
        """Do nothing."""

    def consider(self, *_):
        """Do nothing."""

    def submit(self, work, *args):
        """Return a future that is done for the second piece alone."""
        self.given += 1
        future = Future()
        if self.given == 2:
            future.set_result(work(*args))
        return future


def test_what_is_done_out_of_turn_is_not_reported():
    """Stopped when replications 2 and 3 are done and 0 and 1 are not, there is nothing whole to report."""

    def stop(done):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_study(SCENARIO, replications=4, crew=LastOnly(), chunk_size=2, progress=stop)


def test_threads_and_this_thread_give_the_same():
    """Any executor of the standard library will do."""
    with ThreadPoolExecutor(3) as threads:
        found = run_study(SCENARIO, replications=WANTED, seed=4, crew=Given(threads), chunk_size=2)
    assert json.dumps(summarise(found)) == alone()
    found = run_study(SCENARIO, replications=WANTED, seed=4, crew=Given(InPlace(), 1))
    assert json.dumps(summarise(found)) == alone()


def test_a_killed_worker_is_replaced_and_the_study_is_whole():
    """Processes give the same study, also where one of them is killed at work; none is left over."""
    killed = []

    def kill_once(done):
        if not killed and done < WANTED:
            killed.append(multiprocessing.active_children()[0].pid)
            os.kill(killed[0], signal.SIGKILL)

    crew = Processes(2)
    found = run_study(SCENARIO, replications=WANTED, seed=4, crew=crew, chunk_size=1, progress=kill_once)
    assert killed
    assert json.dumps(summarise(found)) == alone()
    assert multiprocessing.active_children() == []


class Dying:
    """A crew whose workers die at some submissions."""

    lost_errors = (BrokenProcessPool,)
    window = 2

    def __init__(self, deaths, at_submit=False):
        self.deaths, self.at_submit, self.renewed = deaths, at_submit, 0

    def submit(self, work, *args):
        """Return a future that is done, or lost."""
        self.deaths -= 1
        future = Future()
        if self.deaths >= 0 and self.at_submit:
            raise BrokenProcessPool("gone")
        if self.deaths >= 0:
            future.set_exception(BrokenProcessPool("gone"))
        else:
            future.set_result(work(*args))
        return future

    def renew(self):
        """Count."""
        self.renewed += 1


@pytest.mark.parametrize("at_submit", [False, True])
def test_pieces_that_are_lost_are_run_again(at_submit):
    """Each piece comes once, whether its loss shows in its future or as it is handed out."""
    crew = Dying(3, at_submit)
    found = sorted(run_pieces(crew, lambda n: n * n, iter([1, 2, 3]), lambda n: (n,)))
    assert found == [(1, 1), (2, 4), (3, 9)]
    assert crew.renewed >= 1


def test_work_under_way_in_a_pool_that_broke_is_run_again():
    """Of two pieces one is reported lost, the other never ends: both come, from the new pool."""

    class Breaking(Dying):
        def submit(self, work, *args):
            """Lose the first, hold the second, run the others."""
            self.deaths -= 1
            future = Future()
            if self.deaths == 1:
                future.set_exception(BrokenProcessPool("gone"))
            elif self.deaths < 0:
                future.set_result(work(*args))
            return future

    found = sorted(run_pieces(Breaking(2), lambda n: n * n, iter([1, 2, 3]), lambda n: (n,)))
    assert found == [(1, 1), (2, 4), (3, 9)]


@pytest.mark.parametrize("at_submit", [False, True])
def test_a_piece_that_kills_its_worker_every_time_is_given_up(at_submit):
    """After some losses the error gives the reason and what to do, in place of trying for ever."""
    with pytest.raises(WorkerError, match=f"stopped {MOST_LOSSES + 1} times .* use fewer --workers"):
        list(run_pieces(Dying(10**6, at_submit), int, iter([1]), lambda n: (n,)))


def test_an_error_of_the_work_passes_through():
    """A broken balance in a worker is that error, not a lost worker."""

    def broken():
        raise InvariantError("gas")

    with pytest.raises(InvariantError, match="gas"):
        list(run_pieces(Given(InPlace(), 1), broken, iter([1]), lambda _: ()))


@pytest.mark.parametrize("workers", [0, -1, 10**6])
def test_a_number_of_workers_that_makes_no_sense(workers):
    """It is refused with what is allowed."""
    with pytest.raises(WorkerError, match=f"found {workers}; allowed: from 1 to"):
        Processes(workers)


def test_processes_start_only_where_it_is_worth_it(monkeypatch):
    """With the default number, short work stays here and long work goes to a process for each core."""
    monkeypatch.setattr(executors, "cores", lambda: 3)
    started = []
    monkeypatch.setattr(executors, "pool_of", lambda workers: started.append(workers) or InPlace())
    monkeypatch.setattr(executors, "_sent_ahead", threading.Event())
    short, early, long = Processes(None), Processes(None), Processes(None)
    short.consider(1.0, 1e9)  # the first piece may have waited for a compiler
    short.consider(1.0, 1.0)
    short.consider(2.0, 1e9)
    early.consider(0.1, 1e9)
    early.consider(0.2, 1e9)
    long.consider(0.1, 60.0)
    long.consider(1.0, 60.0)
    assert (short.window, early.window, long.window, started) == (1, 1, 6, [3])


def test_what_is_sent_ahead_makes_processes_worth_it_sooner(monkeypatch):
    """Where everything is loaded already two seconds of work are worth a start, which they are not else."""
    monkeypatch.setattr(executors, "cores", lambda: 2)
    monkeypatch.setattr(executors, "pool_of", lambda _: InPlace())
    windows = []
    for loaded in (False, True):
        crew = Processes(None)
        monkeypatch.setattr(executors, "_sent_ahead", threading.Event())
        if loaded:
            executors._sent_ahead.set()
        crew.consider(0.6, 2.0)
        crew.consider(0.7, 2.0)
        windows.append(crew.window)
    assert windows == [1, 4]


@pytest.mark.parametrize("forked", [False, True])
def test_spawned_and_forked_workers_give_the_same(monkeypatch, forked):
    """Where there is no fork each worker loads by itself; what is sent ahead there is nothing."""
    monkeypatch.setattr(executors, "FORKED", forked and sys.platform == "linux")
    monkeypatch.setattr(executors, "_sent_ahead", threading.Event())
    executors.send_ahead()
    assert executors._sent_ahead.is_set() == executors.FORKED
    with Processes(2) as crew:
        assert [crew.submit(pow, 2, n).result() for n in range(3)] == [1, 2, 4]
    assert not multiprocessing.active_children()


def test_one_core_works_in_place(monkeypatch):
    """Where there is one core no process is ever started."""
    monkeypatch.setattr(executors, "cores", lambda: 1)
    crew = Processes(None)
    crew.consider(9.0, 1e9)
    assert crew.window == 1


def test_a_worker_ends_with_the_process_that_started_it(monkeypatch):
    """The watch that every worker keeps waits for its parent, then leaves; Ctrl-C it does not hear."""
    left, before = [], signal.getsignal(signal.SIGINT)

    class Parent:
        def join(self):
            """Return at once, as if it had gone."""

    monkeypatch.setattr(multiprocessing, "parent_process", Parent)
    monkeypatch.setattr(os, "_exit", left.append)
    try:
        settle_in()
        heard = signal.getsignal(signal.SIGINT)
    finally:
        signal.signal(signal.SIGINT, before)
    for thread in threading.enumerate():
        if thread.name.endswith("(_end_with_parent)"):
            thread.join()
    assert (heard, left) == (signal.SIG_IGN, [1])


def children_of(pid):
    """Return the processes that a process has started (Linux)."""
    found = []
    for name in os.listdir("/proc"):
        if name.isdigit():
            try:
                with open(f"/proc/{name}/stat") as file:
                    state, parent = file.read().rsplit(")", 1)[1].split()[:2]
            except OSError:
                continue
            if int(parent) == pid and state != "Z":
                found.append(int(name))
    return found


def gone(pids):
    """Wait until none of the processes is there; return those that stay."""
    until = time.monotonic() + 20
    while time.monotonic() < until:
        pids = [pid for pid in pids if os.path.exists(f"/proc/{pid}")]
        if not pids:
            break
        time.sleep(0.05)
    return pids


# A program started in the background of a shell is born deaf to Ctrl-C.
HEARS_CTRL_C = """
import signal, sys
from o2sim.cli import main
if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)
    main(prog_name="o2sim")
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
@pytest.mark.parametrize("how", [signal.SIGINT, pytest.param(signal.SIGKILL, marks=pytest.mark.slow)])
def test_no_worker_is_left_over(tmp_path, how):
    """After Ctrl-C the whole replications are reported with exit code 130; after either no worker is left."""
    path = tmp_path / "reed.yaml"
    path.write_text(TEXT, encoding="utf-8")
    options = ["--replications", "100000", "--workers", "2", "--json", "--store", str(tmp_path / "runs.o2store")]
    run = subprocess.Popen(
        [sys.executable, "-c", HEARS_CTRL_C, "compare", str(path), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,  # Ctrl-C goes to the whole group, as from a terminal
    )
    until = time.monotonic() + 60
    while time.monotonic() < until and (tmp_path / "runs.o2store").exists() is False:
        time.sleep(0.05)
    while time.monotonic() < until and os.path.getsize(tmp_path / "runs.o2store") < 60_000:
        time.sleep(0.05)
    workers = children_of(run.pid)
    os.killpg(run.pid, how) if how == signal.SIGINT else os.kill(run.pid, how)
    out, err = run.communicate(timeout=60)
    assert len(workers) >= 2
    assert "Traceback" not in err
    assert gone(workers) == []
    if how == signal.SIGINT:
        told = json.loads(out)
        assert (run.returncode, told["complete"]) == (130, False)
        assert 0 < told["replications"] < 100_000
        assert err.splitlines()[-1].startswith("Stopped after")
