"""`o2sim desk`: opens the desk in the browser of this computer."""

from __future__ import annotations

import webbrowser
from contextlib import suppress
from pathlib import Path

import click

from o2sim.commands.options import MISUSED

LOOPBACK = ("127.0.0.1", "localhost")
REFUSED_HOST = (
    "--host {host}: 127.0.0.1 only: the desk has no password and no encryption, so it is not for a network. For "
    "the ward print “Oxygen for the night” (Sheets, or o2sim size --sheets FOLDER)."
)


@click.command(short_help="Questions and answers in a browser, without YAML.")
@click.argument("place", type=click.Path(path_type=Path), default=".", metavar="[FILE or FOLDER]")
@click.option("--host", default=LOOPBACK[0], show_default=True, help="This computer; nothing else is allowed.")
@click.option("--no-window", is_flag=True, help="Print the link and open no browser.")
def desk(place: Path, host: str, no_window: bool) -> None:
    """Open the desk for a folder, or for a scenario in it: questions, a run, its answer, in the browser.

    It works on this computer alone and needs no network. What you type and what comes of it is kept in the folder.
    The link that is printed lets one browser in, once, within two minutes; a second `o2sim desk` makes a new one.
    Ctrl-C, or “Close the desk”, ends it.
    """
    if host not in LOOPBACK:
        click.echo(f"Error: {REFUSED_HOST.format(host=host)}", err=True)
        raise click.exceptions.Exit(MISUSED)
    folder, file = _place(place)
    from o2sim.desk.door import DoorFolder

    kept = DoorFolder(folder)
    if not kept.is_first():
        door = kept.kept()
        if door is None:
            raise click.ClickException(f"{folder}: a desk is at work there that cannot be found; close it first")
        click.echo("The desk of this folder is open already: this is another window on it.", err=True)
        _opened(kept, kept.start_link(door), no_window)
        return
    from o2sim.desk.server import serve

    try:
        with suppress(KeyboardInterrupt):  # the usual way to end it
            serve(folder, file, kept, lambda link: _opened(kept, link, no_window))
    finally:
        kept.leave()
    click.echo("The desk is closed; all is kept.", err=True)


def _place(place: Path) -> tuple[Path, str]:
    """Return the folder, and the file in it that was named."""
    if place.is_dir():
        return place, ""
    if place.is_file():
        from o2sim.desk.folder import ENDINGS

        if place.suffix.lower() not in ENDINGS:
            raise click.UsageError(f"{place}: found a file that is no scenario; allowed: a name ending in .yaml")
        return place.parent, place.name
    raise click.UsageError(f"{place}: found no such file or folder; make the folder first, or name another")


def _opened(kept: object, link: str, no_window: bool) -> None:
    """Print the start link, and open a browser on a page that leads to it."""
    from o2sim.desk.door import DoorFolder
    from o2sim.desk.words import say

    assert isinstance(kept, DoorFolder)
    click.echo(f"The desk: {link}\nThe link is good once, for two minutes.")
    if not no_window:
        webbrowser.open(kept.start_page(link, say("opening_said")).as_uri())
