"""Files of text, CSV and Parquet, never half of one: each is written under a temporary name and then renamed."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from o2sim.errors import OutputError
from o2sim.scenario.changing.override import Original
from o2sim.scenario.changing.splice import require_readable_in

if TYPE_CHECKING:  # which would load the engine
    from o2sim.measures.result_rows import Cell

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def require_free(path: Path, force: bool = False) -> None:
    """Raise OutputError where a file could not be put there: it is there already, or its folder is not.

    force: a file that is there may be overwritten; a folder or a device never. A file is put there for a moment:
    what a system says of its permissions is not all there is to it.
    """
    try:
        if path.is_dir():
            raise OutputError(f"{path}: found a folder; allowed: the name of a file, such as {path / 'out'}")
        if not path.parent.is_dir():
            raise OutputError(f"{path}: found no folder {path.parent}; make it first, or choose another place")
        if not force and (path.exists() or path.is_symlink()):
            raise OutputError(f"{path}: is there already; choose another name, or overwrite it with --force")
        if path.exists() and not path.is_file():
            raise OutputError(f"{path}: found no regular file; choose another name")
        _try_out(_draft(path))
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise OutputError(f"{path}: cannot be written ({getattr(error, 'strerror', None) or error})") from error


def require_room(folder: Path) -> None:
    """Raise OutputError where a folder that is not there could not be made, or written in."""
    above = folder
    while not above.exists() and above != above.parent:
        above = above.parent
    try:
        if not above.is_dir():
            raise OutputError(f"{folder}: {above} is a file; choose another place")
        _try_out(_draft(above / folder.name))
    except (OSError, ValueError) as error:
        raise OutputError(f"{folder}: cannot be made ({getattr(error, 'strerror', None) or error})") from error


def _draft(path: Path) -> Path:
    """Return the name under which a file is written before it is renamed."""
    return path.with_name(f".{path.name}.{os.getpid()}.part")


def _try_out(path: Path) -> None:
    """Make a file and remove it. Raises OSError where it cannot be."""
    path.touch()
    path.unlink()


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a temporary name to write under, and rename it at the end; OutputError where it cannot be written."""
    draft = _draft(path)
    try:
        yield draft
        draft.replace(path)
    except OSError as error:
        with suppress(OSError):  # the folder may have gone
            draft.unlink(missing_ok=True)
        raise OutputError(f"{path}: cannot be written ({error.strerror or error})") from error


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file under a temporary name, then rename it; OutputError where it cannot be."""
    with replacing(path) as draft:
        draft.write_bytes(content)


def write_together(contents: Mapping[Path, bytes]) -> None:
    """Write several files, all or none: each under a temporary name, renamed in order when all are on the disk.

    Raises OutputError where one cannot be written.
    """
    drafts = {path: _draft(path) for path in contents}
    at = next(iter(contents), Path())
    try:
        for at, content in contents.items():
            drafts[at].write_bytes(content)
        for at, draft in drafts.items():
            draft.replace(at)
    except OSError as error:
        raise OutputError(f"{at}: cannot be written ({error.strerror or error})") from error
    finally:  # after Ctrl-C too
        for draft in drafts.values():
            with suppress(OSError):  # the folder may have gone
                draft.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write a text (UTF-8, newline) under a temporary name, then rename it; OutputError where it cannot be."""
    write_bytes(path, text.encode())


def require_copy(path: Path, source: Original, force: bool) -> None:
    """Raise OutputError where a copy of a scenario could not be written, or not be read from there."""
    require_free(path, force)
    require_readable_in(source, path.parent)


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a CSV file (UTF-8, comma, newline) under a temporary name, then rename it.

    A text that a spreadsheet would take for a formula gets an apostrophe before it; numbers stay as they are.
    Raises OutputError where it cannot be written.
    """
    with replacing(path) as draft, draft.open("w", encoding="utf-8", newline="") as file:
        write_rows(file, [columns])
        write_rows(file, rows)


def csv_bytes(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Return a CSV file as write_csv writes it."""
    file = io.StringIO(newline="")
    write_rows(file, [columns])
    write_rows(file, rows)
    return file.getvalue().encode()


def write_rows(file: TextIO, rows: Iterable[Sequence[Cell]]) -> None:
    """Write rows of CSV into an open file, as write_csv does."""
    writer = csv.writer(file, lineterminator="\n")
    writer.writerows([_harmless(cell) for cell in row] for row in rows)


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


def write_parquet(path: Path, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    """Write a table: a column of numbers as numbers (empty cells null), any other as texts."""
    library, parquet = require_parquet(path), import_module("pyarrow.parquet")
    data = {}
    for place, column in enumerate(columns):
        cells = [row[place] for row in rows]
        numeric = all(isinstance(cell, int | float) or cell == "" for cell in cells)
        data[column] = (
            [None if cell == "" else cell for cell in cells] if numeric else [str(cell) for cell in cells]
        )
    with replacing(path) as draft:
        parquet.write_table(library.table(data), draft)


def require_parquet(path: Path) -> Any:
    """Return the package that writes Parquet. Raises OutputError, before any work, where it is not installed."""
    try:
        return import_module("pyarrow")
    except ImportError:
        raise OutputError(
            f"{path}: Parquet needs the package pyarrow, which is not installed; install it, or write .csv instead"
        ) from None
