"""Parquet files as they are: one library writes them, another reads them back."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner
from test_whatif import SHORT

from o2sim.cli import main
from o2sim.errors import OutputError
from o2sim.looks.files import require_parquet, write_parquet

pytest.importorskip("pyarrow")
duckdb = pytest.importorskip("duckdb")


def test_a_column_of_numbers_is_numbers_in_the_file(tmp_path: Path) -> None:
    """Numbers come back as numbers, empty cells as nulls, any other column as texts; no draft is left."""
    path = tmp_path / "x.parquet"
    require_parquet(path)
    write_parquet(path, ("name", "value", "count", "mixed"), [["a", 1.5, 3, 1], ["b", "", 4, "none"]])
    found = duckdb.sql(f"SELECT * FROM '{path}'")
    assert found.fetchall() == [("a", 1.5, 3, "1"), ("b", None, 4, "none")]
    assert [str(kind) for kind in found.types] == ["VARCHAR", "DOUBLE", "BIGINT", "VARCHAR"]
    assert [each.name for each in tmp_path.iterdir()] == ["x.parquet"]


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """A folder that is not there is an error of o2sim that names the file."""
    with pytest.raises(OutputError, match=r"x\.parquet: cannot be written"):
        write_parquet(tmp_path / "none" / "x.parquet", ("name",), [["a"]])


def test_the_table_of_whatif_is_the_same_in_both_forms(tmp_path: Path) -> None:
    """`whatif --table` writes the same cells as CSV and as Parquet."""
    (tmp_path / "ward.yaml").write_text(SHORT)
    tables = tmp_path / "t.csv", tmp_path / "t.parquet"
    for table in tables:
        command = ["whatif", str(tmp_path / "ward.yaml"), "--vary", "concentrators.count = 1, 2"]
        done = CliRunner().invoke(main, [*command, "--replications", "2", "--table", str(table)])
        assert done.exit_code == 0, done.stderr
    with tables[0].open(encoding="utf-8") as file:
        heads, *rows = list(csv.reader(file))
    found = duckdb.sql(f"SELECT * FROM '{tables[1]}'")
    assert found.columns == heads
    cells = [["" if cell is None else cell for cell in row] for row in found.fetchall()]
    assert cells == [
        [type(cell)(text) for text, cell in zip(*pair, strict=True)] for pair in zip(rows, cells, strict=True)
    ]
