"""`o2sim hindcast` as typed: what it prints and writes, and what it refuses with which exit code."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from small_books import TEXT, books, day, weekly
from written_books import workbook

from o2sim.cli import main
from o2sim.questions.documents.result_schema import result_schema
from o2sim.records.rows import Midnight, Stay

FEW = ("--replications", "100", "--seed", "2")
CARD = weekly(9, 9, 8, 8)


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Be in a folder with a scenario and its records."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "reed.yaml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "reed.xlsx").write_bytes(workbook(books(stock=CARD)))
    return tmp_path


def _run(*arguments: str):
    return CliRunner().invoke(main, ["hindcast", *arguments])


def test_it_begins_with_the_two_sentences(place):
    """Two counts are too few; which strategy, what was put in, and how to get it again follow."""
    done = _run("reed.yaml", "reed.xlsx", *FEW)
    said = " ".join(done.stdout.split())
    assert done.exit_code == 0, done.output
    assert said.startswith(
        "Whether the scenario may be trusted cannot be said: 2 counts could be compared, 8 are needed."
    )
    assert "The strategy is “both” (the only one with both sources); --strategy names another." in said
    assert "| seed 2 | 100 replications | engine kernel" in said
    assert sorted(path.name for path in place.iterdir()) == ["reed.xlsx", "reed.yaml"]


def test_json_is_as_the_schema_says(place):
    """One object, by the declared keys, with the stock card count by count."""
    done = _run("reed.yaml", "reed.xlsx", "--strategy", "cylinders", "--json", *FEW)
    said = json.loads(done.stdout)
    schema = result_schema()
    Draft202012Validator({**schema, "anyOf": [{"$ref": "#/$defs/hindcast"}]}).validate(said)
    assert (said["strategy"], said["trust"], len(said["stock"])) == ("cylinders", "cannot be said", 3)
    assert [each["left_out"] for each in said["stock"]] == ["days not in all books", "", ""]


def test_a_folder_holds_the_page_the_numbers_and_the_drawings(place):
    """A page that loads nothing and has no style of its own in an element; written again only with --force."""
    done = _run("reed.yaml", "reed.xlsx", "--out", "match", *FEW)
    names = sorted(path.name for path in (place / "match").iterdir())
    page = (place / "match" / "hindcast.html").read_text(encoding="utf-8")
    assert (done.exit_code, "begin with hindcast.html" in done.stderr) == (0, True)
    assert names == ["hindcast.html", "hindcast.json", "ranks.png", "stock.csv", "stock.png"]
    assert (page.count("<svg"), " style=" in page, "http" in page.replace("http-equiv", "")) == (2, False, False)
    assert len((place / "match" / "stock.csv").read_text(encoding="utf-8").splitlines()) == 4
    assert "is there already" in _run("reed.yaml", "reed.xlsx", "--out", "match", *FEW).stderr
    assert _run("reed.yaml", "reed.xlsx", "--out", "match", "--force", *FEW).exit_code == 0


def test_no_identity_and_no_stay_in_anything_written(place):
    """A foreign column is not read, and no day of a single stay stands in page, JSON or on the screen."""
    from io import BytesIO

    from openpyxl import load_workbook

    stays = tuple(replace(each, row=4) for each in books().stays)
    marked = (*stays[:20], Stay(4, begun=day(20), ended=day(26), class_="children", flow_ml_min=7_770))
    found = load_workbook(BytesIO(workbook(books(stock=CARD, stays=marked))))
    sheet = found["Patients on oxygen"]
    sheet.cell(row=3, column=sheet.max_column + 1, value="Bed colour")
    for row in range(4, 24):
        sheet.cell(row=row, column=sheet.max_column, value="zqmarker")
    found.save(place / "marked.xlsx")
    done = _run("reed.yaml", "marked.xlsx", "--out", "match", *FEW)
    assert done.exit_code == 0, done.output
    texts = [path.read_bytes() for path in (place / "match").iterdir()]
    everything = b"".join([*texts, done.stdout.encode(), done.stderr.encode()])
    flow = re.search(rb"(?<!\d)7\.77(?!\d)", everything)  # not a part of a place in a drawing, such as 17.77
    assert (b"zqmarker" in everything, flow, b"2026-03-27" in everything) == (False, None, False)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ({}, "the records hold nothing to lay a forecast against"),
        (
            {"stock": CARD, "stays": (Stay(4, begun=day(1), class_="adults"),)},
            "of the class adults; allowed: those of",
        ),
        ({"stock": weekly(9, 9)}, "no count of the records could be compared: 21 of 28 days have all their books"),
    ],
)
def test_records_that_do_not_fit_are_refused(place, rows, words):
    """Exit code 2, with what is allowed and what to do; nothing on stdout."""
    (place / "other.xlsx").write_bytes(workbook(books(**rows)))
    done = _run("reed.yaml", "other.xlsx", *FEW)
    assert (done.exit_code, done.stdout) == (2, "")
    assert words in " ".join(done.stderr.split())


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("reed.yaml", "none.xlsx"), 2, "none.xlsx: found no such file"),
        (("none.yaml", "reed.xlsx"), 2, "none.yaml"),
        (("reed.yaml", "reed.yaml"), 2, "reed.yaml"),
        (("reed.yaml", "reed.xlsx", "--strategy", "bote"), 2, "Did you mean 'both'?"),
        (("reed.yaml", "reed.xlsx", "--replications", "20"), 2, "100<=x<=5000"),
        (("reed.yaml", "reed.xlsx", "--out", "reed.yaml"), 2, "that is a file; name a folder"),
        (("reed.yaml", "hostile.xlsx"), 2, "hostile.xlsx"),
    ],
)
def test_what_cannot_be_done_is_refused(place, arguments, code, words):
    """One message with its exit code, no traceback, nothing on stdout."""
    (place / "hostile.xlsx").write_bytes(b"PK\x03\x04" + b"\x00" * 200)
    done = _run(*arguments)
    assert (done.exit_code, done.stdout, "Traceback" in done.stderr) == (code, "", False)
    assert words in " ".join(done.stderr.split())


def test_wrong_cells_are_all_listed(place):
    """As `o2sim records check` lists them."""
    wrong = books(
        stock=CARD, midnights=(Midnight(4, date=day(1), on_oxygen=-3), Midnight(5, date=day(2), waiting=-1))
    )
    (place / "wrong.xlsx").write_bytes(workbook(wrong))
    done = _run("reed.yaml", "wrong.xlsx")
    assert (done.exit_code, "2 problems in the records" in done.stderr) == (2, True)


def test_ctrl_c_leaves_nothing(place, monkeypatch):
    """Stopped in the middle: exit code 130 and no file."""
    from o2sim.questions.hindcast import runs

    def stop(*_args: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(runs, "_one", stop)
    done = _run("reed.yaml", "reed.xlsx", "--out", "match", *FEW)
    assert (done.exit_code, done.stdout, (place / "match").exists()) == (130, "", False)


def test_ctrl_c_after_enough_replications_leaves_the_answer(place, monkeypatch):
    """Stopped after 100 of 300: the answer of these, which says so, and exit code 130."""
    from o2sim.questions.hindcast import runs

    one = runs._one

    def stop(*arguments: object) -> object:
        if arguments[3] == 100:
            raise KeyboardInterrupt
        return one(*arguments)

    monkeypatch.setattr(runs, "_one", stop)
    done = _run("reed.yaml", "reed.xlsx", "--replications", "300")
    assert (done.exit_code, "| 100 replications |" in done.stdout) == (130, True)
    assert "Stopped after 100 of 300 replications." in done.stderr


def test_the_help_says_what_is_compared():
    """In the list of commands, and its own."""
    assert "Does it match last year?" in CliRunner().invoke(main, ["--help"]).stdout
    assert "which number to doubt" in " ".join(_run("--help").stdout.split())
