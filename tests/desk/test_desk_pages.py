"""The pages of the desk: questions, files and what is changed in them, two windows, undoing."""

import datetime as dt
import re
from itertools import pairwise

from desk_asked import answered, desk, hash_in, text_of, worked_out, write
from scenario_texts import SMALL

from o2sim.desk.folder import Folder
from o2sim.desk.forms import whose
from o2sim.scenario import loads
from o2sim.scenario.keys.questions import PAGES, QUESTIONS

__all__ = ["desk"]  # a fixture


def test_nothing_known_gives_an_answer_that_says_so(desk):
    """From an empty folder, all left open, a scenario is written, run, and answered for no figure of theirs."""
    assert desk.post("/hospital/1", "do=work").place == "/run"
    page = text_of(worked_out(desk))
    written = (desk.desk.folder.path / "our_hospital.yaml").read_text()
    assert "0 of 12 figures are yours. 12 are examples or unknown" in page
    assert len(loads(written).uncertain) == len(QUESTIONS)


def test_a_figure_of_theirs_is_counted_and_stands_in_the_file(desk):
    """What was typed is in the file that is made, with who said so."""
    desk.post("/hospital/1", "newborns=50&newborns.choice=ours&do=work")
    written = (desk.desk.folder.path / "our_hospital.yaml").read_text()
    assert whose(written) == (1, len(QUESTIONS))
    assert re.search(r"admissions: 50 / month +# from the desk, ", written)


def test_each_usual_value_says_where_it_comes_from(desk):
    """Beside the choice of a usual figure stands its source; an invented one says so; no field is filled in."""
    pages = [desk.get(f"/hospital/{number}").body for number in range(1, len(PAGES) + 1)]
    said = "".join(map(text_of, pages))
    assert [each.name for each in QUESTIONS if f"({each.usual.source})" not in said] == []
    assert "(example hospital, invented)" in said
    assert re.findall(r'<input type="text"[^>]*value="([^"]+)"', "".join(pages)) == []


def test_what_is_wrong_is_said_at_its_field_and_in_the_summary(desk):
    """A figure that is none, and a field without choice, are named on top, each with a link to its field."""
    answer = desk.post("/hospital/1", "newborns=forty&newborns.choice=ours&adults=&adults.choice=ours&do=next")
    assert answer.status == 422
    assert re.findall(r'<li><a href="#(\w+)">', answer.body) == ["newborns", "adults"]
    assert "Not yet: 2 to look at" in answer.body
    assert text_of(answer.body).count("Found “forty”") == 2


def test_a_field_is_checked_and_kept_as_it_is_left(desk):
    """The check says what is wrong; what was typed is there when the page is asked for again."""
    wrong = desk.post("/check", "name=newborns&typed=forty&choice=ours")
    right = desk.post("/check", "name=newborns&typed=31&choice=ours")
    assert ("Found “forty”" in wrong.body, right.body) == (True, '{"problem":""}')
    assert 'value="31"' in desk.get("/hospital/1").body


def test_one_figure_changes_one_line(desk):
    """With a file, a figure is put where the old one stood, the comment says by whom; the change is kept."""
    path = write(desk, SMALL)
    assert answered(desk, "fleet=9&fleet.choice=ours").place == "/hospital/3"
    before, after = SMALL.splitlines(), path.read_text().splitlines()
    differs = [pair for pair in zip(before, after, strict=True) if pair[0] != pair[1]]
    assert [new.partition("  #")[0] for _, new in differs] == ["  fleet: 9"]
    assert whose(path.read_text())[0] == 1
    assert "How many cylinders there are in all: 4 cylinders → 9 cylinders" in text_of(desk.get("/earlier").body)


def test_undo_gives_back_every_byte(desk):
    """A change that is undone leaves the file as it was."""
    path = write(desk, SMALL)
    answered(desk, "fleet=9&fleet.choice=ours")
    number = re.search(r'name="change" value="(\d+)"', desk.get("/earlier").body)[1]
    assert desk.post("/undo", f"change={number}").status == 200
    assert path.read_bytes() == SMALL.encode()


def test_a_later_change_is_not_undone_with_an_earlier_one(desk):
    """Where the file was changed since, undoing is refused and the file left alone."""
    path = write(desk, SMALL)
    answered(desk, "fleet=9&fleet.choice=ours")
    number = re.search(r'name="change" value="(\d+)"', desk.get("/earlier").body)[1]
    path.write_text(path.read_text() + "# by hand\n")
    kept = path.read_bytes()
    assert desk.post("/undo", f"change={number}").status == 409
    assert path.read_bytes() == kept


