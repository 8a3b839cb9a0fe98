"""`o2sim trace`: one replication step by step."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from o2sim.commands import places
from o2sim.commands.batch import check_strategies, identity, leave_if_stopped, make_ready, run_with_bar
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import file_argument, file_setting, load, print_json
from o2sim.questions.trace.settings import TraceSettings
from o2sim.runs import settings as shared
from o2sim.settings import setting


@dataclass(frozen=True)
class Search:
    """How the worst is looked for, and what is shown or written of the one that is followed."""

    worst: bool = setting(False, "The one with most unserved patient-hours for lack of supply.")
    replications: int = shared.replications(200, "With --worst: how many to search.")
    full: bool = setting(False, "Every step, not just those around interruptions.")
    csv_file: Path | None = file_setting("Also write every step to this file.", "--csv")
    as_json: bool = setting(False, "Print every step as one JSON object.", flag="--json")


@click.command(short_help="One replication step by step.")
@file_argument
@click.option("--strategy", required=True, help="The strategy to follow.")
@options_from(TraceSettings)
@options_from(Search, "search")
@options_from(shared.Luck, "luck")
def trace(file: Path, strategy: str, settings: TraceSettings, search: Search, luck: shared.Luck) -> None:
    """Follow one replication step by step, to see why someone went without."""
    from o2sim.looks.files import write_csv
    from o2sim.looks.screen import provenance
    from o2sim.questions.trace import timeline
    from o2sim.runs.study import rerun, worst_replication

    if (settings.replication is None) != search.worst:
        raise click.UsageError("give either --replication K or --worst")
    scenario, seed, engine, replication = load(file), luck.seed, luck.engine, settings.replication
    check_strategies(scenario, [strategy])
    places.refuse("--csv", search.csv_file, force=True)
    searched = None
    if replication is None:
        searched = run_with_bar(scenario, [strategy], replications=search.replications, seed=seed, engine=engine)
        replication = worst_replication(searched, strategy)
    make_ready(scenario, engine)
    hospital = scenario.hospitals[strategy]
    log = rerun(scenario, strategy, seed, replication, engine).log
    if search.as_json:
        steps = [dict(zip(timeline.CSV_COLUMNS, row, strict=True)) for row in timeline.csv_rows(hospital, log)]
        which = {"strategy": strategy, "seed": seed, "replication": replication, "engine": engine}
        print_json({**identity(scenario), **which, "steps": steps})
    else:
        click.echo("\n".join(timeline.story(hospital, log, full=search.full)) + "\n")
        click.echo(provenance(scenario, seed, f"{strategy}, replication {replication}", engine))
    if search.csv_file is not None:
        rows = timeline.csv_rows(hospital, log)
        places.write_all([(search.csv_file, lambda path: write_csv(path, timeline.CSV_COLUMNS, rows))])
    leave_if_stopped(searched)
