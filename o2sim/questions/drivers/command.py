"""`o2sim drivers`: which uncertain numbers drive the answer, and what is not known told apart from chance."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

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
from o2sim.questions.drivers.settings import DriversSettings
from o2sim.runs import settings as shared

if TYPE_CHECKING:
    from o2sim.questions.drivers.drivers import Drivers


@dataclass(frozen=True)
class Outputs:
    """Who does the work and where it is kept, and what is written where."""

    workers: int | None = shared.workers(None)
    store: Path | None = shared.store()
    csv_file: Path | None = file_setting("Also write every figure to this file.", "--csv")
    chart: Path | None = file_setting("Also draw it: FILE.png or FILE.svg.")
    measure: str = measure_setting("chart shows")
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command()
@file_argument
@click.option(
    "--vary",
    multiple=True,
    help='A field that is not uncertain in the file: "power.grid.down.median = 1 h, 2 h, 6 h" (low, likely, '
    "high); may be repeated.",
)
@options_from(DriversSettings)
@options_from(Outputs, "outputs")
def drivers(file: Path, vary: tuple[str, ...], settings: DriversSettings, outputs: Outputs) -> None:
    """Ask what drives the answer: which of the numbers that nobody knows for sure matter, and how much.

    A number in FILE is uncertain where it is written {low: 1 h, likely: 2 h, high: 6 h}; --vary adds others. All
    values meet the same luck. With an uncertain fleet the levels of the reorder rule move along, unless they are
    uncertain too. With --store a run that is stopped goes on where it was.
    """
    from o2sim.looks.screen import progress_bar
    from o2sim.questions.drivers.drivers import REPLICATIONS
    from o2sim.questions.drivers.drivers import drivers as asked
    from o2sim.questions.drivers.screen import print_drivers
    from o2sim.runs.store_file import open_store

    scenario = load(file, uncertain_too=True)
    check_strategies(scenario, settings.strategies or ())
    _refuse(outputs)
    refuse_unpriced(scenario, outputs.measure, drawn=outputs.chart is not None)
    make_ready(scenario, settings.engine)
    with (
        nullcontext() if outputs.store is None else open_store(outputs.store, "drivers") as opened,
        progress_bar(settings.replications or REPLICATIONS[settings.method]) as progress,
    ):
        run_options = {"workers": outputs.workers, "store": opened}
        done = asked(file, vary, settings=settings, progress=progress, run_options=run_options)
    if outputs.as_json:
        print_json(done.result)
    else:
        print_drivers(done.result)
    _write(done, outputs)  # last, so that a full disk does not cost the answer
    if not done.result["complete"]:
        raise click.exceptions.Exit(STOPPED)


def _refuse(outputs: Outputs) -> None:
    """Refuse, before any work, what could not be written after it."""
    from o2sim.looks.files import require_free

    chart = outputs.chart
    if chart is not None and chart.suffix not in CHARTS:
        raise click.UsageError(f"--chart {chart}: write a name that ends in {' or '.join(CHARTS)}")
    for path in (outputs.csv_file, chart):
        if path is not None:
            require_free(path, outputs.force)


def _write(done: Drivers, outputs: Outputs) -> None:
    """Write the long table and the chart where they were asked for."""
    if outputs.csv_file is not None:
        from o2sim.looks.files import write_csv

        write_csv(outputs.csv_file, done.columns, done.rows())
        click.echo(f"written to {outputs.csv_file}", err=True)
    if outputs.chart is not None:
        from o2sim.looks.drawing import save
        from o2sim.questions.drivers.charts import draw

        save(draw(done.result, outputs.measure), outputs.chart)
        click.echo(f"written to {outputs.chart}", err=True)
