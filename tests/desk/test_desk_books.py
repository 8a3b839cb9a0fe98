"""The desk takes the workbook of records: errors by cell, figures into the scenario, and no trace of it."""

import csv
import io
import os
import re
import shlex
import stat
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import book_work
import pytest
from desk_server import served, until
from made_books import WHOLE, book
from small_ward import WARD
from test_desk_pages import text_of
from written_books import workbook

from o2sim import read_records
from o2sim.desk.books_kept import books_of
from o2sim.desk.forms import whose
from o2sim.desk.history import BOOKS as PARTS
from o2sim.desk.history import kept_of_books
from o2sim.desk.sent_books import SentBooks
from o2sim.questions.fit.fitting import fit, parts_of
from o2sim.records.books import BOOKS, LISTS
from o2sim.records.sheets_for_keys import sheets_for
from o2sim.records.template import template
from o2sim.scenario import loads

DEMO = Path(__file__).parents[2] / "scenarios" / "heron_point_records.xlsx"
FEW_BOOKS = ("places", "orders", "stock", "units", "thoughts")  # of the demo: what is fitted in a moment
MARK = "Zzyzxian"  # in no text of ours
FIRST = "our_hospital.yaml"


@pytest.fixture(scope="module")
def small():
    """Give a workbook with a few books of the invented hospital."""
    records = read_records(DEMO)
    others = [each.field for each in BOOKS if each is not LISTS and each.field not in FEW_BOOKS]
    return workbook(replace(records, **dict.fromkeys(others, ())))


@pytest.fixture(scope="module")
def all_tests(tmp_path_factory):
    """Serve one desk for all tests of this file."""
    place = tmp_path_factory.mktemp("books")
    (place / "hospitals").mkdir()
    with served(place / "hospitals", place / "state", book_work.do, book_work.get_ready) as found:
        yield found


@pytest.fixture
def desk(all_tests):
    """Give the desk in an empty folder, with nothing kept of the test before."""
    all_tests.desk.room._jobs.clear()
    for file in all_tests.desk.folder.path.iterdir():
        file.unlink()
    all_tests.desk.choose("")
    return all_tests


def send(desk, content, do="books"):
    """Send a workbook and wait until the work on it has ended; return what the page of the run then leads to."""
    answer = desk.upload("a.xlsx", content, "/records/read", do)
    assert answer.place == "/run", text_of(answer.body)
    assert until(lambda: desk.desk.room.at_work is None, 240)
    return desk.get("/run").place


def fitted(desk, content, found={}):  # noqa: B006
    """Let the desk keep what the books gave over the chosen file: worked out once for all tests of a file."""
    file = desk.desk.file()
    names = [kept_of_books(part, file) for part in PARTS]
    if file not in found:
        assert send(desk, content) == "/records/fits"
        found[file] = {name: desk.desk.history.kept(name) for name in names}
    for name in names:
        desk.desk.history.keep(name, found[file][name])


def write(desk, text=WARD, file="ward.yaml"):
    """Put a scenario into the folder and choose it."""
    path = desk.desk.folder.path / file
    path.write_text(text)
    desk.desk.choose(file)
    return path


def put(desk, numbers=None):
    """Put figures into the scenario as a browser does that has just asked for the page."""
    page = desk.get("/records/fits").body
    text_hash = re.search(r'name="text_hash" value="(\w*)"', page)[1]
    wanted = re.findall(r'name="take" value="(\d+)"', page) if numbers is None else numbers
    return desk.post("/records/put", f"text_hash={text_hash}&" + "&".join(f"take={each}" for each in wanted))


def left(desk):
    """Return what lies there of workbooks that were sent."""
    return [*desk.keys.folder.glob("sent-*")]


# --- to its end, from an empty folder ----------------------------------------------------------------------------


def test_from_an_empty_folder_to_figures_in_a_first_scenario(desk, small):
    """A file is made and the figures put into it; undone, it is the first scenario; most figures are theirs."""
    assert (desk.get("/records").status, send(desk, small), left(desk)) == (200, "/records/fits", [])
    assert [*desk.desk.folder.path.glob("*.yaml")] == []
    assert put(desk).place == "/records/fits"
    text = (desk.desk.folder.path / FIRST).read_text()
    assert whose(text)[0] == 3  # fleet, days to delivery, concentrators
    assert "fleet: 18" in text
    assert "stand in the scenario" in text_of(desk.get("/records/fits").body)
    number = re.search(r'name="change" value="(\d+)"', desk.get("/earlier").body)[1]
    assert desk.post("/undo", f"change={number}").status == 200
    before = (desk.desk.folder.path / FIRST).read_text()
    assert (whose(before)[0], ": records, " in before) == (0, False)


