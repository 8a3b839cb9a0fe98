"""`o2sim fit`: a scenario from what the books of a hospital say."""

from __future__ import annotations

from pathlib import Path

import click

from o2sim.commands import places
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import force_option, json_option, print_json
from o2sim.commands.reading import Place
from o2sim.questions.fit.settings import FitSettings

SCENARIOS = (".yaml", ".yml")


@click.command(short_help="A scenario fitted to your books.")
@click.argument("file", type=Place())
@click.option("--base", type=click.Path(path_type=Path), help="The scenario that gives what no record does.")
@click.option("-o", "--out", type=Place(), required=True, help="Write the scenario to this file.")
@options_from(FitSettings)
@force_option
@json_option
def fit(file: Path, base: Path | None, out: Path, settings: FitSettings, force: bool, as_json: bool) -> None:
    """Make a scenario of FILE, a filled workbook of records or a folder of CSV files named as its sheets.

    Three files are written: the scenario, with a comment beside each value that says from which book it is;
    SCENARIO-draws.csv with 200 joint draws, for `compare --draws`; SCENARIO-fits.html with a picture of each fit.
    What no record gives stays as in the base, and is listed; without --base that is a scenario of o2sim's own.
    Like `o2sim records check`, it lists all that is wrong with the records at once; then nothing is written.
    """
    from o2sim.looks.screen import waiting
    from o2sim.questions.fit.content import print_fit
    from o2sim.questions.fit.files import require_places, write_fit
    from o2sim.questions.fit.fitting import base_of
    from o2sim.questions.fit.fitting import fit as fit_records
    from o2sim.questions.fit.names import files_of
    from o2sim.questions.fit.result import result
    from o2sim.typed import as_json as plain

    places.refuse("--out", out, force, SCENARIOS)
    require_places(out, None if base is None else base_of(base).source, force)
    with waiting("Fitting the records"):
        found = fit_records(file, base, settings.seed)
    files = files_of(out, drawn=len(found.table) > 0)
    if as_json:
        print_json(plain(result(found, [str(each) for each in files])))
    else:
        print_fit(found, files, file)
    written = write_fit(found, out, force)
    click.echo(f"written to {', '.join(map(str, written))}", err=True)
