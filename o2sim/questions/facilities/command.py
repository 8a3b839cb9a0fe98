"""`o2sim study`: many facilities, each with its strategies."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import click

from o2sim.commands import places
from o2sim.commands.batch import Elsewhere, Workforce, crew_of, make_ready
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import STOPPED, file_setting, force_setting, json_setting, print_json
from o2sim.questions.facilities.settings import FacilitySettings
from o2sim.runs import settings as shared

if TYPE_CHECKING:
    from o2sim.scenario.changing.facilities import Facility

WARNINGS_TOLD = 5


@dataclass(frozen=True)
class Beyond(Elsewhere):
    """Whose workers do it, and where what is finished is kept."""

    store: Path | None = shared.store()


@dataclass(frozen=True)
class Outputs:
    """What is written where."""

    csv_file: Path | None = file_setting("Also write one row a facility and strategy to this file.", "--csv")
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command(short_help="Many facilities, each a row of a table.")
@click.argument("facilities", type=click.Path(path_type=Path))
@click.option(
    "--base",
    type=click.Path(path_type=Path),
    help="The scenario that the rows of a CSV override; its columns are keys such as cylinders.fleet.",
)
@options_from(FacilitySettings, after={"workers": options_from(Beyond, "beyond")})
@options_from(Outputs, "outputs")
def study(
    facilities: Path, base: Path | None, settings: FacilitySettings, beyond: Beyond, outputs: Outputs
) -> None:
    """Run many facilities: chance of a supply shortfall, unserved patient-hours and cost under each strategy.

    FACILITIES is a folder of scenario files, or a CSV with a row for each facility: a column `name`, and columns
    named by keys of the scenario given with --base, whose values they override. Facilities meet the same luck as
    far as they are alike. With --store a run that is stopped goes on where it was.
    """
    from o2sim.looks.both_doubts import notes
    from o2sim.looks.files import write_csv
    from o2sim.looks.screen import progress_bar
    from o2sim.questions.facilities import tables
    from o2sim.questions.facilities.facility_study import Plan, finished, sound_facilities, study_result
    from o2sim.questions.facilities.joint_tally import joints_of
    from o2sim.runs.store_file import open_store
    from o2sim.scenario.changing.facilities import read_facilities

    csv_file, strategies = outputs.csv_file, settings.strategies or ()
    places.refuse("--csv", csv_file, outputs.force)
    read = read_facilities(facilities, base, settings.dialect)
    sound, problems, bad = sound_facilities(read, strategies, settings.skip_bad)
    if problems:
        click.echo("\n".join(tables.problem_lines(problems, bad)), err=True)
    _warn(sound, likely_too=settings.draws is None)
    joints = joints_of(sound, settings.draws, base)
    if joints:
        click.echo("\n".join(dict.fromkeys(chain.from_iterable(map(notes, joints)))), err=True)
    plan = Plan(sound, settings.replications, settings.seed, settings.engine, strategies or None, joints)
    with (
        nullcontext() if beyond.store is None else open_store(beyond.store, "study") as store,
        progress_bar(plan.total) as progress,
    ):
        make_ready(sound[0].scenario, settings.engine)
        found, stopped = finished(plan, crew_of(Workforce(settings.workers, beyond.cluster)), store, progress)
    result = study_result(plan, found)
    if outputs.as_json:
        print_json(result)
    else:
        tables.print_facilities(result)
    if csv_file is not None:
        places.write_all(
            [(csv_file, lambda path: write_csv(path, tables.csv_columns(result), tables.csv_rows(result)))]
        )
    if stopped:
        click.echo(f"Stopped after {len(found)} of {len(sound)} facilities; only those are reported.", err=True)
        raise click.exceptions.Exit(STOPPED)


def _warn(facilities: Sequence[Facility], likely_too: bool) -> None:
    """Report the doubtful points of all facilities on stderr, each once, and that likely values are taken."""
    from o2sim.looks.doubt import likely_note
    from o2sim.scenario import warnings

    likely = [likely_note(facility.scenario) for facility in facilities] if likely_too else []
    for said in dict.fromkeys(filter(None, likely)):
        click.echo(said, err=True)

    doubts: dict[str, list[str]] = {}
    for facility in facilities:
        for problem in warnings(facility.scenario):
            doubts.setdefault(f"{problem.field}: {problem.found}", []).append(facility.scenario.name)
    for said, names in list(doubts.items())[:WARNINGS_TOLD]:
        others = f" and {len(names) - 1} more" if len(names) > 1 else ""
        click.echo(f"Warning: {said} ({names[0]}{others})", err=True)
    if len(doubts) > WARNINGS_TOLD:
        click.echo(f"Warning: {len(doubts) - WARNINGS_TOLD} more points are doubtful", err=True)
