"""`o2sim records new` and `o2sim records check`: a template for what the books say, and what a filled one has."""

from __future__ import annotations

from pathlib import Path

import click

from o2sim.commands import places
from o2sim.commands.options import MISUSED, OK, force_option, json_option, print_json
from o2sim.commands.reading import Place
from o2sim.version import __version__


@click.group(short_help="A workbook for what your books say.")
def records() -> None:
    """Write a workbook to fill in from the books of a hospital, and find every mistake in a filled one."""


@records.command(short_help="Write the workbook to fill in.")
@click.argument("file", type=Place())
@force_option
@json_option
def new(file: Path, force: bool, as_json: bool) -> None:
    """Write the template to FILE, a name that ends in .xlsx: a sheet for each book, with examples and help."""
    from o2sim.looks.files import write_bytes
    from o2sim.questions.records.content import print_new
    from o2sim.records.template import template

    places.refuse("FILE", file, force, (".xlsx",))
    write_bytes(file, template())
    if as_json:
        print_json({"version": __version__, "file": str(file)})
    else:
        print_new(file)


@records.command(short_help="Find every mistake in a filled one.")
@click.argument("file", type=Place())
@json_option
def check(file: Path, as_json: bool) -> int:
    """Read FILE, a filled workbook or a folder of CSV files named as its sheets, and say what is in it.

    All mistakes are listed at once, each with sheet, cell, what was found and what to write. Only dates, numbers
    and words of the template are repeated; columns that the template does not have are not read.
    """
    from o2sim.questions.records.content import print_checked
    from o2sim.questions.records.result import checked
    from o2sim.records.reading import survey
    from o2sim.typed import as_json as plain

    found = checked(survey(file))
    if as_json:
        print_json(plain(found))
    else:
        print_checked(found, file)
    return MISUSED if found.errors else OK
