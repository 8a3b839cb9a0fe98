"""The crews that run pieces of work: in this thread, in processes of this machine, on a cluster.

Everything that runs work is a `concurrent.futures.Executor`: in place, in processes of this machine, or on a
dask.distributed cluster. On Linux processes are forked from a server that has one thread and has loaded everything
once; on Windows and macOS, where that cannot be or is not safe, each is spawned and loads it by itself.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, nullcontext
from types import TracebackType
from typing import Any, Self

from o2sim import wiring
from o2sim.errors import O2simError
from o2sim.version import __version__

WORTH_S = 4.0  # of work still to do; below it, starting processes (about 1 s each) gains nothing
WORTH_WHEN_FORKED_S = 1.0
LOOK_S = 0.5  # of work done before it is decided
CONNECT_S = 20
GRACE_S = 1.0  # for work in hand, where the rest is cut short: Ctrl-C is heard within 2 s
FORKED = sys.platform == "linux"
MOST_WORKERS = 61 if os.name == "nt" else 1_024  # Windows cannot wait for more processes at once

_sent_ahead = threading.Event()


class WorkerError(O2simError):
    """Workers or a cluster that cannot be had, or that stop again and again."""


class InPlace(Executor):
    """Runs each call at once, in this thread; Ctrl-C passes through."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Return a future that is done."""
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


