"""Collects what is wrong with a file, each problem with its place, in the order of the file."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Protocol

from o2sim.errors import Problem, ScenarioError

MOST_PROBLEMS = 60  # a hostile file could have a hundred thousand; nobody reads more than this
_LONGEST_QUOTE = 60


class Place(Protocol):
    """Anything that stands somewhere in a file: a node of the tree."""

    @property
    def line(self) -> int:
        """Return the line, from 1; 0 where no line applies."""

    @property
    def path(self) -> str:
        """Return the dotted path."""

    @property
    def refused(self) -> bool:
        """Return True where the value has been complained of already."""


class RefusedError(Exception):
    """A value that cannot be used; its problem has been noted already."""


class Problems:
    """The problems of one file, each noted once."""

    def __init__(self, file: str) -> None:
        """Take the name of the file as the user knows it."""
        self.file = file
        self._noted: dict[Problem, None] = {}
        self._cut = False

    def __len__(self) -> int:
        """Return how many problems are noted."""
        return len(self._noted)

    @property
    def full(self) -> bool:
        """Return True when further problems would not be listed."""
        return len(self._noted) >= MOST_PROBLEMS

    def add(
        self, place: Place, found: str, allowed: str = "", hint: str = "", *, field: str | None = None
    ) -> RefusedError:
        """Note a problem and return the exception to raise where the value is needed.

        field is the dotted path if it is not that of the place. A place refused before is not reported again.
        """
        if place.refused:
            return RefusedError()
        problem = Problem(self.file, place.line, place.path if field is None else field, found, allowed, hint)
        if problem not in self._noted and self.full:
            self._cut = True
        else:
            self._noted[problem] = None
        return RefusedError()

    @property
    def noted(self) -> tuple[Problem, ...]:
        """Return the problems noted so far."""
        return tuple(self._noted)

    def take(self, problem: Problem) -> None:
        """Note a problem found by another reading of the same file."""
        if self.full:
            self._cut = self._cut or problem not in self._noted
        else:
            self._noted[problem] = None

    def stop(self) -> None:
        """Raise ScenarioError with all problems, by line, if there is any."""
        if not self._noted:
            return
        listed = sorted(self._noted, key=lambda problem: problem.line)
        if self._cut:
            listed.append(Problem(self.file, 0, "", "more problems follow, not listed", "", "mend these first"))
        raise ScenarioError(listed)


def quote(text: str) -> str:
    """Return text between quotes, shortened if it is long."""
    return repr(text if len(text) <= _LONGEST_QUOTE else text[: _LONGEST_QUOTE - 3] + "...")


def listing(words: Iterable[str]) -> str:
    """Return words as `a, b or c`."""
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last


def nearest(name: str, known: Iterable[str]) -> str:
    """Return `did you mean fleet?` for the known name most like it, or an empty text."""
    names = list(known)
    plain = name[:_LONGEST_QUOTE].strip().lower().replace(" ", "_").replace("-", "_")
    close = difflib.get_close_matches(plain, names, n=1, cutoff=0.6)
    close += [known_name for known_name in names if plain in known_name.split("_")]
    return f"did you mean {close[0]}?" if close else ""
