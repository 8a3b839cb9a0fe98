"""`o2sim runs`: what is in a store, and its replications as CSV or Parquet."""

from __future__ import annotations

from pathlib import Path

import click

from o2sim.commands.options import Place, force_option, print_json


@click.command()
@click.argument("store", type=click.Path(path_type=Path))
@click.option("--csv", "csv_file", type=Place(), help="Also write one row a replication and strategy.")
@click.option("--parquet", "parquet_file", type=Place(), help="The same as Parquet (needs DuckDB).")
@force_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
def runs(store: Path, csv_file: Path | None, parquet_file: Path | None, force: bool, as_json: bool) -> None:
    """List what is in STORE, a file made by --store: scenarios, strategies, replications, and whether complete."""
    from o2sim.looks.files import require_free, write_csv
    from o2sim.questions.store import listing as store_list
    from o2sim.runs.store_file import read_store

    for path in (csv_file, parquet_file):
        if path is not None:
            require_free(path, force)
    with read_store(store) as opened:
        if csv_file is not None:
            write_csv(csv_file, store_list.columns(opened), store_list.rows(opened))
        if parquet_file is not None:
            store_list.write_parquet(parquet_file, opened)
        if as_json:
            print_json(store_list.listing(opened))
        else:
            store_list.print_store(opened)
