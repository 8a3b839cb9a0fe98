"""Nothing of a foreign column, nor a label or text planted where it may stand, comes out of `fit`."""

from __future__ import annotations

import tempfile

import pytest
from click.testing import CliRunner
from made_books import WHOLE, book
from scenario_texts import SMALL

from o2sim.cli import main

MARK = "Zzyzxian"  # in no text of ours
LABELS = ("Unit", "Hospital")  # columns of ours in which any text may stand


def marked():
    """Return rows with the mark in two foreign columns of every sheet and in every label."""
    rows = {}
    for name, lines in WHOLE.items():
        foreign = {"Remarks": f"{MARK} 0712345678", "Bed": MARK}
        rows[name] = [
            {head: f"{MARK} {value}" if head in LABELS else value for head, value in line.items()} | foreign
            for line in lines
        ]
    rows["Job cards"] = [line | {"Unit": f"{MARK} B"} for line in rows["Job cards"]]
    return rows


@pytest.mark.parametrize("as_json", [["--json"], pytest.param([], marks=pytest.mark.slow)])
def test_a_mark_in_foreign_columns_and_labels_comes_out_nowhere(tmp_path, monkeypatch, as_json):
    """Not on the terminal, in no file that is written, in no temporary file."""
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "records.xlsx").write_bytes(book({**marked(), f"{MARK} ward": [{MARK: MARK}]}))
    (tmp_path / "here.yaml").write_text(SMALL, encoding="utf-8")
    done = CliRunner().invoke(main, ["fit", "records.xlsx", "--base", "here.yaml", "-o", "out.yaml", *as_json])
    assert done.exit_code == 0, done.stderr
    files = [path for path in tmp_path.rglob("*") if path.is_file() and path.name != "records.xlsx"]
    assert {"out.yaml", "out-fits.html"} <= {path.name for path in files}
    texts = [done.stdout, done.stderr, *(path.read_bytes().decode("latin-1") for path in files)]
    assert [text[:200] for text in texts if MARK in text or "0712345678" in text] == []
