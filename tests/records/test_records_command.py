"""`o2sim records new` and `check` as a user meets them: what is printed, and the exit codes."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner
from made_books import PATIENT, WHOLE, book, patient

from o2sim.cli import main

P = "Patients on oxygen"


def call(*words):
    """Run `o2sim records` and return the result."""
    return CliRunner().invoke(main, ["records", *map(str, words)])


@pytest.fixture
def path(tmp_path):
    """Return where a workbook is written."""
    return tmp_path / "records.xlsx"


def test_new_then_its_own_advice(path):
    """The template is written, the command that is shown next runs on it, and nothing is overwritten unasked."""
    made = call("new", path)
    assert made.exit_code == 0
    (advice,) = [line for line in made.stdout.splitlines() if line.startswith("o2sim records check")]
    checked = CliRunner().invoke(main, advice.split()[1:])
    assert (checked.exit_code, "the records are in order" in checked.stdout) == (0, True)
    again = call("new", path)
    assert (again.exit_code, "is there already" in again.stderr) == (1, True)
    assert call("new", path, "--force").exit_code == 0


def test_new_refuses_another_ending(tmp_path):
    """A template is a workbook; another name is wrong usage."""
    refused = call("new", tmp_path / "records.csv")
    assert (refused.exit_code, "write a name that ends in .xlsx" in refused.stderr) == (2, True)


def test_check_prints_rows_by_sheet_and_merges_small_counts(path):
    """Five rows are counted, one to four are written alike; empty sheets are named together."""
    path.write_bytes(book({P: [PATIENT | {"SpO2 %": 80 + n} for n in range(5)], "Orders": WHOLE["Orders"]}))
    shown = call("check", path)
    assert shown.exit_code == 0
    assert [line.split() for line in shown.stdout.splitlines() if line.startswith((P, "Orders"))] == [
        [*P.split(), "5"], ["Orders", "under", "5"],
    ]  # fmt: skip
    assert "Without rows: Place, All admissions, Month totals," in shown.stdout


def test_check_of_broken_records_is_exit_code_2(path):
    """What is wrong is the answer: on stdout, at its cell, with what to do next."""
    path.write_bytes(book(patient(Flow_at_first_L_min=3) | {"Stock card": [{"Date": "04/03/26", "Full": "2,5"}]}))
    shown = call("check", path)
    assert (shown.exit_code, shown.stderr) == (2, "")
    said = " ".join(shown.stdout.split())
    assert "records.xlsx: the records cannot be used yet." in said
    assert "To be put right (2): - records.xlsx, Stock card, A14 (Date): found" in said
    assert "Doubtful, and read as it stands:" in said


def test_check_as_json(path):
    """One object with rows, errors and cautions, each in its parts; few rows are null."""
    path.write_bytes(book({P: [PATIENT | {"Left how": "dead"}], "Orders": WHOLE["Orders"]}))
    shown = call("check", path, "--json")
    found = json.loads(shown.stdout)
    assert shown.exit_code == 2
    assert found["errors"] == [{
        "file": "records.xlsx", "sheet": P, "cell": "I14", "column": "Left how", "found": "found a text of 4 "
        "characters",
        "allowed": "ended, sent on or moved", "write": "",
    }]  # fmt: skip
    assert {"sheet": "Orders", "rows": None, "few": True} in found["sheets"]
    assert {"sheet": "Units", "rows": 0, "few": False} in found["sheets"]


def test_check_of_no_workbook_is_exit_code_2(tmp_path, path):
    """A file that cannot be read at all is one message on stderr."""
    path.write_bytes(b"PK")
    for file, words in ((path, "is damaged, or no workbook"), (tmp_path / "none.xlsx", "found no such file")):
        shown = call("check", file)
        assert (shown.exit_code, shown.stdout, words in shown.stderr) == (2, "", True)


def test_openpyxl_is_loaded_only_when_a_workbook_is(tmp_path):
    """Neither the command line nor reading CSV files needs it."""
    (tmp_path / "Orders.csv").write_text("Ordered on\n2026-03-04\n", encoding="utf-8")
    code = (
        f"import sys, o2sim.cli, o2sim; print(len(o2sim.read_records({str(tmp_path)!r}).orders), "
        "[each for each in ('openpyxl', 'defusedxml') if each in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "1 []"
