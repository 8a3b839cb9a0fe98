"""The folder that the desk works in: which scenarios lie there, their texts, and what may be written.

A file is chosen from the list of what is there, never by a path; no file of another is ever overwritten.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field
from pathlib import Path

from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario import load
from o2sim.scenario.changing.safe_file import exact_text, text_hash
from o2sim.scenario.types.hospital import Scenario

ENDINGS = (".yaml", ".yml")
MOST_FILES = 40  # in the list
TABLE = "file"  # the key that names one
NAME = re.compile(r"[A-Za-z0-9 _-]{1,60}")


@dataclass(frozen=True)
class Listed:
    """A scenario of the folder; name: of the hospital, "" where the file cannot be read."""

    file: str
    name: str


@dataclass(frozen=True)
class Read:
    """A file as it is now: its text, the hash of that, when it was saved; its scenario or what is wrong."""

    file: str
    path: Path
    text: str = field(repr=False)
    hash: str
    saved: dt.datetime
    scenario: Scenario | None = field(repr=False)
    problems: tuple[Problem, ...] = ()


class Folder:
    """The folder."""

    def __init__(self, path: Path) -> None:
        """Take where it is."""
        self.path = path.resolve()
        self._seen: dict[tuple[str, int, int], Listed] = {}
        self._last: tuple[Path, Scenario] | None = None

    def names(self) -> list[str]:
        """Return the names of the files that could be scenarios, in order."""
        return sorted(
            each.name
            for each in self.path.iterdir()
            if each.suffix.lower() in ENDINGS and each.is_file() and not each.name.startswith(".")
        )

    def listed(self) -> tuple[list[Listed], int]:
        """Return what is to be shown of them, and how many more there are."""
        names = self.names()
        return [self._listed(name) for name in names[:MOST_FILES]], max(0, len(names) - MOST_FILES)

    def _listed(self, name: str) -> Listed:
        try:
            state = (self.path / name).stat()
            key = name, state.st_mtime_ns, state.st_size
            if key not in self._seen:
                self._seen[key] = Listed(name, load(self.path / name).name)
            return self._seen[key]
        except (O2simError, OSError):
            return Listed(name, "")

    def read(self, name: str) -> Read | None:
        """Return a file of the list as it is now; None where it is not there, or is no text."""
        if name not in self.names():
            return None
        path = self.path / name
        try:
            text = exact_text(path)
            saved = dt.datetime.fromtimestamp(path.stat().st_mtime)
        except (O2simError, OSError):
            return None
        try:
            return Read(name, path, text, text_hash(text), saved, self._scenario(path, text))
        except ScenarioError as error:
            return Read(name, path, text, text_hash(text), saved, None, error.problems)

    def _scenario(self, path: Path, text: str) -> Scenario:
        """Return the scenario of a text, the last one without reading it again. Raises ScenarioError.

        A page asks for it several times, and with twelve ranges reading takes a fifth of a second. A text that may
        name a table is read each time, as the table may have changed.
        """
        last = self._last
        if last is not None and (last[0], last[1].text) == (path, text) and TABLE not in text:
            return last[1]
        found = load(path)
        self._last = path, found
        return found

    def free(self, stem: str) -> Path:
        """Return a path for a new file, numbered where the name is taken."""
        number, path = 2, self.path / f"{stem}{ENDINGS[0]}"
        while path.exists():
            number, path = number + 1, self.path / f"{stem}_{number}{ENDINGS[0]}"
        return path


def is_name(stem: str) -> bool:
    """Return True for what a file may be called, its ending apart."""
    return NAME.fullmatch(stem) is not None and stem == stem.strip()
