"""`o2sim drivers`: which uncertain numbers drive the answer, and what is not known told apart from chance."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

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
    from o2sim.questions.drivers.drivers import Drivers

CHARTS = (".png", ".svg")


@click.command()
@file_argument
@click.option(
    "--vary",
    multiple=True,
    help='A field that is not uncertain in the file: "power.grid.down.median = 1 h, 2 h, 6 h" (low, likely, '
    "high); may be repeated.",
)
@click.option(
    "--method",
    type=click.Choice(["one-at-a-time", "nested", "morris", "sobol"]),
    default="one-at-a-time",
    show_default=True,
    help="Each number at its two ends; draws of all together, with chance told apart and the worth of knowing "
    "more; Morris's screening; Sobol's shares of variance (these two need SALib).",
)
@click.option("--strategy", "strategies", multiple=True, help="Only this one; may be repeated. Default: all.")
@click.option("--target", default="5 %", show_default=True, help="Chance of a stock-out that counts as reliable.")
@click.option(
    "--budget", type=click.FloatRange(min=0), callback=finite, help="With nested: money a year the best may cost."
)
@click.option(
    "--worth",
    type=click.FloatRange(min=0),
    callback=finite,
    help="With nested: what a year without a stock-out is worth.",
)
@click.option(
    "--law",
    type=click.Choice(["pert", "triangular", "uniform"]),
    default="pert",
    show_default=True,
    help="How likely values between low and high are (nested and sobol).",
)
@click.option(
    "--samples",
    type=click.IntRange(2, 100_000),
    help="Draws (nested, 128), trajectories (morris, 10) or base points (sobol, 32).",
)
@click.option(
    "--replications",
    type=click.IntRange(1, 1_000_000),
    help="How many times to run the horizon at each point. Default: 200; nested 100; morris and sobol 50.",
)
@click.option(
    "--hold-levels", is_flag=True, help="Reorder point and order-up-to level stay where the fleet is uncertain."
)
@seed_option
@engine_option
@workers_option
@store_option
@click.option("--csv", "csv_file", type=Place(), help="Also write every figure to this file.")
@click.option("--chart", type=Place(), help="Also draw it: FILE.png or FILE.svg.")
@click.option(
    "--measure",
    type=click.Choice(["chance", "hours", "cost"]),
    default="chance",
    show_default=True,
    help="What the chart shows: the chance of a stock-out, hours unserved for want of supply, cost a year.",
)
@force_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
def drivers(
    file: Path,
    vary: tuple[str, ...],
    method: str,
    strategies: tuple[str, ...],
    target: str,
    budget: float | None,
    worth: float | None,
    law: str,
    samples: int | None,
    replications: int | None,
    hold_levels: bool,
    seed: int,
    engine: str,
    workers: int | None,
    store: Path | None,
    csv_file: Path | None,
    chart: Path | None,
    measure: str,
    force: bool,
    as_json: bool,
) -> None:
    """Ask what drives the answer: which of the numbers that nobody knows for sure matter, and how much.

    A number in FILE is uncertain where it is written {low: 1 h, likely: 2 h, high: 6 h}; --vary adds others. All
    values meet the same luck. With an uncertain fleet the levels of the reorder rule move along, unless they are
    uncertain too. With --store a run that is stopped goes on where it was.
    """
    from o2sim.looks.screen import progress_bar
    from o2sim.quantities.share import share
    from o2sim.questions.drivers.drivers import REPLICATIONS
    from o2sim.questions.drivers.drivers import drivers as asked
    from o2sim.questions.drivers.screen import print_drivers
    from o2sim.runs.store_file import open_store

    scenario = load(file, uncertain_too=True)
    check_strategies(scenario, strategies)
    _refuse(csv_file, chart, force)
    if measure == "cost" and chart is not None and not any(each.costs for each in scenario.hospitals.values()):
        raise click.UsageError("--measure cost: the scenario states no prices")
    make_ready(scenario, engine)
    with (
        nullcontext() if store is None else open_store(store, "drivers") as opened,
        progress_bar(replications or REPLICATIONS[method]) as progress,
    ):
        done = asked(
            file,
            vary,
            method=method,
            strategies=strategies or None,
            target=share(target, "target"),
            budget=budget,
            worth=worth,
            law=law,
            samples=samples,
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
        print_drivers(done.result)
    _write(done, csv_file, chart, measure)  # last, so that a full disk does not cost the answer
    if not done.result["complete"]:
        raise click.exceptions.Exit(STOPPED)


def _refuse(csv_file: Path | None, chart: Path | None, force: bool) -> None:
    """Refuse, before any work, what could not be written after it."""
    from o2sim.looks.files import require_free

    if chart is not None and chart.suffix not in CHARTS:
        raise click.UsageError(f"--chart {chart}: write a name that ends in {' or '.join(CHARTS)}")
    for path in (csv_file, chart):
        if path is not None:
            require_free(path, force)


def _write(done: Drivers, csv_file: Path | None, chart: Path | None, measure: str) -> None:
    """Write the long table and the chart where they were asked for."""
    if csv_file is not None:
        from o2sim.looks.files import write_csv

        write_csv(csv_file, done.columns, done.rows())
        click.echo(f"written to {csv_file}", err=True)
    if chart is not None:
        from o2sim.looks.drawing import save
        from o2sim.questions.drivers.charts import draw

        save(draw(done.result, measure), chart)
        click.echo(f"written to {chart}", err=True)
