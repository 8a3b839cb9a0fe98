"""`o2sim new`, `o2sim schema` and `o2sim describe`: texts made from the table of fields and from the code."""

from __future__ import annotations

from pathlib import Path

import click

from o2sim.commands.from_settings import options_from
from o2sim.commands.options import file_argument, force_option, load, print_json
from o2sim.commands.reading import Place
from o2sim.questions.documents.settings import DescribeSettings

STANDARD_OUTPUT = Path("-")


@click.command(short_help="Write a scenario to start from.")
@click.argument("file", type=Place(), default="scenario.yaml")
@click.option("--all", "every", is_flag=True, help="Every key, with its default and what it means.")
@force_option
def new(file: Path, every: bool, force: bool) -> None:
    """Write a commented scenario to start from: what a place must state, and where to find it there.

    It loads as it stands. FILE is scenario.yaml where none is named; `-` prints it instead.
    """
    from o2sim.questions.documents.starter import starter

    _require_free(file, force)
    _put(starter(every=every), file)


@click.command(short_help="A JSON Schema of scenarios or results.")
@click.option(
    "--results", is_flag=True, help="That of what commands print with --json, for programs that read it."
)
def schema(results: bool) -> None:
    """Print the JSON Schema (2020-12) of scenario files, by which an editor helps while one is written.

    It knows every key and every spelling of a unit; how keys fit together is for `o2sim check` to say.
    With --results it is that of the results: run, compare, size, whatif, drivers, equipment, study, fit, hindcast,
    today and records check.
    """
    if results:
        from o2sim.questions.documents.result_schema import result_schema

        print_json(result_schema())
        return
    from o2sim.questions.documents.scenario_schema import scenario_schema

    print_json(scenario_schema())


@click.command(short_help="The model and every assumption in plain words.")
@file_argument
@click.option("-o", "--out", type=Place(), default="-", help="Write to this file.")
@options_from(DescribeSettings)
@force_option
def describe(file: Path, out: Path, settings: DescribeSettings, force: bool) -> None:
    """Describe a scenario and its model to a reviewer in plain words (Markdown): every assumption, every rule."""
    from o2sim.questions.documents.describe import document
    from o2sim.scenario.text.source import source

    _require_free(out, force)
    scenario = load(file)
    _put(document(scenario, source(file), settings=settings), out)


def _require_free(path: Path, force: bool) -> None:
    """Refuse a file that is there already, before any work."""
    from o2sim.looks.files import require_free

    if path != STANDARD_OUTPUT:
        require_free(path, force)


def _put(text: str, path: Path) -> None:
    """Print a text, or write it to a file."""
    from o2sim.looks.files import write_text

    if path == STANDARD_OUTPUT:
        click.echo(text, nl=False)
        return
    write_text(path, text)
    click.echo(f"written to {path}", err=True)
