"""`o2sim size`: how much stock is enough, with a guarantee."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands import places
from o2sim.commands.batch import Elsewhere, Workforce, check_strategies, crew_of, joint_of, make_ready
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import (
    STOPPED,
    file_argument,
    file_setting,
    force_setting,
    json_setting,
    load,
    print_json,
    same_command,
)
from o2sim.questions.size.settings import SEARCHED, SizeSettings

if TYPE_CHECKING:
    from o2sim.questions.compare.next_steps import Answer
    from o2sim.questions.size.result import SizingResult
    from o2sim.questions.size.sizing import Sizing
    from o2sim.scenario.types.hospital import Scenario

CYLINDERS = ("cylinders", "resupply")
FLEET = "cylinders.fleet"  # what is sized where nothing is said


@dataclass(frozen=True)
class Outputs:
    """What is printed, and written where."""

    charts: tuple[Path, ...] = file_setting("Also draw the curve: FILE.png or FILE.svg.", "--chart", multiple=True)
    csv_file: Path | None = file_setting("Also write the curve to this file.", "--csv")
    sheets: Path | None = file_setting("Also write three sheets to print into this folder: HTML, one page each.")
    copy: Path | None = file_setting(
        "Also write a copy of FILE with the whole answer under the strategy, comments and all else kept.",
        "--write",
    )
    force: bool = force_setting()
    as_json: bool = json_setting()


range_option = click.option(
    "--range", "span", help='Values of the one --vary field: "40..80", "40..80 step 4" or "4 h, 8 h".'
)


of_option = click.option(
    "--of", "of_size", help="Of several sizes of cylinder that which is sized, as --vary cylinders.sizes.OF.fleet."
)


@click.command(short_help="How much is enough.")
@file_argument
@click.option("--strategy", required=True, help="The strategy whose stock is sized.")
@options_from(SizeSettings, after={"vary": lambda command: range_option(of_option(command))})
@options_from(Elsewhere, "elsewhere")
@options_from(Outputs, "outputs")
def size(
    file: Path,
    strategy: str,
    span: str | None,
    of_size: str | None,
    settings: SizeSettings,
    elsewhere: Elsewhere,
    outputs: Outputs,
) -> None:
    """Find the least stock, or the cheapest combination, that keeps the chance of going without at a target.

    Values that are not stated run from half to twice what the file says, a fleet by one batch as far as is needed.
    With cylinders.fleet the levels of the reorder rule move along; where more cylinders are needed, other levels
    with those you have are tried too, and shown first if that surely helps. --vary resupply.levels tries many.
    """
    from o2sim.questions.size.sizing import size as sized

    scenario = load(file, uncertain_too=settings.draws is not None)
    check_strategies(scenario, [strategy])
    joint = joint_of(settings.draws, scenario)
    settings = replace(settings, vary=_ranged(_of(settings.vary, of_size), span), draws=joint)
    _refuse(outputs, len(settings.vary))
    if outputs.copy is not None:
        from o2sim.looks.files import require_copy
        from o2sim.scenario.changing.override import original

        require_copy(outputs.copy, original(file), outputs.force)
    from o2sim.looks.screen import progress_bar

    make_ready(scenario, settings.engine)
    crew = crew_of(Workforce(settings.workers, elsewhere.cluster))
    with progress_bar(settings.replications or SEARCHED, "done") as progress:
        done = sized(file, strategy, settings=settings, progress=progress, crew=crew)
    if outputs.as_json:
        print_json(done.result)
    else:
        _print(scenario, done, _answer(done, file, outputs), file)
    places.write_all(_to_write(done, outputs))
    if not done.record.complete:
        raise click.exceptions.Exit(STOPPED)


def _print(scenario: Scenario, done: Sizing, answer: Answer | None, file: Path) -> None:
    """Print how much is enough, the curve, the rules of thumb beside it, cautions and provenance."""
    from o2sim.looks import cautions, words
    from o2sim.looks.screen import Screen, provenance
    from o2sim.questions.size import content

    screen, ran = Screen(), done.record.ran
    screen.show(content.content(done.record))
    screen.next(_steps(done.record, done.result, answer, file))
    screen.paragraph(words.stock_out_note(done.hospital))
    screen.paragraph(*cautions.SHORT[:3])
    screen.paragraph(provenance(scenario, ran.seed, content.done(done.record), ran.engine))


def _steps(record: SizingResult, result: dict[str, Any], answer: Answer | None, file: Path) -> list[str]:
    """Return what to do next: a better reorder rule before buying, then the answer."""
    from o2sim.questions.compare.next_steps import after_sizing
    from o2sim.questions.size.steps import rule_first_step, size_on_top

    again = same_command([*(each.name for each in fields(Outputs)), "vary", "span", "of_size", "hold_levels"])
    found = rule_first_step(record, again, str(_free(file.with_name(f"{file.stem}-levels.yaml"))))
    if answer is not None:
        found += [*after_sizing(result, answer), *size_on_top(record, answer.copy)]
    return found


def _answer(done: Sizing, file: Path, outputs: Outputs) -> Answer | None:
    """Return how the answer, or a better pair of levels, gets into the scenario; None where there is none."""
    record = done.record
    if not record.can_be_written:
        return None
    from o2sim.questions.compare.next_steps import Answer
    from o2sim.scenario.changing.splice import blocks

    sections = {key.split(".")[0] for key in (record.answer.to_write if record.answer is not None else ())}
    stock = done.hospital.resupply is not None and not sections.isdisjoint(CYLINDERS)
    return Answer(
        file=str(file),
        blocks=blocks(done.source.text, done.scenario_text()),
        of_strategy="strategies" in done.source.root.entries,
        again=same_command([each.name for each in fields(Outputs)]),
        copy=str(outputs.copy or _free(file.with_name(f"{file.stem}-sized.yaml"))),
        written=outputs.copy is not None,
        sheets=str(_free(Path("sheets"))) if stock and outputs.sheets is None else "",
    )


def _free(path: Path) -> Path:
    """Return a path, numbered where that is taken."""
    number = 2
    wanted = path
    while path.exists():
        path, number = wanted.with_name(f"{wanted.stem}-{number}{wanted.suffix}"), number + 1
    return path


def _of(vary: str | Sequence[str], of_size: str | None) -> Sequence[str]:
    """Return the fields, or the fleet of the size that is asked for."""
    if of_size is None:
        return vary
    if list(vary) != [FLEET]:
        raise click.UsageError("--of names the size whose fleet is sized, and goes without --vary")
    return [f"cylinders.sizes.{of_size.strip()}.fleet"]


def _ranged(vary: str | Sequence[str], span: str | None) -> list[str]:
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


def _refuse(outputs: Outputs, fields_varied: int) -> None:
    """Refuse, before any work, what could not be written after it."""
    from o2sim.questions.size.sheets import SHEETS

    if outputs.charts and fields_varied > 1:
        raise click.UsageError("--chart shows one --vary; for several write the table with --csv")
    for path in outputs.charts:
        places.refuse("--chart", path, outputs.force, places.CHARTS)
    places.refuse("--csv", outputs.csv_file, outputs.force)
    places.refuse_folder("--sheets", outputs.sheets, SHEETS, outputs.force)


def _to_write(done: Sizing, outputs: Outputs) -> Iterator[places.Job]:
    """Yield where the curve, the answer and the sheets are asked for, each with what writes it."""
    from o2sim.looks.files import write_csv
    from o2sim.questions.size import content

    def write_sheets(folder: Path) -> str:
        return "\n".join(f"written to {path}" for path in done.write_sheets(folder))

    def draw(path: Path) -> None:
        from o2sim.looks.drawing import save
        from o2sim.questions.size.charts import sizing_chart

        save(sizing_chart(done.record), path)

    if outputs.csv_file is not None:
        columns, rows = content.csv_columns(done.record), content.csv_rows(done.record)
        yield outputs.csv_file, lambda path: write_csv(path, columns, rows)
    yield from ((path, draw) for path in outputs.charts)
    if outputs.copy is not None and not done.record.can_be_written:
        click.echo(f"nothing written to {outputs.copy}: no value is enough", err=True)
    elif outputs.copy is not None:
        yield outputs.copy, lambda path: done.write_scenario(path, force=outputs.force)
    if outputs.sheets is not None:
        yield outputs.sheets, write_sheets
