"""`o2sim size`: how much stock is enough, with a guarantee."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands.batch import Workforce, check_strategies, crew_of, make_ready
from o2sim.commands.options import (
    STOPPED,
    Place,
    cluster_option,
    engine_option,
    file_argument,
    force_option,
    load,
    print_json,
    same_command,
    seed_option,
    workers_option,
)

if TYPE_CHECKING:
    from o2sim.questions.compare.next_steps import Answer
    from o2sim.questions.size.sizing import Sizing

CYLINDERS = ("cylinders", "resupply")
OUTPUTS = ("charts", "csv_file", "sheets", "copy", "force", "as_json")


@click.command()
@file_argument
@click.option("--strategy", required=True, help="The strategy whose stock is sized.")
@click.option(
    "--target", default="5 %", show_default=True, help="The most that the chance may be within the horizon."
)
@click.option(
    "--vary",
    multiple=True,
    default=("cylinders.fleet",),
    show_default=True,
    help=(
        'Field to size, alone or with values: "cylinders.fleet = 40..80". May be repeated: the cheapest '
        "combination."
    ),
)
@click.option("--range", "span", help='Values of the one --vary field: "40..80", "40..80 step 4" or "4 h, 8 h".')
@click.option(
    "--causes",
    help='Whose interruptions count, between commas, or "supply", or "any". Default: no cylinder where cylinders '
    "are sized, else supply.",
)
@click.option("--confidence", default="95 %", show_default=True, help="That the target is met.")
@click.option(
    "--replications",
    type=click.IntRange(1, 1_000_000),
    default=400,
    show_default=True,
    help="How many one candidate gets at most, and the one that passes again.",
)
@click.option(
    "--hold-levels", is_flag=True, help="Reorder point and order-up-to level stay where the fleet changes."
)
@seed_option
@engine_option
@workers_option
@cluster_option
@click.option("--chart", "charts", type=Place(), multiple=True, help="Also draw the curve: FILE.png or FILE.svg.")
@click.option("--csv", "csv_file", type=Place(), help="Also write the curve to this file.")
@click.option(
    "--sheets", type=Place(), help="Also write three sheets to print into this folder: HTML, one page each."
)
@click.option(
    "--write",
    "copy",
    type=Place(),
    help="Also write a copy of FILE with the whole answer under the strategy, comments and all else kept.",
)
@force_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
def size(
    file: Path,
    strategy: str,
    target: str,
    vary: tuple[str, ...],
    span: str | None,
    causes: str | None,
    confidence: str,
    replications: int,
    hold_levels: bool,
    seed: int,
    engine: str,
    workers: int | None,
    cluster: str | None,
    charts: tuple[Path, ...],
    csv_file: Path | None,
    sheets: Path | None,
    copy: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Find the least stock, or the cheapest combination, that keeps the chance of going without at a target.

    Values that are not stated run from half to twice what the file says. With cylinders.fleet the levels of the
    reorder rule move along.
    """
    from o2sim.questions.size.sizing import size as sized

    scenario = load(file)
    make_ready(scenario, engine)
    check_strategies(scenario, [strategy])
    wanted = _ranged(vary, span)
    outputs = [*charts, *([csv_file] if csv_file else [])]
    _refuse(charts, outputs, sheets, wanted, force)
    if copy is not None:
        from o2sim.looks.files import require_copy
        from o2sim.scenario.changing.override import original

        require_copy(copy, original(file), force)
    from o2sim.looks.screen import progress_bar

    with progress_bar(replications, "done") as progress:
        done = sized(
            file,
            strategy,
            target=target,
            vary=wanted,
            causes=None if causes is None else causes.split(","),
            confidence=confidence,
            replications=replications,
            seed=seed,
            engine=engine,
            hold_levels=hold_levels,
            progress=progress,
            crew=crew_of(Workforce(workers, cluster)),
        )
    if as_json:
        print_json(done.result)
    else:
        from o2sim.questions.size.screen import print_sizing

        print_sizing(scenario, done.result, _answer(done, file, copy, sheets))
    _write(done.result, charts, csv_file)
    if copy is not None and done.result["answer"] is None:
        click.echo(f"nothing written to {copy}: no value is enough", err=True)
    elif copy is not None:
        click.echo(f"written to {done.write_scenario(copy, force=force)}", err=True)
    if sheets is not None:
        from o2sim.questions.size.sheets import write_sheets

        for path in write_sheets(sheets, done.hospital, done.result):
            click.echo(f"written to {path}", err=True)
    if not done.result["complete"]:
        raise click.exceptions.Exit(STOPPED)


def _answer(done: Sizing, file: Path, copy: Path | None, sheets: Path | None) -> Answer | None:
    """Return how the answer gets into the scenario, None where there is none."""
    if done.result["answer"] is None:
        return None
    from o2sim.questions.compare.next_steps import Answer
    from o2sim.scenario.changing.splice import blocks

    to_write = done.result["answer"]["to_write"]
    stock = done.hospital.resupply is not None and any(key.split(".")[0] in CYLINDERS for key in to_write)
    return Answer(
        file=str(file),
        blocks=blocks(done.source.text, done.scenario_text()),
        of_strategy="strategies" in done.source.root.entries,
        again=same_command(OUTPUTS),
        copy=str(copy or _free(file.with_name(f"{file.stem}-sized.yaml"))),
        written=copy is not None,
        sheets=str(_free(Path("sheets"))) if stock and sheets is None else "",
    )


def _free(path: Path) -> Path:
    """Return a path, numbered where that is taken."""
    number = 2
    wanted = path
    while path.exists():
        path, number = wanted.with_name(f"{wanted.stem}-{number}{wanted.suffix}"), number + 1
    return path


def _ranged(vary: tuple[str, ...], span: str | None) -> list[str]:
    """Return the fields with the range put to the only one."""
    if span is None:
        return list(vary)
    if not span.strip():
        raise click.UsageError("--range is empty; write 40..80, or leave it out")
    if len(vary) != 1 or "=" in vary[0]:
        raise click.UsageError(
            "--range goes with one --vary that states no values; else write FIELD = 40..80 there"
        )
    return [f"{vary[0]} = {span}"]


def _refuse(
    charts: tuple[Path, ...], outputs: list[Path], sheets: Path | None, vary: list[str], force: bool
) -> None:
    """Refuse, before any work, what could not be written after it."""
    from o2sim.looks.files import require_free

    for path in charts:
        if path.suffix not in (".png", ".svg"):
            raise click.UsageError(f"--chart {path}: write a name that ends in .png or .svg")
    if charts and len(vary) > 1:
        raise click.UsageError("--chart shows one --vary; for several write the table with --csv")
    for path in outputs:
        require_free(path, force)
    if sheets is not None:
        from o2sim.questions.size.sheets import SHEETS

        if sheets.exists() and not sheets.is_dir():
            raise click.UsageError(f"--sheets {sheets}: that is a file; name a folder")
        for name in SHEETS if sheets.is_dir() else ():
            require_free(sheets / name, force)


def _write(result: dict[str, Any], charts: tuple[Path, ...], csv_file: Path | None) -> None:
    """Write the curve where it was asked for."""
    from o2sim.looks.files import write_csv
    from o2sim.questions.size import text as report

    if csv_file is not None:
        write_csv(csv_file, report.csv_columns(result), report.csv_rows(result))
        click.echo(f"written to {csv_file}", err=True)
    if charts:
        from o2sim.looks.drawing import save
        from o2sim.questions.size.chart import sizing_chart

        figure = sizing_chart(result)
        for path in charts:
            save(figure, path)
            click.echo(f"written to {path}", err=True)
