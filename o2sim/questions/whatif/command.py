"""`o2sim whatif`: all strategies at many values of some fields, and where the best of them changes."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands.batch import check_strategies, make_ready
from o2sim.commands.options import (
    STOPPED,
    Place,
    engine_option,
    file_argument,
    finite,
    force_option,
    load,
    print_json,
    seed_option,
    store_option,
    workers_option,
)

if TYPE_CHECKING:
    from o2sim.questions.whatif.whatif import WhatIf

CHARTS = (".png", ".svg")
TABLES = (".csv", ".parquet")


@click.command()
@file_argument
@click.option(
    "--vary",
    multiple=True,
    required=True,
    help='Field and values: "power.grid.down.median = 1 h, 2 h, 4 h" or "cylinders.fleet = 40..60 step 5"; may be '
    "repeated: all combinations.",
)
@click.option("--strategy", "strategies", multiple=True, help="Only this one; may be repeated. Default: all.")
@click.option("--target", default="5 %", show_default=True, help="Chance of a stock-out that counts as reliable.")
@click.option(
    "--budget",
    type=click.FloatRange(min=0),
    callback=finite,
    help="Money a year within which reliability is compared.",
)
@click.option(
    "--replications",
    type=click.IntRange(1, 1_000_000),
    default=200,
    show_default=True,
    help="How many times to run the horizon at each point.",
)
@click.option(
    "--hold-levels", is_flag=True, help="Reorder point and order-up-to level stay where cylinders.fleet varies."
)
@seed_option
@engine_option
@workers_option
@store_option
@click.option(
    "--table", "tables", type=Place(), multiple=True, help="Also write the long table: FILE.csv or FILE.parquet."
)
@click.option("--heat", type=Place(), help="Also draw a heat map over the first two fields: FILE.png or FILE.svg.")
@click.option(
    "--lines", type=Place(), help="Also draw lines with bands over the first field: FILE.png or FILE.svg."
)
@click.option(
    "--measure",
    type=click.Choice(["chance", "hours", "cost"]),
    default="chance",
    show_default=True,
    help="What the charts show: the chance of a stock-out, hours unserved for want of supply, cost a year.",
)
@force_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
def whatif(
    file: Path,
    vary: tuple[str, ...],
    strategies: tuple[str, ...],
    target: str,
    budget: float | None,
    replications: int,
    hold_levels: bool,
    seed: int,
    engine: str,
    workers: int | None,
    store: Path | None,
    tables: tuple[Path, ...],
    heat: Path | None,
    lines: Path | None,
    measure: str,
    force: bool,
    as_json: bool,
) -> None:
    """Ask what happens to every strategy when something changes, all of them under the same luck.

    Where the best strategy changes, by reliability or by cost, is told with its uncertainty. A field that a
    strategy states for itself is set there too. With cylinders.fleet the levels of the reorder rule move along.
    With --store a what-if that is stopped goes on where it was.
    """
    from o2sim.looks.screen import progress_bar
    from o2sim.quantities.share import share
    from o2sim.questions.whatif.screen import print_whatif
    from o2sim.questions.whatif.whatif import whatif as asked
    from o2sim.runs.store_file import open_store

    scenario = load(file)
    check_strategies(scenario, strategies)
    _refuse(tables, heat, lines, len(vary), force)
    if measure == "cost" and (heat or lines) and not any(each.costs for each in scenario.hospitals.values()):
        raise click.UsageError("--measure cost: the scenario states no prices")
    make_ready(scenario, engine)
    with (
        nullcontext() if store is None else open_store(store, "whatif") as opened,
        progress_bar(replications) as progress,
    ):
        done = asked(
            file,
            vary,
            strategies=strategies or None,
            target=share(target, "target"),
            budget=budget,
            replications=replications,
            seed=seed,
            engine=engine,
            hold_levels=hold_levels,
            progress=progress,
            run_options={"workers": workers, "store": opened},
        )
    if as_json:
        print_json(done.result)
    else:
        print_whatif(scenario, done.result)
    _write(done, tables, heat, lines, measure)  # last, so that a full disk does not cost the answer
    if not done.result["complete"]:
        raise click.exceptions.Exit(STOPPED)


def _refuse(tables: tuple[Path, ...], heat: Path | None, lines: Path | None, fields: int, force: bool) -> None:
    """Refuse, before any work, what could not be written after it."""
    from o2sim.looks.files import require_free
    from o2sim.looks.parquet import require_parquet

    for option, path, suffixes in [
        *(("--table", path, TABLES) for path in tables),
        *((option, path, CHARTS) for option, path in (("--heat", heat), ("--lines", lines)) if path is not None),
    ]:
        if path.suffix not in suffixes:
            raise click.UsageError(f"{option} {path}: write a name that ends in {' or '.join(suffixes)}")
        require_free(path, force)
        if path.suffix == ".parquet":
            require_parquet(path)
    if heat is not None and fields < 2:
        raise click.UsageError("--heat needs two fields: give --vary twice, or ask for --lines")


def _write(done: WhatIf, tables: tuple[Path, ...], heat: Path | None, lines: Path | None, measure: str) -> None:
    """Write the long table and the charts where they were asked for."""
    from o2sim.looks.files import write_csv
    from o2sim.looks.parquet import write_parquet

    for path in tables:
        write: Any = write_csv if path.suffix == ".csv" else write_parquet
        write(path, done.columns, done.rows())
        click.echo(f"written to {path}", err=True)
    if heat is None and lines is None:
        return
    from o2sim.looks.drawing import save
    from o2sim.questions.whatif import charts as whatif_charts

    for path_or_none, draw in ((heat, whatif_charts.heat_map), (lines, whatif_charts.lines)):
        if path_or_none is not None:
            save(draw(done.result, measure), path_or_none)
            click.echo(f"written to {path_or_none}", err=True)
