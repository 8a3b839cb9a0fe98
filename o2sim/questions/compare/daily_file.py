"""daily.csv written as replications come: a part for each strategy, put one behind the other at the end."""

from __future__ import annotations

import shutil
from pathlib import Path
from types import TracebackType
from typing import TextIO

from o2sim.errors import OutputError
from o2sim.looks.files import write_csv, write_rows
from o2sim.measures.result_rows import DAILY_HEADS, days_of
from o2sim.questions.compare.results_folder import make_stage
from o2sim.runs.midnights import Daily
from o2sim.scenario.types.hospital import Scenario


class DailyFile:
    """The daily counts of a study on their way into a folder; used as a context, and left with nothing behind."""

    def __init__(self, folder: Path, scenario: Scenario) -> None:
        """Take the folder of results, made if need be. Raises OutputError where it cannot be written."""
        self._folder, self._stage = folder, make_stage(folder)
        self._starts = {name: each.start for name, each in scenario.hospitals.items()}
        self._parts: dict[str, TextIO] = {}

    def __enter__(self) -> DailyFile:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Remove the parts."""
        for part in self._parts.values():
            part.close()
        shutil.rmtree(self._stage, ignore_errors=True)

    def add(self, strategy: str, replication: int, daily: Daily) -> None:
        """Write the rows of one replication of a strategy; replications come in their order."""
        try:
            if strategy not in self._parts:
                path = self._stage / f"daily-{len(self._parts)}.csv"
                self._parts[strategy] = path.open("w+", encoding="utf-8", newline="")
            write_rows(self._parts[strategy], days_of(strategy, self._starts[strategy], replication, daily))
        except OSError as error:
            raise OutputError(f"{self._folder}: writing failed ({error.strerror or error})") from error

    def put(self, path: Path) -> None:
        """Write the file, strategies in the order in which they first came."""
        write_csv(path, DAILY_HEADS, ())
        with path.open("a", encoding="utf-8", newline="") as whole:
            for part in self._parts.values():
                part.seek(0)
                shutil.copyfileobj(part, whole)
