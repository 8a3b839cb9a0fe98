"""`o2sim demo`: the demo hospitals, into a folder of one's own."""

from __future__ import annotations

from pathlib import Path

import click

from o2sim.commands.options import Place, force_option, print_json


@click.command()
@click.argument("folder", type=Place())
@force_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
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
