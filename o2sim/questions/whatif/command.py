"""`o2sim whatif`: all strategies at many values of some fields, and where the best of them changes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands import places
from o2sim.commands.batch import check_strategies, make_ready
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import (
    STOPPED,
    file_argument,
    file_setting,
    force_setting,
    json_setting,
    load,
    measure_setting,
    print_json,
    refuse_unpriced,
)
from o2sim.questions.whatif.settings import WhatIfSettings
from o2sim.runs import settings as shared

if TYPE_CHECKING:
    from o2sim.runs.run_store import Kind
    from o2sim.scenario.types.hospital import Scenario

SUFFIXES = {"--table": places.TABLES, "--csv": ()}  # of other places, those of a chart


@dataclass(frozen=True)
class Outputs:
    """Who does the work and where it is kept, and what is written where."""

    workers: int | None = shared.workers(None)
    store: Path | None = shared.store()
    tables: tuple[Path, ...] = file_setting(
        "Also write the long table: FILE.csv or FILE.parquet.", "--table", multiple=True
    )
    heat: Path | None = file_setting("Also draw a heat map over the first two fields: FILE.png or FILE.svg.")
    lines: Path | None = file_setting(
        "Also draw lines with bands over the first field, a panel for each setting of the others: FILE.png or "
        "FILE.svg."
    )
    measure: str = measure_setting("charts show")
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command(short_help="What if something gets worse, or better.")
@file_argument
@click.option(
    "--vary",
    multiple=True,
    required=True,
    help='Field and values: "power.grid.down.median = 1 h, 2 h, 4 h" or "cylinders.fleet = 40..60 step 5"; may be '
    "repeated: all combinations.",
)
@options_from(WhatIfSettings)
@options_from(Outputs, "outputs")
def whatif(file: Path, vary: tuple[str, ...], settings: WhatIfSettings, outputs: Outputs) -> None:
    """Ask what happens to every strategy when something changes, all of them under the same luck.

    Where the best strategy changes, by reliability or by cost, is shown with its uncertainty. A field that a
    strategy states for itself is set there too. With cylinders.fleet the levels of the reorder rule move along.
    With --store a what-if that is stopped goes on where it was.
    """
    from o2sim.questions.whatif.text import print_whatif
    from o2sim.questions.whatif.whatif import whatif as ask

    def draw(of: str) -> Any:
        from o2sim.questions.whatif import charts, line_charts

        return (charts.heat_map if of == "--heat" else line_charts.lines)(done.result, outputs.measure)

    scenario = load(file)
    check_strategies(scenario, settings.strategies or ())
    drawn = {"--heat": outputs.heat, "--lines": outputs.lines}
    refuse_places([*(("--table", path) for path in outputs.tables), *drawn.items()], outputs.force)
    if outputs.heat is not None and len(vary) < 2:
        raise click.UsageError("--heat needs two fields: give --vary twice, or ask for --lines")
    if outputs.lines is not None:
        from o2sim.questions.whatif.line_charts import panels_of
        from o2sim.questions.whatif.whatif import asked_for

        panels_of([each.values for each in asked_for(vary)[0]])
    refuse_unpriced(scenario, outputs.measure, drawn=any(drawn.values()))
    with points_run("whatif", scenario, settings.engine, outputs, settings.replications) as how:
        done = ask(file, vary, settings=settings, **how)
    if outputs.as_json:
        print_json(done.result)
    else:
        given = {**drawn, "--table": outputs.tables or None}
        print_whatif(scenario, done.result, [option for option, place in given.items() if place is not None])
    write_and_leave(done, outputs.tables, drawn, draw)


@contextmanager
def points_run(
    kind: Kind, scenario: Scenario, engine: str, outputs: Any, replications: int
) -> Iterator[dict[str, Any]]:
    """Give progress and run_options to a question that runs points: a bar, and the store if there is one."""
    from o2sim.looks.screen import progress_bar
    from o2sim.runs.store_file import open_store

    with (
        nullcontext() if outputs.store is None else open_store(outputs.store, kind) as store,
        progress_bar(replications) as progress,
    ):
        make_ready(scenario, engine)
        yield {"progress": progress, "run_options": {"workers": outputs.workers, "store": store}}


def refuse_places(asked: Iterable[tuple[str, Path | None]], force: bool) -> None:
    """Refuse, before any work, what could not be written after it; each place with its option."""
    for option, path in asked:
        places.refuse(option, path, force, SUFFIXES.get(option, places.CHARTS))


def write_and_leave(
    done: Any, tables: Iterable[Path], drawn: Mapping[str, Path | None], draw: Callable[[str], Any]
) -> None:
    """Write tables and drawings, last, so that a full disk does not cost the answer; leave with 130 if stopped."""

    def write_table(path: Path) -> None:
        from o2sim.looks.files import write_csv, write_parquet

        write: Any = write_parquet if path.suffix.lower() == ".parquet" else write_csv
        write(path, done.columns, done.rows())

    def write_drawing(option: str, path: Path) -> None:
        from o2sim.looks.drawing import save

        save(draw(option), path)

    drawings = ((path, partial(write_drawing, option)) for option, path in drawn.items() if path is not None)
    places.write_all([*((path, write_table) for path in tables), *drawings])
    if not done.result["complete"]:
        raise click.exceptions.Exit(STOPPED)