def test_a_file_that_changed_meanwhile_is_asked_about(desk):
    """Changed by an editor after the page was made, nothing is written; each figure that differs can be chosen."""
    path = write(desk, SMALL)
    old = hash_in(desk.get("/hospital/2").body)
    path.write_text(SMALL.replace("fleet: 4", "fleet: 7"))
    answer = desk.post("/hospital/2", f"text_hash={old}&fleet=9&fleet.choice=ours&do=next")
    assert (answer.status, "Which figures hold?" in answer.body) == (409, True)
    assert re.findall(r"<span>(\d cylinders)</span>", answer.body) == ["7 cylinders", "9 cylinders"]
    assert "fleet: 7" in path.read_text()
    chosen = f"text_hash={hash_in(answer.body)}&page=2&fleet=9&fleet.choice=ours&do=save"
    desk.post("/which", f"{chosen}&fleet.holds=there")
    assert "fleet: 7" in path.read_text()
    desk.post("/which", f"{chosen}&fleet.holds=here")
    assert "fleet: 9" in path.read_text()


def test_what_the_form_cannot_show_is_left_as_it_is(desk):
    """Classes of the file's own stand in another form: the page names the line, and nothing overwrites it."""
    path = write(desk, SMALL)
    page = text_of(desk.get("/hospital/1").body)
    assert "This stands in the file in another form, in line 2" in page
    answered(desk, "newborns=9&newborns.choice=ours", page=1)
    assert path.read_text() == SMALL


def test_what_is_assumed_is_shown_with_its_source(desk):
    """Each value of the file with its comment; what a question asks for leads there; defaults are there."""
    write(desk, SMALL.replace("fleet: 4", "fleet: 4  # counted in May"))
    page = desk.get("/assumed").body
    assert re.search(
        r'fleet</th><td>4<br><a href="[^"]*/hospital/2#fleet">Change it</a></td><td>counted in May', page
    )
    assert "stated, without a source" in page
    assert "gauge check" not in page
    assert "gauge check" in desk.get("/assumed/defaults").body


def test_the_scenario_is_saved_as_it_is(desk):
    """What one saves is the file, letter by letter."""
    text = SMALL.replace("\n", "\r\n") + "# é\r\n"
    path = desk.desk.folder.path / "hill.yaml"
    path.write_bytes(text.encode())
    desk.post("/choose", "file=hill.yaml")
    answer = desk.get("/scenario")
    assert (answer.body, answer.headers["content-disposition"]) == (text, 'attachment; filename="hill.yaml"')


def test_errors_of_a_file_are_shown_at_their_lines(desk):
    """Of a file that cannot be used each problem is shown with its line; nothing is kept of it."""
    answer = desk.upload("hill.yaml", SMALL.replace("fleet: 4", "fleet: many").encode())
    line = SMALL.splitlines().index("  fleet: 4") + 1
    assert f"Line {line} cylinders.fleet: found" in text_of(answer.body)
    assert [each.name for each in desk.desk.folder.path.iterdir() if each.suffix == ".yaml"] == []


def test_every_page_of_a_hospital_is_shown(desk):
    """Each place leads somewhere, before an answer and after it."""
    write(desk, SMALL)
    paths = ("", "hospital/1", "answer", "answer/matters", "answer/buy", "answer/power", "answer/keep", "sheets",
             "earlier", "run")  # fmt: skip
    assert [desk.get(f"/{path}").status for path in paths] == [200] * len(paths)
    desk.post("/begin/answer")
    worked_out(desk)
    desk.post("/begin/keep", "target=10&strategy=cylinders only".replace(" ", "+"))
    worked_out(desk, "/answer/keep")
    assert [desk.get(f"/{path}").status for path in paths[:-1]] == [200] * (len(paths) - 1)


def test_today_is_not_asked_of_the_clock_twice(desk):
    """The day beside a figure is that of the desk."""
    desk.desk.today = lambda: dt.date(2026, 11, 28)
    path = write(desk, SMALL)
    answered(desk, "fleet=9&fleet.choice=ours")
    assert "fleet: 9  # from the desk, 28 Nov 2026; before: 4" in path.read_text()


def test_a_file_is_read_again_only_where_it_may_have_changed(tmp_path):
    """The same text gives the same scenario; another text, or one that names a table, is read anew."""
    path = tmp_path / "hill.yaml"
    folder = Folder(tmp_path)
    found = []
    for text in (SMALL, SMALL, SMALL.replace("fleet: 4", "fleet: 9"), SMALL + "# file", SMALL + "# file"):
        path.write_text(text)
        found.append(folder.read("hill.yaml").scenario)
    fleets = [next(iter(each.hospitals.values())).cylinders.fleet for each in found]
    assert fleets == [4, 4, 9, 4, 4]
    assert [each is before for before, each in pairwise(found)] == [True, False, False, False]