def test_the_figures_are_those_of_the_command(desk, small, tmp_path):
    """Every value of `o2sim fit` over the same base stands in the file, and what it does not give is untouched."""
    path = write(desk)
    fitted(desk, small)
    (tmp_path / "records.xlsx").write_bytes(small)
    found = fit(tmp_path / "records.xlsx", path)
    put(desk)
    made, wanted = loads(path.read_text()), loads(found.text)
    assert made.hash == wanted.hash


def test_only_what_is_ticked_goes_in_and_all_else_stays_letter_by_letter(desk, small):
    """One group: its lines differ, each with a comment that says from which book it is."""
    path = write(desk)
    fitted(desk, small)
    group = next(each for each in books_of(desk.desk.history, "ward.yaml")["groups"] if each["sheet"] == "Orders")
    assert put(desk, [group["number"]]).place == "/records/fits"
    lines = [(old, new) for old, new in zip(WARD.splitlines(), path.read_text().splitlines(), strict=True)
             if old != new]  # fmt: skip
    assert [("lead_time" in old, ": records, Orders: " in new) for old, new in lines] == [(True, True)]


def test_where_another_window_changed_the_file_one_is_asked_which_figures_hold(desk, small):
    """Nothing is overwritten; what is chosen there goes in."""
    path = write(desk)
    fitted(desk, small)
    group = next(each for each in books_of(desk.desk.history, "ward.yaml")["groups"] if each["sheet"] == "Orders")
    page = desk.get("/records/fits").body
    text_hash = re.search(r'name="text_hash" value="(\w*)"', page)[1]
    path.write_text(changed := WARD.replace("fleet: 14", "fleet: 15"))
    answer = desk.post("/records/put", f"text_hash={text_hash}&take={group['number']}")
    assert (answer.status, "Which figures hold?" in answer.body, path.read_text()) == (409, True, changed)
    text_hash = re.search(r'name="text_hash" value="(\w*)"', answer.body)[1]
    desk.post("/records/put", f"text_hash={text_hash}&do=save&{group['number']}.holds=here")
    assert ("fleet: 15" in path.read_text(), ": records, Orders: " in path.read_text()) == (True, True)


def test_the_lines_for_a_terminal_give_the_same(desk, small, tmp_path, monkeypatch):
    """The fit has the figures that the desk put in, and the answer takes the draws that were saved."""
    monkeypatch.chdir(tmp_path)
    fitted(desk, small)
    put(desk)
    page = desk.get("/records/fits").body
    first, compared, _ = [re.sub("<.*?>", "", each) for each in re.findall(r"<code>(.*?)</code>", page)]
    (tmp_path / "records.xlsx").write_bytes(small)
    command = [sys.executable, "-m", *shlex.split(first)]  # by itself: its lines are counted in the tests of fit
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    (tmp_path / FIRST).write_bytes((desk.desk.folder.path / FIRST).read_bytes())
    assert loads((tmp_path / "fitted.yaml").read_text()).hash == loads((tmp_path / FIRST).read_text()).hash
    draws = desk.get("/records/draws").body
    (name,) = [word for word in shlex.split(compared) if word.endswith(".csv")]
    assert draws == (tmp_path / "fitted-draws.csv").read_text()
    assert (name, len([*csv.reader(io.StringIO(draws))])) == ("our_hospital-draws.csv", 201)


def test_the_pages_of_drawings(desk, small):
    """Of each fit a page of at most 60 kB with its drawings; all of them on the page that is saved."""
    fitted(desk, small)
    groups = [each for each in books_of(desk.desk.history, "")["groups"] if each["pictures"]]
    pages = [desk.get(f"/records/fits/{each['number']}").body for each in groups]
    assert [page for page in pages if "<svg" not in page or len(page.encode()) > 60_000] == []
    saved = desk.get("/records/page").body
    assert saved.count("<svg") >= sum(each["pictures"] for each in groups)
    assert len(desk.get("/records/fits").body.encode()) < 60_000


def test_whether_it_matches_is_said_of_the_file_too(desk, small):
    """With all that the books gave it is worked out at once; the other button takes the file as it is."""
    write(desk)
    assert send(desk, small, do="match") == "/records/match"
    assert "The scenario as it was" in text_of(desk.get("/records/match").body)
    assert send(desk, small) == "/records/fits"
    assert "with all that your books gave" in text_of(desk.get("/records/match").body)


def test_what_to_record_is_named_by_its_sheet(desk):
    """The unknown figures of a file, in the words of their questions, by the sheets that give them."""
    write(desk, WARD.replace("fleet: 14", "fleet: {low: 10, likely: 14, high: 18}"))
    assert "Stock card the number of cylinders" in " ".join(text_of(desk.get("/records").body).split())


