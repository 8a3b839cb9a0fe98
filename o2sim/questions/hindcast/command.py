"""`o2sim hindcast`: does the scenario match what was recorded?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

import click

from o2sim.commands import places
from o2sim.commands.batch import check_strategies, make_ready
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import (
    MISUSED,
    OK,
    STOPPED,
    file_argument,
    file_setting,
    force_setting,
    json_setting,
    load,
    print_json,
)
from o2sim.commands.reading import Place
from o2sim.questions.hindcast.settings import HindcastSettings


@dataclass(frozen=True)
class Outputs:
    """What is written where."""

    out: Path | None = file_setting(
        "Also write a page with pictures, the JSON and the stock card into this folder."
    )
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command(short_help="Does it match last year?")
@file_argument
@click.argument("records", type=Place())
@options_from(HindcastSettings)
@options_from(Outputs, "outputs")
def hindcast(file: Path, records: Path, settings: HindcastSettings, outputs: Outputs) -> int:
    """Lay what FILE, a scenario, forecasts beside what RECORDS, a filled workbook or a folder of CSV files, hold.

    Recorded patients, power cuts and deliveries are put in; what else happened is simulated and compared:
    cylinders used from count to count, bare shelves, patients at midnight. It says whether the scenario may be
    trusted, for what, and which number to doubt.
    """
    from o2sim.looks.screen import progress_bar
    from o2sim.questions.hindcast.folder import NAMES, write_folder
    from o2sim.questions.hindcast.hindcast import hindcast as ask
    from o2sim.questions.hindcast.stays import UnfitRecordsError
    from o2sim.questions.hindcast.text import print_hindcast
    from o2sim.records.reading import read_records
    from o2sim.typed import as_json

    scenario, books = load(file), read_records(records)
    check_strategies(scenario, [settings.strategy] if settings.strategy else ())
    places.refuse_folder("--out", outputs.out, NAMES, outputs.force)
    try:
        with progress_bar(settings.replications) as progress:
            make_ready(scenario, settings.engine)
            said = ask(scenario, books, settings=settings, progress=progress).record
    except UnfitRecordsError as error:
        click.echo(f"Error: {records.name}: {error}", err=True)
        return MISUSED
    if outputs.as_json:
        print_json(as_json(said))
    else:
        print_hindcast(said, outputs.out)
    if outputs.out is not None:
        places.write_all([(outputs.out, partial(write_folder, said=said))])
    if said.ran.replications < settings.replications:
        click.echo(f"Stopped after {said.ran.replications} of {settings.replications} replications.", err=True)
        return STOPPED
    return OK
