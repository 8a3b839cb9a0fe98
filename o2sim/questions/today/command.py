"""`o2sim today`: will it last until the lorry comes, and what is to be ordered today?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import click

from o2sim.commands import places
from o2sim.commands.batch import check_strategies, make_ready
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import OK, STOPPED, file_setting, force_setting, json_setting, load, print_json
from o2sim.questions.today.settings import TodaySettings
from o2sim.settings import setting

PAGES = (".html", ".htm")
ROUNDS = 4  # runs with all replications that are reckoned with, for the bar


@dataclass(frozen=True)
class Counted:
    """Where the count comes from, in place of a section `now` of the scenario."""

    count: str | None = setting(
        None,
        'What was counted, such as "full 7, empty 12, on order 10 since 2027-04-29".',
        metavar="TEXT",
    )
    records: Path | None = setting(
        None, "A workbook of records with the sheets of today, in place of --count.", metavar="FILE", reads="place"
    )


@dataclass(frozen=True)
class Outputs:
    """What is written where."""

    log: Path | None = file_setting("Add the count and its forecast to this file, a line each.")
    review: bool = setting(False, "Say how good the forecasts of --log were, by the counts that came later.")
    out: Path | None = file_setting("Also write a page with the drawing, the JSON and the days into this folder.")
    sheet: Path | None = file_setting("Also write one A4 sheet to hang up: FILE.html.")
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command(short_help="Will it last until the lorry comes? What to order today?")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@options_from(Counted, "counted")
@options_from(TodaySettings)
@options_from(Outputs, "outputs")
def today(file: Path | None, counted: Counted, settings: TodaySettings, outputs: Outputs) -> int:
    """Say whether what was counted lasts until the lorry comes, and what to order today.

    FILE is a scenario; the count is its section now, --count or --records. From the count on what may come is
    simulated: by each day the chance that the shelf is bare and that somebody goes without, with the least order
    that is enough. `o2sim today --log FILE --review` looks back at what was forecast.
    """
    if outputs.review:
        return _review(file, outputs)
    if file is None:
        raise click.UsageError("name a scenario, such as: o2sim today ours.yaml; or --log FILE --review")
    from o2sim.looks.screen import progress_bar
    from o2sim.questions.today import log
    from o2sim.questions.today.count import counted_scenario, given
    from o2sim.questions.today.folder import NAMES, write_folder
    from o2sim.questions.today.sheet import write_sheet
    from o2sim.questions.today.text import print_today
    from o2sim.questions.today.today import today as ask
    from o2sim.typed import as_json

    scenario = load(file)
    check_strategies(scenario, [settings.strategy] if settings.strategy else ())
    scenario = counted_scenario(scenario, given(counted.count, counted.records), settings.on)
    places.refuse_folder("--out", outputs.out, NAMES, outputs.force)
    places.refuse("--sheet", outputs.sheet, outputs.force, PAGES)
    places.refuse("--log", outputs.log, force=True)
    with progress_bar(ROUNDS * settings.replications) as progress:
        make_ready(scenario, settings.engine)
        found = ask(scenario, settings=settings, progress=progress)
    said = found.record
    if outputs.as_json:
        print_json(as_json(said))
    else:
        print_today(said, outputs.out)
    places.write_all(_jobs(outputs, partial(write_folder, said=said), partial(write_sheet, said=said),
                           partial(log.add, said=said, laws=found.full)))  # fmt: skip
    if not said.complete:
        done = f"{said.ran.replications:,} replications of the forecast"
        click.echo(f"Stopped after {done}; what was not worked out is not shown.", err=True)
        return STOPPED
    return OK


def _jobs(outputs: Outputs, *writers: Callable[[Path], object]) -> list[places.Job]:
    wanted = zip((outputs.out, outputs.sheet, outputs.log), writers, strict=True)
    return [(path, write) for path, write in wanted if path is not None]


def _review(file: Path | None, outputs: Outputs) -> int:
    """Say how good the forecasts of a log were."""
    if file is not None or outputs.log is None:
        raise click.UsageError("--review looks at a log alone: o2sim today --log FILE --review")
    if outputs.out is not None or outputs.sheet is not None:
        raise click.UsageError("--review writes nothing: leave out --out and --sheet")
    from o2sim.looks.screen import Screen
    from o2sim.questions.today import log
    from o2sim.questions.today.review import content, review
    from o2sim.typed import as_json

    found = review(*log.read(outputs.log))
    if outputs.as_json:
        print_json(as_json(found))
    else:
        Screen().show(content(found))
    return OK
