"""What is in an open store, as a table and for JSON, and its replications as rows for CSV or Parquet."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Iterator, Sequence
from itertools import chain, groupby
from pathlib import Path
from typing import Any

from o2sim.errors import OutputError
from o2sim.looks.blocks import Table
from o2sim.looks.files import replacing
from o2sim.looks.screen import Screen
from o2sim.measures.result_rows import Cell, outcome_cells, outcome_columns
from o2sim.runs.run_store import Batch, RunStore
from o2sim.version import __version__

MOST_SHOWN = 60  # rows on the screen; all are in --json
TEXTS = ("scenario", "scenario_hash", "engine", "strategy")
KEYS = ("scenario", "scenario_hash", "seed", "engine", "strategy", "replication")


def listing(store: RunStore) -> dict[str, Any]:
    """Return what is in a store, ready for JSON."""
    return {
        "store": str(store.path),
        "kind": store.kind,
        "version": __version__,
        "batches": [
            {
                "scenarios": list(batch.scenarios),
                "scenario_hash": batch.scenario_hash,
                "strategy": batch.strategy,
                "seed": batch.seed,
                "replications": batch.replications,
                "replications_requested": batch.requested,
                "complete": batch.complete,
                "engines": list(batch.engines),
                "finished": batch.finished,
            }
            for batch in store.batches()
        ],
    }


_WHAT = {"scenario": "runs of one scenario", "study": "a study of facilities", "whatif": "the points of a what-if",
         "drivers": "a search for what drives the answer"}  # fmt: skip


def print_store(store: RunStore) -> None:
    """Print what is in a store, a row for each scenario, seed and strategy."""
    screen = Screen()
    screen.show(
        [batch_table(store.batches()), f"{store.path}: {_WHAT[store.kind]}, written by o2sim {__version__}"]
    )


def batch_table(batches: Sequence[Batch]) -> Table:
    """Return the table of what is in a store."""
    rows: list[tuple[str, ...]] = []
    for digest, some in groupby(batches[:MOST_SHOWN], lambda batch: batch.scenario_hash):
        alike = list(some)
        rows.append((f"{', '.join(alike[0].scenarios)} ({digest})", "", "", "", ""))
        for batch in alike:
            done = f"{batch.replications:,} of {batch.requested:,}"
            finished = (batch.finished or "").replace("T", " ")[:16]
            rows.append((f"  {batch.strategy}", str(batch.seed), done, ", ".join(batch.engines), finished))
    note = f"The first {MOST_SHOWN} of {len(batches):,}; --json has all." if len(batches) > MOST_SHOWN else ""
    columns = ("Scenario (hash)", "seed", "replications", "engine", "last finished, UTC")
    return Table(columns, tuple(rows), note)


def columns(store: RunStore) -> list[str]:
    """Return the columns of one row a replication; a class of patients that a facility lacks is left empty."""
    return [*KEYS, *outcome_columns(_classes(store)), "stock_outs", "unserved_h", "cost_per_year", "currency"]


def rows(store: RunStore) -> Iterator[tuple[Cell, ...]]:
    """Yield one row a scenario, seed, strategy and replication, columns as `columns` names them."""
    every = _classes(store)
    about = {(item.hash, item.name): item for item in store.described()}
    for batch in store.batches():
        for name in batch.scenarios:
            described = about[batch.scenario_hash, name]
            key = (name, batch.scenario_hash, batch.seed)
            for outcome, cost, engine in store.outcomes(batch.scenario_hash, batch.strategy, batch.seed):
                yield (
                    *key,
                    engine,
                    batch.strategy,
                    outcome.replication,
                    *outcome_cells(outcome, every, described.classes),
                    outcome.stock_outs,
                    round(sum(outcome.unserved_s) / 3_600, 6),
                    "" if cost is None else round(cost, 2),
                    described.currency or "",
                )


def write_parquet(path: Path, store: RunStore) -> None:
    """Write the rows as Parquet through DuckDB; raise OutputError where that is missing or the file cannot be."""
    try:
        import duckdb
    except ImportError:
        raise OutputError(
            f"{path}: Parquet needs DuckDB, which is not installed: pip install duckdb; or use --csv"
        ) from None
    with replacing(path) as draft, tempfile.TemporaryDirectory(prefix="o2sim-") as folder:
        table = Path(folder) / "rows.csv"
        with table.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(chain([columns(store)], rows(store)))
        texts = dict.fromkeys((*TEXTS, "currency"), "VARCHAR")
        try:
            with duckdb.connect() as database:
                found = database.read_csv(str(table), header=True, dtype=texts, sample_size=-1)
                found.write_parquet(str(draft), compression="zstd")
        except duckdb.Error as error:
            raise OSError(str(error).splitlines()[0]) from error


def _classes(store: RunStore) -> list[str]:
    """Return the classes of patients of all scenarios in a store, in the order in which they are first met."""
    return list(dict.fromkeys(name for item in store.described() for name in item.classes))
