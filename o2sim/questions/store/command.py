"""`o2sim runs`: what is in a store, and its replications as CSV or Parquet."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from o2sim.commands import places
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import file_setting, force_setting, json_setting, print_json


@dataclass(frozen=True)
class Outputs:
    """What is written where."""

    csv_file: Path | None = file_setting("Also write one row a replication and strategy.", "--csv")
    parquet_file: Path | None = file_setting("The same as Parquet (needs DuckDB).", "--parquet")
    force: bool = force_setting()
    as_json: bool = json_setting()


@click.command(short_help="What is in a store.")
@click.argument("store", type=click.Path(path_type=Path))
@options_from(Outputs, "outputs")
def runs(store: Path, outputs: Outputs) -> None:
    """List what is in STORE, a file made by --store: scenarios, strategies, replications, and whether complete."""
    from o2sim.looks.files import write_csv
    from o2sim.questions.store import listing as store_list
    from o2sim.runs.store_file import read_store

    for path in (outputs.csv_file, outputs.parquet_file):
        places.refuse("--csv or --parquet", path, outputs.force)
    with read_store(store) as opened:
        if outputs.as_json:
            print_json(store_list.listing(opened))
        else:
            store_list.print_store(opened)
        jobs = (
            (outputs.csv_file, lambda path: write_csv(path, store_list.columns(opened), store_list.rows(opened))),
            (outputs.parquet_file, lambda path: store_list.write_parquet(path, opened)),
        )
        places.write_all((path, write) for path, write in jobs if path is not None)
