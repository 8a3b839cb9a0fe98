"""Nothing of a foreign column, sheet or bad cell appears in what is read, said, printed or left on disk."""

from __future__ import annotations

import tempfile

import pytest
from click.testing import CliRunner
from made_books import WHOLE, book

from o2sim.cli import main
from o2sim.records.findings import RecordsError
from o2sim.records.reading import read_records

MARK = "Zzyzxian"  # in no text of ours
OURS = [name for name in WHOLE if name != "Place"]


def marked(rows, head="Remarks"):
    """Return rows with a foreign column whose every cell has the mark."""
    return {name: [{**line, head: f"{MARK} 0712345678"} for line in lines] for name, lines in rows.items()}


def everything(tmp_path, monkeypatch, data):
    """Return all that reading and checking a workbook give, say and leave in a folder of temporary files."""
    (tmp_path / "temporary").mkdir(exist_ok=True)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    path = tmp_path / "records.xlsx"
    path.write_bytes(data)
    texts = []
    try:
        texts.append(repr(read_records(path)))
    except RecordsError as error:
        texts += [str(error), repr(error), repr(error.errors), repr(error.cautions), repr(error.__context__)]
    for more in ([], ["--json"]):
        shown = CliRunner().invoke(main, ["records", "check", str(path), *more])
        texts += [shown.stdout, shown.stderr]
    texts += [
        file.read_bytes().decode("latin-1") for file in tmp_path.rglob("*") if file.is_file() and file != path
    ]
    return "\n".join(texts)


@pytest.mark.parametrize("head", ["Remarks", f"{MARK} remarks", "Patient name", "Remarks (Class)"])
def test_a_foreign_column_appears_nowhere(tmp_path, monkeypatch, head):
    """Neither its cells nor its head, whether it is passed over or refused for naming a person."""
    said = everything(tmp_path, monkeypatch, book(marked(WHOLE, head)))
    assert MARK not in said
    assert "0712345678" not in said
    assert ("remove this column" in said) == (head == "Patient name")


def test_a_foreign_sheet_appears_nowhere(tmp_path, monkeypatch):
    """Neither its name nor what stands in it; how many there are is said."""
    said = everything(tmp_path, monkeypatch, book({**WHOLE, f"{MARK} ward": [{MARK: MARK}]}))
    assert MARK not in said
    assert "1 sheet is not of the template: not read and not kept" in said


def test_what_stands_above_the_heads_appears_nowhere(tmp_path, monkeypatch):
    """Notes in the first rows, as of who filled it in, are passed over."""
    from openpyxl import load_workbook

    path = tmp_path / "noted.xlsx"
    path.write_bytes(book(WHOLE))
    noted = load_workbook(path)
    for sheet in noted:
        sheet["A2"] = MARK
    noted.save(path)
    data = path.read_bytes()
    path.unlink()
    said = everything(tmp_path, monkeypatch, data)
    assert MARK not in said
    assert "the records are in order" in said


@pytest.mark.parametrize("name", OURS)
def test_a_text_in_any_of_our_columns_is_never_repeated(tmp_path, monkeypatch, name):
    """A name written into the wrong column is described by its length, or not kept; labels of units neither."""
    said = everything(tmp_path, monkeypatch, book({name: [dict.fromkeys(WHOLE[name][0], MARK)]}))
    assert MARK not in said


def test_what_a_broken_file_holds_is_never_repeated(tmp_path, monkeypatch):
    """openpyxl quotes the cells that it stumbles over; we do not, nor does a chained error."""
    from made_books import with_part

    data = book(WHOLE)
    broken = with_part(data, "xl/worksheets/sheet2.xml", b"<v>86</v>", f"<v>{MARK}</v>".encode())
    said = everything(tmp_path, monkeypatch, broken)
    assert MARK not in said
    assert "is damaged, or no workbook" in said
