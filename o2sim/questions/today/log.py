"""The log of counts and forecasts: a line of JSON for each count, numbers only and never a row of patients."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.errors import O2simError, OutputError
from o2sim.looks.files import write_text
from o2sim.typed import as_json

if TYPE_CHECKING:  # a log is read without what results are made of
    from o2sim.questions.today.result import TodayResult

VERSION = 1
KIND = "o2sim_today"
MOST_BYTES = 200_000_000  # far beyond years of counts
Laws = Mapping[dt.date, Mapping[int, int]]  # by day that ends: full cylinders, replications


@dataclass(frozen=True)
class Entry:
    """A count, and what was forecast from it: of each day that ends, how many replications had how many full."""

    scenario: str
    counted: dt.datetime
    full: int
    forecast: Laws


def line_of(said: TodayResult, laws: Mapping[str, Mapping[int, int]]) -> str:
    """Return the line of a count with its forecast."""
    counts: dict[str, Any] = as_json(said.counts)
    found = {
        KIND: VERSION,
        "version": said.ran.version,
        "scenario": said.of.scenario,
        "scenario_hash": said.of.scenario_hash,
        "strategy": said.strategy,
        "seed": said.ran.seed,
        "replications": said.ran.replications,
        "counted": said.counted,
        "counts": counts,
        "ordered_at_least": None if said.ordering is None else said.ordering.least,
        "phone": said.phone,
        "full": {day: [[number, times] for number, times in law.items()] for day, law in laws.items()},
    }
    return json.dumps(found, ensure_ascii=False, separators=(",", ":"))


def add(path: Path, said: TodayResult, laws: Mapping[str, Mapping[int, int]]) -> str:
    """Put a count with its forecast at the end of a log, in place of that of the same count; return what to say.

    Lines that cannot be read stay as they are. Raises OutputError where it cannot be written, O2simError for a
    file that is no log.
    """
    lines = lines_of(path) if path.exists() else []
    if lines and not any(is_log(line) for line in lines):
        raise O2simError(f"{path}: found no line of `o2sim today --log`; allowed: its own log, or a new name")
    kept = [line for line in lines if not _same(line, said)]
    write_text(path, "\n".join([*kept, line_of(said, laws)]) + "\n")
    done, count = "replaced" if len(kept) < len(lines) else "added", len(kept) + 1
    return f"{done} in {path}: {count} line{'' if count == 1 else 's'}"


def read(path: Path) -> tuple[list[Entry], list[str]]:
    """Return the entries of a log in order of time, and what is wrong with its other lines, which are skipped."""
    return entries_of(lines_of(path), str(path))


def entries_of(lines: Iterable[str], path: str) -> tuple[list[Entry], list[str]]:
    """Return the same of the lines of a log. path: what messages call it."""
    found, wrong = [], []
    for number, line in enumerate(lines, 1):
        try:
            found.append(_entry(json.loads(line)))
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
            wrong.append(f"{path}:{number}: skipped, {_why(error)}")
    return sorted(found, key=lambda each: each.counted), wrong


def _why(error: Exception) -> str:
    if isinstance(error, json.JSONDecodeError):
        return "found no JSON; allowed: the lines that --log writes"
    if isinstance(error, KeyError):
        return f"found no {error.args[0]!r}; allowed: the lines that --log writes"
    return f"found {error}" if isinstance(error, _OtherError) else "found a line of another form"


class _OtherError(ValueError):
    """A line that is JSON, but not of this log."""


def lines_of(path: Path) -> list[str]:
    """Return the lines of a log, empty ones left out. Raises O2simError for what is no text, or too large."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise O2simError(
                f"{path}: found a file of over {MOST_BYTES // 1_000_000} MB; allowed: a log of counts"
            )
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise O2simError(f"{path}: found no text in UTF-8; allowed: a log of `o2sim today --log`") from None
    except OSError as error:
        raise OutputError(f"{path}: cannot be read ({error.strerror or error})") from error
    return [line for line in text.splitlines() if line.strip()]


def _entry(found: Any) -> Entry:
    if not isinstance(found, dict) or KIND not in found:
        raise _OtherError("a line of another kind")
    if found[KIND] != VERSION:
        raise _OtherError(f"a log of version {found[KIND]!r}; this o2sim reads {VERSION}")
    laws = {dt.date.fromisoformat(day): _law(law) for day, law in found["full"].items()}
    counted = dt.datetime.fromisoformat(found["counted"])
    if counted.tzinfo is not None:
        raise _OtherError("a count with a time zone")
    return Entry(str(found["scenario"]), counted, _whole(found["counts"]["full"]), laws)


def _law(pairs: Iterable[Iterable[Any]]) -> dict[int, int]:
    found = {_whole(number): _whole(times) for number, times in pairs}
    if not 0 < sum(found.values()) <= 1_000_000:
        raise _OtherError("a forecast of no or too many replications")
    return found


def _whole(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 1_000_000:
        raise _OtherError(f"{value!r}; allowed: a whole number from 0 on")
    return value


def is_log(line: str) -> bool:
    """Return True for what looks like a line of a log, of whatever version."""
    return f'"{KIND}"' in line


def _same(line: str, said: TodayResult) -> bool:
    """Return True for the line of the same count of the same scenario."""
    try:
        found = json.loads(line)
        return (found["scenario"], found["counted"]) == (said.of.scenario, said.counted) and KIND in found
    except (ValueError, KeyError, TypeError, RecursionError):
        return False
