"""What is printed while nobody reads it: the work goes on, files are written, and the end says what failed."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, TextIO

CLOSED = "it is closed; give it a place, such as > result.txt"


class Outlet:
    """Standard output or error: the first write that fails is remembered, and what comes after it goes nowhere.

    failure: why it cannot be written, empty where it can be, or where its reader has left, which is no error.
    """

    failure = ""

    def __init__(self, stream: TextIO | None) -> None:
        """Take the stream, None where the system gave the program none."""
        self._closed = stream is None
        self._stream: Any = open(os.devnull, "w", encoding="utf-8") if stream is None else stream  # noqa: SIM115
        self._lost = False

    def write(self, text: str) -> int:
        """Write a text, or let it go."""
        if self._closed and text:
            self.failure = CLOSED
        with self._losing():
            if not self._lost:
                self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        """Write what waits, or let it go."""
        with self._losing():
            if not self._lost:
                self._stream.flush()

    @contextmanager
    def _losing(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            self._lost = True
            if not _reader_left(error):
                self.failure = error.strerror or str(error)
            with suppress(
                OSError, ValueError, AttributeError
            ):  # so that Python does not try what is left again at the end
                os.dup2(os.open(os.devnull, os.O_WRONLY), self._stream.fileno())

    def __getattr__(self, name: str) -> Any:
        """Be as the stream in all else."""
        return getattr(self._stream, name)


def _reader_left(error: OSError) -> bool:
    """Return True where what read the output is gone; Windows says so in another way."""
    return error.errno == errno.EPIPE or (os.name == "nt" and error.errno == errno.EINVAL)


@contextmanager
def outlets() -> Iterator[tuple[Outlet, Outlet]]:
    """Put outlets in the place of standard output and error."""
    before = sys.stdout, sys.stderr
    for stream in before:
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without the letters shows "?", not a traceback
    found = Outlet(sys.stdout), Outlet(sys.stderr)
    sys.stdout, sys.stderr = found
    try:
        yield found
    finally:
        sys.stdout, sys.stderr = before
