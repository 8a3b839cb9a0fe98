"""One process that does the long work, one job at a time, and can be stopped; its states change in one place.

It keeps compiler and drawing library loaded, so that the server stays small and answers while work is done. A
process with a pipe and not a pool, which cannot stop what runs without breaking.
"""

from __future__ import annotations

import multiprocessing
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Any, Literal

from o2sim.desk.engine_child import Do, Ready, live

State = Literal["waiting", "running", "stopping", "stopped", "done", "failed", "lost"]
ENDED = ("stopped", "done", "failed", "lost")
PATIENCE_S = 2.0  # who does not stop within it is killed
MOST_KEPT = 40  # jobs that have ended


@dataclass(frozen=True)
class Job:
    """Some work: its name and what it is given; how far it is, and what came of it."""

    number: int
    name: str
    given: dict[str, Any] = field(repr=False)
    behind: bool = False  # in the background: it gives way to others, and goes on after them
    state: State = "waiting"
    done: int = 0
    of: int = 0
    began_s: float = 0.0  # by a clock that only runs on
    first: int = 0  # how many were done at the first report: those of a store cost no time
    found: Any = field(default=None, repr=False)
    error: str = ""

    @property
    def has_ended(self) -> bool:
        """Return True where nothing more comes of it."""
        return self.state in ENDED

    def left_s(self, now_s: float) -> float | None:
        """Return about how many seconds are left, None where that cannot be said yet."""
        fresh = self.done - self.first
        if self.state != "running" or fresh <= 0 or self.of <= 0:
            return None
        return (now_s - self.began_s) / fresh * (self.of - self.done)


