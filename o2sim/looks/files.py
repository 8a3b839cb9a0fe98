"""A study and its summary in, a folder of results out: JSON, CSV, charts and a manifest, never half a file.

Everything is made in a hidden folder beside its place and then renamed. A file that is there already is replaced
only where the folder's own manifest says that o2sim wrote it and it has not been touched since.
"""

from __future__ import annotations

import csv
import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from o2sim.errors import OutputError
from o2sim.measures.result_rows import (
    Cell,
)
from o2sim.scenario.changing.override import Original
from o2sim.scenario.changing.splice import require_readable_in

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def require_free(path: Path, force: bool = False) -> None:
    """Raise OutputError where a file could not be put there: it is there already, or its folder is not.

    force: a file that is there may be overwritten; a folder never.
    """
    if path.is_dir():
        raise OutputError(f"{path}: found a folder; allowed: the name of a file, such as {path / 'out'}")
    if not path.parent.is_dir():
        raise OutputError(f"{path}: found no folder {path.parent}; make it first, or choose another place")
    if not force and (path.exists() or path.is_symlink()):
        raise OutputError(f"{path}: is there already; choose another name, or overwrite it with --force")


def write_text(path: Path, text: str) -> None:
    """Write a text (UTF-8, newline) under a temporary name, then rename it; OutputError where it cannot be."""
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        draft.write_text(text, encoding="utf-8", newline="\n")
        draft.replace(path)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise OutputError(f"{path}: cannot be written ({error.strerror or error})") from error


def require_copy(path: Path, source: Original, force: bool) -> None:
    """Raise OutputError where a copy of a scenario could not be written, or not be read from there."""
    require_free(path, force)
    require_readable_in(source, path.parent)


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a CSV file (UTF-8, comma, newline) under a temporary name, then rename it.

    A text that a spreadsheet would take for a formula gets an apostrophe before it; numbers stay as they are.
    Raises OutputError where it cannot be written.
    """
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with draft.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([_harmless(cell) for cell in columns])
            writer.writerows([_harmless(cell) for cell in row] for row in rows)
        draft.replace(path)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise OutputError(f"{path}: cannot be written ({error.strerror or error})") from error


def _harmless(cell: Cell) -> Cell:
    """Return a cell that no spreadsheet runs: names come from scenario files, which may be anybody's."""
    if not isinstance(cell, str) or not cell.startswith(FORMULA_STARTS):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def slug(name: str) -> str:
    """Return a strategy's name as part of a file name: lower case letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "strategy"
