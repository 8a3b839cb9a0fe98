"""The demo hospitals, copied into the reader's own folder, with what each is and what to do next."""

from __future__ import annotations

import shlex
import tempfile
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from o2sim.errors import O2simError, OutputError
from o2sim.looks import cautions
from o2sim.looks.blocks import Table
from o2sim.looks.screen import Screen
from o2sim.scenario import load
from o2sim.version import __version__

PACKED = "demo_hospitals"  # in the installed package; in a checkout they lie in scenarios/ beside the package
SUFFIXES = (".yaml", ".csv", ".xlsx")
FIRST, TABLE, BASE = "district_hospital.yaml", "province.csv", "health_centre.yaml"
RECORDS = "heron_point_records.xlsx"


def demo_files(package: Traversable | None = None) -> dict[str, bytes]:
    """Return the content of the demo files by name; raise O2simError where this installation has none."""
    package = resources.files("o2sim") if package is None else package
    place = package / PACKED
    if not place.is_dir() and isinstance(package, Path) and (package.parent / "pyproject.toml").is_file():
        place = package.parent / "scenarios"
    each = sorted(place.iterdir(), key=lambda item: item.name) if place.is_dir() else []
    found = {item.name: item.read_bytes() for item in each if item.name.endswith(SUFFIXES)}
    if not found:
        raise O2simError(
            f"{package}: found no demo hospitals; this installation is not whole: install o2sim again"
        )
    return found


def write_demo(folder: Path, force: bool = False) -> dict[str, Any]:
    """Write all demo files into a folder (made if need be), and return what was written and what to do next.

    Raises OutputError where the folder cannot be written, or holds one of the files already (unless force).
    """
    files = demo_files()
    try:
        _require_free(folder, list(files), force)
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".o2sim-", dir=folder) as stage:
            for name, content in files.items():
                (Path(stage) / name).write_bytes(content)
            for name in files:
                (Path(stage) / name).replace(folder / name)
    except OSError as error:
        raise OutputError(f"{folder}: cannot write there ({error.strerror or error})") from error
    paths = (str(folder / name) for name in (FIRST, TABLE, BASE, RECORDS))
    first, table, base, records = (  # never taken for an option
        shlex.quote(f"./{path}" if path.startswith("-") else path) for path in paths
    )
    scenarios = {name: load(folder / name) for name in files if name.endswith(".yaml")}
    return {
        "version": __version__,
        "folder": str(folder),
        "scenarios": [{"file": name, "name": each.name, "about": each.about} for name, each in scenarios.items()],
        "tables": [name for name in files if name.endswith(".csv")],
        "records": [name for name in files if name.endswith(".xlsx")],
        "next": [
            f"o2sim compare {first}",
            f"o2sim study {table} --base {base}",
            f"o2sim records check {records}",
        ],
    }


def _require_free(folder: Path, names: list[str], force: bool) -> None:
    """Raise OutputError where the folder is none, or where one of the names is taken in it."""
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: found a file; allowed: the name of a folder")
    for name in names:
        path = folder / name
        if path.is_dir() and not path.is_symlink():
            raise OutputError(f"{path}: found a folder; move it away, or choose another folder")
        if not force and (path.exists() or path.is_symlink()):
            raise OutputError(f"{path}: is there already; choose another folder, or overwrite it with --force")


def print_demo(written: dict[str, Any]) -> None:
    """Print what was written, what each hospital is, what to do next, a caution and the version."""
    screen = Screen()
    rows = tuple((each["file"], f"{each['name']}: {each['about']}") for each in written["scenarios"])
    note = (
        f"Tables that go with them: {', '.join(written['tables'])}. "
        f"A year of a hospital's records, with the usual gaps: {', '.join(written['records'])}."
    )
    screen.tables([Table(("Scenario", "What it is"), rows, note)])
    said = ("Ways to supply one of them", "Many facilities at once", "What a hospital's records hold")
    steps = [f"{what}: {command}" for what, command in zip(said, written["next"], strict=True)]
    for line in ("What to do next:", *(f"  - {step}" for step in steps), ""):
        screen.console.print(line, soft_wrap=True)  # a command that is broken into two cannot be copied
    screen.paragraph(
        "The hospitals are invented: put in your own figures before deciding anything.", cautions.SHORT[0]
    )
    count = sum(len(written[kind]) for kind in ("scenarios", "tables", "records"))
    screen.console.print(f"o2sim {__version__} | {count} files written to {written['folder']}", soft_wrap=True)
