"""`o2sim equipment`: what to buy for each strategy, and the workshop's year."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from o2sim.commands.batch import (
    Workforce,
    check_strategies,
    kept_crew,
    leave_if_stopped,
    run_with_bar,
    workforce_options,
)
from o2sim.commands.options import Place, engine_option, file_argument, force_option, load, print_json, seed_option


@click.command()
@file_argument
@click.option("--strategy", "strategies", multiple=True, help="Only this one; may be repeated. Default: all.")
@click.option(
    "--replications",
    type=click.IntRange(1, 1_000_000),
    default=50,
    show_default=True,
    help="How many times to run the horizon, fixed beforehand.",
)
@seed_option
@engine_option
@workforce_options
@click.option("--csv", "csv_file", type=Place(), help="Also write the lists to this file, to buy from.")
@force_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
def equipment(
    file: Path,
    strategies: tuple[str, ...],
    replications: int,
    seed: int,
    engine: str,
    csv_file: Path | None,
    force: bool,
    as_json: bool,
    **workforce: Any,
) -> None:
    """List what each strategy needs at its peak: what to buy, what a year uses up, and the workshop's year.

    Numbers at once (regulators, flowmeters, units ...) are the least that are enough for 99 % of the simulated
    time; every number says where it comes from.
    """
    from o2sim.looks.files import require_free, write_csv
    from o2sim.looks.screen import provenance
    from o2sim.questions.equipment import text as report
    from o2sim.questions.equipment.equipment import equipment as listed

    scenario = load(file)
    check_strategies(scenario, strategies)
    if csv_file is not None:
        require_free(csv_file, force)  # before the work, not after it
    asked = Workforce(**workforce)
    with kept_crew(asked) as crew:
        study = run_with_bar(scenario, strategies, replications, seed, engine, asked, crew=crew)
        result = listed(study, crew if study.complete else None)  # a crew is sent home at a stop
    if csv_file is not None:
        write_csv(csv_file, report.CSV_COLUMNS, report.csv_rows(result))
    if as_json:
        print_json({**result, "cautions": report.cautions_for(result)})
    else:
        done = f"{study.replications:,} replication" + ("s" if study.replications != 1 else "")
        report.print_equipment(result, provenance(scenario, seed, done, engine))
    leave_if_stopped(study)
