"""What the process of the engine room lives by: it gets ready, then does one job after another."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable
from functools import partial
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from typing import Any

from o2sim.errors import O2simError

Progress = Callable[..., None]  # is given how many are done, and of how many; raises KeyboardInterrupt to stop
Ready = Callable[[], None]
Do = Callable[[str, dict[str, Any], Progress], Any]
TOLD_EACH_S = 0.2
NICER = 5


def live(pipe: Connection, flag: Event, ready: Ready, do: Do) -> None:
    """Get ready, then do each job that comes; end with the other end of the pipe. flag: stop what runs."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's to hear
    if hasattr(os, "nice"):
        os.nice(NICER)
    try:
        ready()
        pipe.send(("ready", 0, None))
        while True:
            asked = pipe.recv()
            if asked is None:
                return
            number, name, given = asked
            pipe.send(_done(pipe, flag, number, partial(do, name, given)))
    except (EOFError, OSError):
        return


def _done(pipe: Connection, flag: Event, number: int, work: Callable[[Progress], Any]) -> tuple[str, int, Any]:
    """Return what came of a job. Raises OSError where nobody listens any more."""
    try:
        return "done", number, work(_progress(pipe, flag, number))
    except KeyboardInterrupt:
        return "stopped", number, None
    except O2simError as error:
        return "failed", number, str(error)
    except (EOFError, BrokenPipeError):
        raise
    except MemoryError:
        return "failed", number, "MemoryError"
    except Exception as error:  # whatever it is, the desk goes on, and says what to pass on
        print(f"{type(error).__name__}: {error}", file=sys.stderr)
        return "failed", number, f"{type(error).__name__}: {error}"


def _progress(pipe: Connection, flag: Event, number: int) -> Progress:
    said_s = 0.0

    def progress(done: int = 0, of: int = 0) -> None:
        nonlocal said_s
        if flag.is_set():
            raise KeyboardInterrupt
        if time.monotonic() - said_s >= TOLD_EACH_S or done == of:
            said_s = time.monotonic()
            pipe.send(("progress", number, (done, of)))

    return progress