class Crew(ABC):
    """What runs pieces of work, used as a context: where the outermost ends, no worker is left over.

    It stays for several batches, each of which may use it as a context of its own; one that is cut short sends it
    home at once. lost_errors: those that mean a worker was lost, not that the work is wrong.
    """

    lost_errors: tuple[type[BaseException], ...] = ()
    _pool: Executor
    _inside = 0
    _ended = False

    @property
    @abstractmethod
    def window(self) -> int:
        """Return how many pieces to have under way at once."""

    def submit(self, work: Callable[..., Any], *args: Any) -> Future[Any]:
        """Return the future of one piece."""
        future: Future[Any] = self._pool.submit(work, *args)
        return future

    def renew(self) -> None:  # noqa: B027
        """Replace what broke, where nobody else does."""

    def consider(self, seconds_done: float, seconds_left: float) -> None:  # noqa: B027
        """Take what has been done in how long, and what is left by that measure."""

    def end(self, cut_short: bool) -> None:  # noqa: B027
        """Send everybody home, where the caller does not."""

    def __enter__(self) -> Self:
        """Return itself."""
        self._ended = self._ended and self._inside > 0
        self._inside += 1
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Send everybody home at the end of all, or where a batch is cut short."""
        self._inside -= 1
        if not self._ended and (self._inside == 0 or kind is not None):
            self._ended = True
            self.end(kind is not None)


class Processes(Crew):
    """Worker processes of this machine; with workers None, work is done in place until it proves long."""

    lost_errors = (BrokenProcessPool,)

    def __init__(self, workers: int | None = None) -> None:
        """Take the number of workers: 1 runs in place, None is one for each core where it is worth it."""
        if workers is not None and not 1 <= workers <= MOST_WORKERS:
            raise WorkerError(f"workers: found {workers}; allowed: from 1 to {MOST_WORKERS}")
        self._undecided = workers is None and cores() > 1
        self._looks = 0
        self._workers = 1 if workers is None else workers
        self._pool = InPlace() if self._workers == 1 else pool_of(self._workers)

    @property
    def window(self) -> int:
        """Return one piece in place; in processes enough that none waits for the next."""
        return 1 if self._workers == 1 else 2 * self._workers

    def submit(self, work: Callable[..., Any], *args: Any) -> Future[Any]:
        """Return the future of one piece; a worker that starts now never sees Ctrl-C."""
        with nullcontext() if self._workers == 1 else _deaf_to_interrupts():
            return super().submit(work, *args)

    def renew(self) -> None:
        """Start a new pool in place of one that lost a worker."""
        _end(self._pool)
        self._pool = pool_of(self._workers)

    def consider(self, seconds_done: float, seconds_left: float) -> None:
        """Start a process for each core once what is left is known to be worth it.

        Not after the first piece, which may have waited for something to be loaded or compiled.
        """
        self._looks += 1
        if self._undecided and seconds_done >= LOOK_S and self._looks > 1:
            self._undecided = False
            if seconds_left >= (WORTH_WHEN_FORKED_S if _sent_ahead.is_set() else WORTH_S):
                self._workers = min(cores(), MOST_WORKERS)
                self._pool = pool_of(self._workers)

    def end(self, cut_short: bool) -> None:
        """End the processes: at once where the work is cut short."""
        if cut_short:
            _end(self._pool)
        else:
            self._pool.shutdown(cancel_futures=True)


class Cluster(Crew):
    """The workers of a dask.distributed cluster, which replaces them by itself and stays."""

    def __init__(self, address: str) -> None:
        """Connect to the scheduler at an address such as `tcp://10.0.0.5:8786`.

        Raises WorkerError where dask.distributed is missing, the scheduler does not answer, there are no workers,
        or their o2sim is not this version.
        """
        try:
            import distributed
        except ImportError:
            hint = "pip install distributed"
            raise WorkerError(f"a cluster needs dask.distributed, which is not installed: {hint}") from None
        library: Any = distributed
        self.lost_errors = (library.KilledWorker,)
        try:
            self._client = library.Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            raise WorkerError(f"cluster {address!r}: no scheduler answers there ({_reason(error)})") from None
        try:
            self._check(address)
        except BaseException:
            self._client.close()
            raise
        self._pool = self._client.get_executor()

    def _check(self, address: str) -> None:
        """Raise WorkerError unless every worker has this version."""
        try:
            versions = self._client.run(version_here)
        except Exception as error:
            raise WorkerError(f"cluster {address!r}: its workers cannot load o2sim ({_reason(error)})") from None
        if not versions:
            raise WorkerError(f"cluster {address!r}: has no workers; start some with `dask worker {address}`")
        others = sorted(set(versions.values()) - {__version__})
        if others:
            found = f"its workers have o2sim {', '.join(others)}, this is {__version__}"
            raise WorkerError(f"cluster {address!r}: {found}; install the same everywhere")

    @property
    def window(self) -> int:
        """Return two pieces for each thread there is."""
        threads: int = sum(self._client.nthreads().values())
        return max(2, 2 * threads)

    def end(self, cut_short: bool) -> None:  # noqa: ARG002
        """Cancel what is waiting and hang up."""
        self._pool.shutdown(wait=False)  # which cancels, on a cluster
        self._client.close()


class Given(Crew):
    """Any executor the caller has made, mends and ends."""

    window = 4

    def __init__(self, executor: Executor, window: int = 4) -> None:
        """Take the executor and how many pieces to have under way."""
        self._pool, self.window = executor, window


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def version_here() -> str:
    """Return the version of o2sim where this runs."""
    return __version__


def pool_of(workers: int) -> ProcessPoolExecutor:
    """Return a pool of processes that ignore Ctrl-C and end with the one that started them."""
    return ProcessPoolExecutor(workers, mp_context=_context(), initializer=settle_in)


def send_ahead() -> None:
    """Start what workers are forked from, for it to load everything while this program does the same."""
    if FORKED and not _sent_ahead.is_set():
        from multiprocessing import forkserver

        _context()
        with _deaf_to_interrupts():
            forkserver.ensure_running()
        _sent_ahead.set()


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Let a process that starts here never see Ctrl-C."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # as it starts it unblocks Ctrl-C, so it starts first
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _context() -> multiprocessing.context.BaseContext:
    if not FORKED:
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(wiring.modules_for("workers")))
    return context


def settle_in() -> None:
    """Leave Ctrl-C to the process that hands out work, and end when it does, however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _end(pool: Executor) -> None:
    """Stop a pool: what is in hand is half a second's work, and a worker that takes much longer is killed.

    A worker stopped in the middle of a result leaves half of it in the pipe, whose rest the pool's own thread
    would wait for without end, also as the program ends: so none is killed at once, and the pipe is closed.
    """
    workers = list((getattr(pool, "_processes", None) or {}).values())
    results = getattr(pool, "_result_queue", None)
    calls = getattr(pool, "_call_queue", None)  # a worker that is just starting looks for its locks
    pool.shutdown(wait=False, cancel_futures=True)
    until = time.monotonic() + GRACE_S
    for worker in workers:
        worker.join(max(0.0, until - time.monotonic()))
    late = [worker for worker in workers if worker.is_alive()]
    for worker in late:
        worker.kill()
        worker.join()
    if late and results is not None:
        results._writer.close()
    del calls


def _reason(error: BaseException) -> str:
    return str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
