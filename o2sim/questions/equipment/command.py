"""`o2sim equipment`: what to buy for each strategy, and the workshop's year."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from o2sim.commands import places
from o2sim.commands.batch import Workforce, check_strategies, crew_of, leave_if_stopped, run_with_bar
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import file_argument, file_setting, force_setting, json_setting, load, print_json
from o2sim.runs import settings as shared


@dataclass(frozen=True)
class Batch(shared.Strategies):
    """What is run."""

    replications: int = shared.replications(50, "How many times to run the horizon, fixed beforehand.")
    seed: int = shared.seed()
    engine: str = shared.engine()


@dataclass(frozen=True)
class Outputs:
    """What is written where."""

    csv_file: Path | None = file_setting("Also write the lists to this file, to buy from.", "--csv")
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command(short_help="What to buy for each strategy.")
@file_argument
@options_from(Batch)
@options_from(Workforce, "workforce")
@options_from(Outputs, "outputs")
def equipment(file: Path, settings: Batch, workforce: Workforce, outputs: Outputs) -> None:
    """List what each strategy needs at its peak: what to buy, what a year uses up, and the workshop's year.

    Numbers at once (regulators, flowmeters, units ...) are the least that are enough for 99 % of the simulated
    time; every number says where it comes from.
    """
    from o2sim.looks.files import write_csv
    from o2sim.looks.screen import provenance
    from o2sim.questions.equipment import text as report
    from o2sim.questions.equipment.equipment import equipment as listed
    from o2sim.questions.equipment.result import NeededWithCautions
    from o2sim.typed import as_json

    scenario, csv_file = load(file), outputs.csv_file
    strategies, seed, engine = settings.strategies or (), settings.seed, settings.engine
    check_strategies(scenario, strategies)
    places.refuse("--csv", csv_file, outputs.force)
    with crew_of(workforce) as crew:
        study = run_with_bar(
            scenario,
            strategies,
            replications=settings.replications,
            seed=seed,
            engine=engine,
            workforce=workforce,
            crew=crew,
        )
        needed = listed(study, crew if study.complete else None)  # a crew is sent home at a stop
    if outputs.as_json:
        print_json(as_json(NeededWithCautions(needed, report.cautions_for(needed))))
    else:
        done = f"{study.replications:,} replication" + ("s" if study.replications != 1 else "")
        report.print_equipment(needed, provenance(scenario, seed, done, engine))
    if csv_file is not None:
        places.write_all([(csv_file, lambda path: write_csv(path, report.CSV_COLUMNS, report.csv_rows(needed)))])
    leave_if_stopped(study)
