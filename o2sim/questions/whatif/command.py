"""`o2sim whatif`: all strategies at many values of some fields, and where the best of them changes."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands.batch import check_strategies, make_ready
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import (
    CHARTS,
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
    from o2sim.questions.whatif.whatif import WhatIf

TABLES = (".csv", ".parquet")


@dataclass(frozen=True)
class Outputs:
    """Who does the work and where it is kept, and what is written where."""

    workers: int | None = shared.workers(None)
    store: Path | None = shared.store()
    tables: tuple[Path, ...] = file_setting(
        "Also write the long table: FILE.csv or FILE.parquet.", "--table", multiple=True
    )
    heat: Path | None = file_setting("Also draw a heat map over the first two fields: FILE.png or FILE.svg.")
    lines: Path | None = file_setting("Also draw lines with bands over the first field: FILE.png or FILE.svg.")
    measure: str = measure_setting("charts show")
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command()
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
    from o2sim.looks.screen import progress_bar
    from o2sim.questions.whatif.screen import print_whatif
    from o2sim.questions.whatif.whatif import whatif as asked
    from o2sim.runs.store_file import open_store

    scenario = load(file)
    check_strategies(scenario, settings.strategies or ())
    _refuse(outputs, len(vary))
    refuse_unpriced(scenario, outputs.measure, drawn=bool(outputs.heat or outputs.lines))
    make_ready(scenario, settings.engine)
    with (
        nullcontext() if outputs.store is None else open_store(outputs.store, "whatif") as opened,
        progress_bar(settings.replications) as progress,
    ):
        run_options = {"workers": outputs.workers, "store": opened}
        done = asked(file, vary, settings=settings, progress=progress, run_options=run_options)
    if outputs.as_json:
        print_json(done.result)
    else:
        print_whatif(scenario, done.result)
    _write(done, outputs)  # last, so that a full disk does not cost the answer
    if not done.result["complete"]:
        raise click.exceptions.Exit(STOPPED)


def _refuse(outputs: Outputs, fields: int) -> None:
    """Refuse, before any work, what could not be written after it."""
    from o2sim.looks.files import require_free, require_parquet

    drawn = (("--heat", outputs.heat), ("--lines", outputs.lines))
    for option, path, suffixes in [
        *(("--table", path, TABLES) for path in outputs.tables),
        *((option, path, CHARTS) for option, path in drawn if path is not None),
    ]:
        if path.suffix not in suffixes:
            raise click.UsageError(f"{option} {path}: write a name that ends in {' or '.join(suffixes)}")
        require_free(path, outputs.force)
        if path.suffix == ".parquet":
            require_parquet(path)
    if outputs.heat is not None and fields < 2:
        raise click.UsageError("--heat needs two fields: give --vary twice, or ask for --lines")


def _write(done: WhatIf, outputs: Outputs) -> None:
    """Write the long table and the charts where they were asked for."""
    from o2sim.looks.files import write_csv, write_parquet

    for path in outputs.tables:
        write: Any = write_csv if path.suffix == ".csv" else write_parquet
        write(path, done.columns, done.rows())
        click.echo(f"written to {path}", err=True)
    if outputs.heat is None and outputs.lines is None:
        return
    from o2sim.looks.drawing import save
    from o2sim.questions.whatif import charts as whatif_charts

    for place, draw in ((outputs.heat, whatif_charts.heat_map), (outputs.lines, whatif_charts.lines)):
        if place is not None:
            save(draw(done.result, outputs.measure), place)
            click.echo(f"written to {place}", err=True)
