"""`o2sim demo`: the demo hospitals, into a folder of one's own."""

from __future__ import annotations

from pathlib import Path

import click

from o2sim.commands.options import force_option, json_option, print_json
from o2sim.commands.reading import Place


@click.command(short_help="Write the demo hospitals into a folder.")
@click.argument("folder", type=Place())
@force_option
@json_option
def demo(folder: Path, force: bool, as_json: bool) -> None:
    """Write the demo hospitals, scenarios to try and to change, into FOLDER.

    Nothing that is there already is overwritten without --force.
    """
    from o2sim.questions.demo.demo import print_demo, write_demo

    written = write_demo(folder, force)
    if as_json:
        print_json(written)
    else:
        print_demo(written)
