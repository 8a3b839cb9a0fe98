"""A table in, a Parquet file out, where the package that writes it is installed."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from o2sim.errors import OutputError


def require_parquet(path: Path) -> None:
    """Raise OutputError, before any work, where Parquet cannot be written."""
    _library(path)


def write_parquet(path: Path, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    """Write a table: a column of numbers as numbers (empty cells null), any other as texts."""
    library, parquet = _library(path), import_module("pyarrow.parquet")
    data = {}
    for place, column in enumerate(columns):
        cells = [row[place] for row in rows]
        numeric = all(isinstance(cell, int | float) or cell == "" for cell in cells)
        data[column] = (
            [None if cell == "" else cell for cell in cells] if numeric else [str(cell) for cell in cells]
        )
    draft = path.with_name(f".{path.name}.part")
    try:
        parquet.write_table(library.table(data), draft)
        draft.replace(path)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise OutputError(f"{path}: cannot be written ({error.strerror or error})") from error


def _library(path: Path) -> Any:
    try:
        return import_module("pyarrow")
    except ImportError:
        raise OutputError(
            f"{path}: Parquet needs the package pyarrow, which is not installed; install it, or write .csv instead"
        ) from None
