"""`o2sim drivers`: which uncertain numbers drive the answer, and how much is unknown rather than chance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from o2sim.commands.batch import check_strategies, joint_of
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import (
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
from o2sim.questions.whatif.command import points_run, refuse_places, write_and_leave
from o2sim.runs import settings as shared


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


@click.command(short_help="Which uncertain numbers matter most.")
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
    from o2sim.questions.drivers.content import print_drivers
    from o2sim.questions.drivers.drivers import REPLICATIONS
    from o2sim.questions.drivers.drivers import drivers as ask

    def draw(_: str) -> Any:
        from o2sim.questions.drivers import charts

        return charts.draw(done.answers, outputs.measure)

    scenario = load(file, uncertain_too=True)
    check_strategies(scenario, settings.strategies or ())
    refuse_places([("--chart", outputs.chart), ("--csv", outputs.csv_file)], outputs.force)
    refuse_unpriced(scenario, outputs.measure, drawn=outputs.chart is not None)
    if settings.draws is not None:
        from o2sim.questions.drivers import joint_rows

        joint_rows.check(settings, vary)
        settings = replace(settings, draws=joint_of(settings.draws, scenario))
    replications = settings.replications or REPLICATIONS[settings.method]
    with points_run("drivers", scenario, settings.engine, outputs, replications) as how:
        done = ask(file, vary, settings=settings, **how)
    if outputs.as_json:
        print_json(done.result)
    else:
        print_drivers(done.answers)
    write_and_leave(done, filter(None, [outputs.csv_file]), {"--chart": outputs.chart}, draw)