@pytest.mark.slow
def test_every_figure_of_a_workbook_is_from_a_sheet_that_is_named_for_it():
    """Of the invented hospital, whose workbook has every book."""
    parts = parts_of(read_records(DEMO), 1)
    given = [(key, part.sheet) for part in parts for key in part.keys]
    assert [pair for pair in given if pair[1] not in (*sheets_for(pair[0]), "What we think")] == []
    assert len(given) > 30


def test_the_template_is_that_of_the_command(desk):
    """Byte for byte, and made by a process that does not stay."""
    answer = desk.desk.door, desk.get("/records/template")
    assert answer[1].headers["content-disposition"] == 'attachment; filename="records.xlsx"'
    assert int(answer[1].headers["content-length"]) == len(template())


# --- what cannot be read, and what is left -----------------------------------------------------------------------


def test_each_error_stands_at_its_cell(desk):
    """Sheet, cell, what was found, what is allowed, what to write; as 422, and nothing is kept."""
    rows = {**WHOLE, "Patients on oxygen": [{**WHOLE["Patients on oxygen"][0], "SpO2 %": 0.88}]}
    assert send(desk, book(rows)) == "/records/errors"
    answer = desk.get("/records/errors")
    said = " ".join(text_of(answer.body).split())
    assert answer.status == 422
    assert re.search(r"Patients on oxygen, D\d+ \(SpO2 %\): found 0.88", said), said
    assert (books_of(desk.desk.history, ""), left(desk)) == (None, [])


@pytest.mark.parametrize("content", [b"PK\x03\x04 cut", b"name: x", b""])
@pytest.mark.parametrize("path", ["/records/read", "/read"])
def test_what_is_no_workbook_is_refused(desk, path, content):
    """At once, and nothing of it is written."""
    assert (desk.upload("a.xlsx", content, path).status, left(desk)) == (422, [])


def test_a_workbook_that_comes_while_other_work_is_done_is_not_kept(desk, small):
    """The reader is asked to send it again."""
    write(desk, file="slow.yaml")
    desk.post("/begin/answer")
    answer = desk.upload("a.xlsx", small)
    assert (answer.status, "send the workbook again" in answer.body, left(desk)) == (409, True, [])
    desk.desk.room.stop(desk.desk.room.at_work.number)
    assert until(lambda: desk.desk.room.at_work is None)


def test_a_workbook_is_private_and_gone_when_the_child_is_killed(desk, small):
    """It can be read by its user alone, and goes whatever becomes of the work; the page says to send it again."""
    write(desk, file="slow.yaml")
    assert until(lambda: desk.desk.room.is_ready)
    desk.upload("a.xlsx", small)
    (file,) = [each for folder in left(desk) for each in folder.iterdir()]
    assert (stat.S_IMODE(file.stat().st_mode), stat.S_IMODE(file.parent.stat().st_mode)) == (0o600, 0o700)
    os.kill(desk.desk.room.process_id, 9)
    assert until(lambda: desk.desk.room.at_work is None and not left(desk))
    assert "Nothing of the workbook is kept" in desk.get("/run").body
    assert until(lambda: desk.desk.room.is_ready)


def test_what_a_killed_desk_left_goes_as_the_next_begins(tmp_path):
    """The file of the one that is not there any more is removed."""
    SentBooks(tmp_path).put(b"records")
    assert [*tmp_path.iterdir()] != []
    SentBooks(tmp_path)
    assert [*tmp_path.iterdir()] == []


@pytest.mark.parametrize("where", ["foreign column", "wrong cell"])
def test_a_name_that_was_written_into_a_workbook_appears_nowhere(desk, capfd, where):
    """In a column that is not ours, or in a cell where a number belongs: in no page, store, log or file."""
    if where == "foreign column":
        rows = {name: [{**line, "Remarks": MARK} for line in lines] for name, lines in WHOLE.items()}
    else:
        rows = {**WHOLE, "Patients on oxygen": [{**WHOLE["Patients on oxygen"][0], "SpO2 %": MARK, "Class": MARK}]}
    send(desk, book(rows))
    pages = ("/run", "/records", "/records/errors", "/records/fits", "/records/match", "/records/page", "/earlier",
             "/records/draws")  # fmt: skip
    said = [desk.get(page).body for page in pages]
    files = [
        each for top in (desk.desk.folder.path, desk.keys.folder) for each in top.rglob("*") if each.is_file()
    ]
    kept = [each.read_bytes().decode("latin-1") for each in files]
    assert [text for text in (*said, *kept, *capfd.readouterr()) if MARK in text] == []
