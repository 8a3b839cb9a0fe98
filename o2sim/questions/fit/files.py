"""The three files of a fit, all of them or none: the scenario, the table of draws, the page of pictures."""

from __future__ import annotations

from pathlib import Path

from o2sim.looks.files import csv_bytes, require_copy, require_free, write_together
from o2sim.questions.fit.fitting import Fit
from o2sim.questions.fit.names import files_of, places_of
from o2sim.scenario.changing.override import Original
from o2sim.shown import scenario_copy


def require_places(path: Path, base: Original | None, force: bool) -> None:
    """Raise OutputError where a file could not be written, or the base's own files not be found from there."""
    for place in places_of(path):
        require_free(place, force)
    if base is not None:
        require_copy(path, base, force)


@scenario_copy.register
def _fit_copy(found: Fit, path: Path, force: bool) -> Path:
    return write_fit(found, path, force)[0]


def write_fit(found: Fit, path: Path, overwrite: bool) -> tuple[Path, ...]:
    """Write a fit; return its paths. Raises OutputError where one cannot be written; then none is."""
    from o2sim.questions.fit.page import page

    require_places(path, found.base.source if found.base.file else None, overwrite)
    scenario, draws, pictures = places_of(path)
    contents = {
        pictures: page(found, scenario.name).encode("utf-8", "replace"),
        draws: csv_bytes(found.table.columns, found.table.rows),
        scenario: found.text.encode(),  # last: where it is, the others are
    }
    written = files_of(path, drawn=len(found.table) > 0)
    write_together({place: content for place, content in contents.items() if place in written})
    return written
