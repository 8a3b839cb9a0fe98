"""Where commands write: every place is looked at before the work, and one that fails at the end costs no other.

What was computed is printed before anything is written, so that a disk that is full by then does not cost it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from pathlib import Path

import click

from o2sim.errors import OutputError

CHARTS = (".png", ".svg")
TABLES = (".csv", ".parquet")
Job = tuple[Path, Callable[[Path], object]]  # where to write, and what writes there


def refuse(option: str, path: Path | None, force: bool, ends: Collection[str] = ()) -> None:
    """Refuse, before any work, a file that could not be written after it; ends: how its name may end.

    Raises a usage error for the name, OutputError for the place.
    """
    from o2sim.looks.files import require_free, require_parquet

    if path is None:
        return
    suffix = path.suffix.lower()
    if ends and suffix not in ends:
        *first, last = ends
        allowed = f"{', '.join(first)} or {last}" if first else last
        raise click.UsageError(f"{option} {path}: write a name that ends in {allowed}")
    require_free(path, force)
    if ".parquet" in ends and suffix == ".parquet":
        require_parquet(path)


def refuse_folder(option: str, folder: Path | None, names: Collection[str], force: bool) -> None:
    """Refuse, before any work, a folder that could not be made, or in which files of these names could not be."""
    from o2sim.looks.files import require_free, require_room

    if folder is None:
        return
    if folder.exists() and not folder.is_dir():
        raise click.UsageError(f"{option} {folder}: that is a file; name a folder")
    if not folder.is_dir():
        require_room(folder)
        return
    for name in names:
        require_free(folder / name, force)


def write_all(jobs: Iterable[Job]) -> None:
    """Write to each place and say so on stderr, in the words that the writer returns if it returns a text.

    Raises OutputError at the end with all that could not be written.
    """
    failures = []
    for path, write in jobs:
        try:
            said = write(path)
        except OutputError as error:
            failures.append(str(error))
        except OSError as error:
            failures.append(f"{path}: cannot be written ({error.strerror or error})")
        else:
            click.echo(said if isinstance(said, str) else f"written to {path}", err=True)
    if failures:
        raise OutputError("\n".join(failures))