class EngineRoom:
    """The process, the jobs that wait for it, and what became of those that ended."""

    def __init__(self, ready: Ready, do: Do, ended: Callable[[Job], None] = lambda _: None) -> None:
        """Take what the child does first, and with each job (functions of modules); ended: is given each job."""
        self._ready, self._do, self._tell = ready, do, ended
        self._lock = threading.RLock()
        self._jobs: dict[int, Job] = {}
        self._queue: deque[int] = deque()
        self._now: int | None = None  # the job that the child has
        self._gives_way = False
        self._is_ready = self._is_closed = False
        self._numbers = 0
        self._dropped: set[int] = set()  # their end is reported to nobody
        self._spawn()

    # --- asked from outside --------------------------------------------------------------------------------------

    @property
    def is_ready(self) -> bool:
        """Return False while the child gets ready, which after an installation takes a minute or two."""
        with self._lock:
            return self._is_ready

    @property
    def process_id(self) -> int | None:
        """Return the number of the child's process."""
        return self._process.pid

    def ask(self, name: str, given: dict[str, Any], *, behind: bool = False) -> Job | None:
        """Take a job; return None where another, not in the background, is at work."""
        with self._lock:
            if not behind and self.at_work is not None:
                return None
            self._numbers += 1
            job = self._jobs[self._numbers] = Job(self._numbers, name, given, behind)
            if behind:
                self._queue.append(job.number)
            else:
                self._queue.appendleft(job.number)
                self._make_way()
            self._next()
            self._forget_old()
            return self._jobs[job.number]

    @property
    def at_work(self) -> Job | None:
        """Return the job that waits or runs, those in the background left aside."""
        with self._lock:
            return next((job for job in self._jobs.values() if not job.behind and not job.has_ended), None)

    def job(self, number: int) -> Job | None:
        """Return a job as it is now; None for one that was forgotten."""
        with self._lock:
            return self._jobs.get(number)

    def newest(self, name: str) -> Job | None:
        """Return the job of a name that was asked for last."""
        with self._lock:
            return next((job for job in reversed(self._jobs.values()) if job.name == name), None)

    def stop(self, number: int) -> None:
        """Stop a job: what it has done so far is what comes of it. After two seconds the child is killed."""
        with self._lock:
            job = self._jobs.get(number)
            if job is None or job.has_ended:
                return
            if self._now != number:
                self._queue = deque(each for each in self._queue if each != number)
                self._move(number, state="stopped")
                return
            self._gives_way = False
            if job.state == "running":
                self._move(number, state="stopping")
                self._signal(number)

    def drop(self, belongs: Callable[[Job], bool]) -> None:
        """Stop the jobs that belong, in the background too, and forget them: nothing comes of them any more.

        Waits until they have ended, which takes little longer than the patience with one that does not stop.
        """
        with self._lock:
            mine = [number for number, job in self._jobs.items() if belongs(job)]
            self._dropped.update(mine)
            for number in mine:
                self.stop(number)
        until = time.monotonic() + PATIENCE_S + 1
        while any(not job.has_ended for number in mine if (job := self.job(number))) and time.monotonic() < until:
            time.sleep(0.02)
        with self._lock:
            for number in mine:
                if self._jobs[number].has_ended:
                    del self._jobs[number]

    def close(self) -> None:
        """End the child."""
        with self._lock:
            self._is_closed = True
            self._flag.set()
            with suppress(OSError):
                self._pipe.send(None)
        self._process.join(0.3)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(2)
        self._listener.join(2)  # it hears the end of the pipe, and nobody else closes that

    # --- the child -----------------------------------------------------------------------------------------------

    def _spawn(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._flag = context.Event()
        self._is_ready = False
        self._process: SpawnProcess = context.Process(
            target=live, args=(theirs, self._flag, self._ready, self._do), daemon=True, name="o2sim-engine"
        )
        self._process.start()
        theirs.close()  # so that the end of the child is the end of the pipe
        self._listener = threading.Thread(target=self._listen, args=(self._pipe,), daemon=True)
        self._listener.start()

    def _listen(self, pipe: Connection) -> None:
        """Take what the child says until it ends, then begin another."""
        with suppress(EOFError, OSError):
            while True:
                self._heard(*pipe.recv())
        pipe.close()
        with self._lock:
            if self._is_closed:
                return
            now, self._now = self._now, None
            was_ready = self._is_ready
            self._gives_way = False
            if now is not None:
                stopped = self._jobs[now].state == "stopping"
                self._move(now, state="stopped" if stopped else "lost")
            elif not was_ready:  # a child that never gets ready is not begun for ever
                for number in [*self._queue]:
                    self._move(number, state="lost")
                self._queue.clear()
                time.sleep(0.2)
            self._spawn()

    def _heard(self, what: str, number: int, found: Any) -> None:
        with self._lock:
            if what == "ready":
                self._is_ready = True
            elif what == "progress":
                self._progress(number, *found)
                return
            else:
                self._ended(what, number, found)
            self._next()

    def _progress(self, number: int, done: int, of: int) -> None:
        job = replace(self._jobs[number], done=done, of=of)
        if not self._jobs[number].of:
            job = replace(job, first=done, began_s=time.monotonic())
        self._jobs[number] = job

    def _ended(self, what: str, number: int, found: Any) -> None:
        self._now = None
        incomplete = what == "stopped" or (isinstance(found, dict) and found.get("complete") is False)
        if incomplete and self._gives_way:
            self._gives_way = False
            self._move(number, state="waiting", of=0)
            self._queue.append(number)
            return
        self._gives_way = False
        if what == "failed":
            self._move(number, state="failed", error=found)
        else:
            self._move(number, state="stopped" if incomplete else "done", found=found)

    def _next(self) -> None:
        """Give the child what waits first, where it has nothing to do."""
        if self._now is not None or not self._is_ready or not self._queue:
            return
        number = self._queue.popleft()
        self._now = number
        self._flag.clear()
        job = self._move(number, state="running", began_s=time.monotonic())
        with suppress(OSError):  # it is dead: who listens finds out
            self._pipe.send((number, job.name, job.given))

    def _make_way(self) -> None:
        """Let what runs in the background stop, to go on later."""
        if self._now is not None and self._jobs[self._now].behind:
            self._gives_way = True
            self._signal(self._now)

    def _signal(self, number: int) -> None:
        self._flag.set()
        process = self._process

        def kill() -> None:
            with self._lock:
                if self._now == number and self._process is process:
                    process.kill()

        timer = threading.Timer(PATIENCE_S, kill)
        timer.daemon = True
        timer.start()

    def _move(self, number: int, **changes: Any) -> Job:
        """Change a job, in this place alone."""
        job = self._jobs[number] = replace(self._jobs[number], **changes)
        if job.has_ended and number not in self._dropped:
            self._tell(job)
        return job

    def _forget_old(self) -> None:
        ended = [number for number, job in self._jobs.items() if job.has_ended]
        for number in ended[: max(0, len(ended) - MOST_KEPT)]:
            del self._jobs[number]
