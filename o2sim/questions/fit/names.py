"""What the files of a fit are called: the scenario as asked, its draws and its page beside it."""

from __future__ import annotations

from pathlib import Path


def places_of(path: Path) -> tuple[Path, Path, Path]:
    """Return where the scenario goes, its draws and its page: SCENARIO-draws.csv, SCENARIO-fits.html."""
    return path, path.with_name(f"{path.stem}-draws.csv"), path.with_name(f"{path.stem}-fits.html")


def files_of(path: Path, *, drawn: bool) -> tuple[Path, ...]:
    """Return the files that are written; drawn: whether anything varies, else there is no table of draws."""
    scenario, draws, page = places_of(path)
    return (scenario, draws, page) if drawn else (scenario, page)
