"""The pages of the desk: from an empty folder to an answer, two windows, undoing, forgetting."""

import datetime as dt
import html
import json
import re
from itertools import pairwise

import pytest
from desk_server import served, until
from scenario_texts import SMALL

from o2sim.desk.at_sheets import out_of_date, printed_now
from o2sim.desk.desk import FORMAT
from o2sim.desk.folder import Folder
from o2sim.desk.forms import whose
from o2sim.scenario import loads
from o2sim.scenario.changing.first_scenario import scenario_from
from o2sim.scenario.keys.answers import Answer
from o2sim.scenario.keys.questions import PAGES, QUESTIONS


@pytest.fixture
def desk(tmp_path):
    """Serve a desk in an empty folder."""
    (tmp_path / "hospitals").mkdir()
    with served(tmp_path / "hospitals", tmp_path / "state") as found:
        yield found


def worked_out(desk, path="/answer"):
    """Wait until the work is done; return the page it leads to."""
    assert until(
        lambda: desk.desk.room.at_work is None
    )  # asking for pages meanwhile would read the file each time
    assert until(lambda: desk.get("/run").place == path)
    return desk.get(path).body


def text_of(page):
    """Return the words of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def hash_in(page):
    """Return the hash of the text that a form was made from."""
    return re.search(r'name="text_hash" value="(\w*)"', page)[1]


def write(desk, text, name="hill.yaml"):
    """Put a scenario into the folder and choose it."""
    (desk.desk.folder.path / name).write_text(text)
    desk.post("/choose", f"file={name}")
    return desk.desk.folder.path / name


def answered(desk, fields, page=2):
    """Send a page of questions as a browser does that has just asked for it."""
    before = desk.get(f"/hospital/{page}").body
    return desk.post(f"/hospital/{page}", f"text_hash={hash_in(before)}&do=next&{fields}")


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


def test_an_answer_says_if_its_file_has_changed(desk):
    """After a change of the file the old answer is shown, and says that it is of another text."""
    path = write(desk, SMALL)
    desk.post("/begin/answer")
    assert "The file has changed since" not in worked_out(desk)
    path.write_text(SMALL.replace("fleet: 4", "fleet: 5"))
    assert "The file has changed since" in desk.get("/answer").body


def test_no_figure_is_shown_before_the_end(desk):
    """While the work goes on its page says how far it is, nothing of the answer; without script it asks again."""
    write(desk, SMALL)
    desk.desk.ask("answer", desk.desk.given(desk.desk.read(), (0, 12), of=400, each_s=0.01))
    page = desk.get("/run").body
    assert "Nobody went without" not in page
    assert '<noscript><meta http-equiv="refresh" content="2"></noscript>' in page


def test_stopped_early_the_answer_says_at_how_many(desk):
    """A stop leads to the answer of what was done, which says so; the number asked for was fixed beforehand."""
    write(desk, SMALL)
    job = desk.desk.ask("answer", desk.desk.given(desk.desk.read(), (0, 12), of=400, each_s=0.01))
    assert until(lambda: desk.desk.room.job(job.number).done > 3)
    assert desk.post("/stop").place == "/run"
    done = desk.desk.room.job(job.number).found["done"]
    assert f"Stopped at {done} of 400 years." in worked_out(desk)


def test_other_work_is_not_thrown_away_unasked(desk):
    """Asked for something else meanwhile, the desk asks; with a yes the other is stopped and this one done."""
    write(desk, SMALL)
    desk.desk.ask("answer", desk.desk.given(desk.desk.read(), (0, 12), of=4_000, each_s=0.01))
    assert desk.post("/begin/matters").place == "/busy"
    assert desk.get("/busy").status == 409
    assert desk.post("/instead", "do=begin").place == "/run"
    assert "What would change this answer?" in worked_out(desk, "/answer/matters")


def test_what_was_broken_off_goes_on_in_another_desk(tmp_path):
    """A desk that ends in the middle of a run leaves what was asked; the next one offers to go on, and does."""
    folder, state = tmp_path / "hospitals", tmp_path / "state"
    folder.mkdir()
    with served(folder, state) as desk:
        write(desk, SMALL)
        desk.desk.ask("answer", desk.desk.given(desk.desk.read(), (0, 12), each_s=5.0))
    with served(folder, state) as desk:
        assert "The work was broken off" in desk.get("/run").body
        kept = desk.desk.broken_off()[1]
        desk.desk.history.keep("asked", json.dumps(["answer", {**kept, "each_s": 0.0}]))
        assert desk.post("/go-on").place == "/run"
        assert "Nobody went without." in worked_out(desk)


def test_the_same_door_opens_again(tmp_path):
    """A desk that ended leaves port, path and pass for the next one: an open tab goes on."""
    (tmp_path / "hospitals").mkdir()
    with served(tmp_path / "hospitals", tmp_path / "state") as first:
        first.keys.keep(first.desk.door)
        door = first.desk.door
    with served(tmp_path / "hospitals", tmp_path / "state") as second:
        assert second.desk.door == door
        assert second.get("/").status == 200


def test_a_hospital_that_is_forgotten_leaves_nothing(desk):
    """Answers, changes, drafts and finished years are gone, from the bytes of the file too; the scenario stays."""
    path = write(desk, SMALL)
    answered(desk, "fleet=8&fleet.choice=ours")
    desk.post("/check", "name=regulators&typed=31415&choice=ours")
    desk.post("/begin/answer")
    worked_out(desk)
    assert "Forget all of it" in desk.post("/forget").body
    assert desk.post("/forget", "sure=hill.yaml").status == 200
    left = desk.desk.history.path.read_bytes()
    assert [word for word in (b"hill.yaml", b"31415", b"Nobody went without") if word in left] == []
    assert path.exists()


def test_what_runs_behind_is_forgotten_too(desk):
    """A hospital is forgotten while work on it runs in the background: nothing of that is kept."""
    write(desk, SMALL)
    given = desk.desk.given(desk.desk.read(), (0, 12), of=400, each_s=0.01)
    behind = desk.desk.ask("matters", given, behind=True)
    assert until(lambda: desk.desk.room.job(behind.number).done > 3)
    assert desk.post("/forget", "sure=hill.yaml").status == 200
    assert desk.desk.room.job(behind.number) is None
    assert b"hill.yaml" not in desk.desk.history.path.read_bytes()
    assert desk.desk.history.answers() == []


def test_a_printed_sheet_that_is_out_of_date_is_named():
    """It says 56, the answer now says 70; a foot alone that differs is no change; an example shows no number."""
    name = "reorder-card.html"

    def made(number, foot="", is_example=False):
        page = f"<p>{'' if is_example else number}</p><footer>{foot}</footer>"
        return {"sheets": {name: page}, "acts_by": {} if is_example else {name: number}, "is_example": is_example}

    then, example = ({name: printed_now(made("56", is_example=each), name)} for each in (False, True))
    said = [out_of_date(made(*now), before) for now, before in (
        (("70",), then), (("56", "later"), then), (("70",), example), (("70", "", True), then))]  # fmt: skip
    assert said[0] == [(name, "“When to order” as you last opened it says 56, the answer now says 70.")]
    assert said[1] == []
    assert "was an example" in said[2][0][1]
    assert "70" not in said[3][0][1]


def test_a_sheet_that_was_opened_is_compared_with_the_answer(desk):
    """What was opened to print is kept; after another answer the page of sheets names it, with a link."""
    write(desk, SMALL)
    here = desk.desk.read()
    kept = {"sheets": {"reorder-card.html": "<style></style>at 56<footer></footer>"}, "is_example": False,
            "acts_by": {"reorder-card.html": "56"}, "format": FORMAT}  # fmt: skip
    desk.desk.history.keep_answer(here.file, "keep", here.hash, kept)
    assert "at 56" in desk.get("/sheets/reorder-card.html").body
    assert "Print it again" not in desk.get("/sheets").body
    newer = {**kept, "sheets": {"reorder-card.html": "at 70"}, "acts_by": {"reorder-card.html": "70"}}
    desk.desk.history.keep_answer(here.file, "keep", here.hash, newer)
    assert "says 56, the answer now says 70. Print it again" in text_of(desk.get("/sheets").body)


def test_figures_are_called_theirs_only_where_they_are(desk):
    """With all twelve from the desk the file may say so; with one left open nothing is written."""
    path = write(desk, SMALL)
    assert desk.post("/ours").place == "/sheets"
    assert path.read_text() == SMALL
    answers = {each.name: Answer("ours", str(int(each.usual.figure * 2) if each.whole else each.usual.figure))
               for each in QUESTIONS}  # fmt: skip
    path.write_text(scenario_from(answers, dt.date(2026, 11, 28)))
    assert desk.post("/ours").place == "/answer/keep"
    assert "figures: ours  # from the desk" in path.read_text()
    assert loads(path.read_text()).figures == "ours"


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


def test_an_answer_of_another_version_breaks_no_page(desk):
    """What an older desk has kept is listed, and not taken for an answer that can be shown."""
    write(desk, SMALL)
    here = desk.desk.read()
    desk.desk.history.keep_answer(here.file, "answer", here.hash, {"short": "mixed: 10 in 100", "complete": True})
    assert "Nothing has been worked out" in desk.get("/answer").body
    assert "mixed: 10 in 100 made by another version" in text_of(desk.get("/earlier").body)


def test_closing_ends_the_desk(desk):
    """The button ends the server."""
    ends = []
    desk.desk.end = lambda: ends.append(True)
    assert (desk.post("/close").status, ends) == (200, [True])


def test_prices_are_put_into_the_file_and_counted_apart(desk):
    """A file without prices gets a section of them, a line each with who said so; the twelve stay twelve."""
    path = write(desk, SMALL)
    before = desk.get("/hospital/prices").body
    sent = f"text_hash={hash_in(before)}&currency=USD&price_cylinder=1,240&price_electricity=0.18&price_refill="
    assert desk.post("/hospital/prices", sent).place == "/answer/buy"
    text = path.read_text()
    assert text.startswith(SMALL)
    assert re.findall(r"  (?:price|electricity): (.+?)  # from the desk", text) == ["0.18 USD/kWh", "1240 USD"]
    assert whose(text) == (0, len(QUESTIONS))
    assert loads(text).hospitals["cylinders only"].costs.cylinder.price == 1240


def test_a_price_needs_its_currency_and_is_kept_as_typed(desk):
    """What is wrong is said at its field; nothing is written, and what was typed stands there again."""
    path = write(desk, SMALL)
    sent = f"text_hash={hash_in(desk.get('/hospital/prices').body)}&currency=&price_refill=10.5"
    answer = desk.post("/hospital/prices", sent)
    assert (answer.status, re.findall(r'<li><a href="#(\w+)">', answer.body)) == (422, ["currency"])
    assert 'value="10.5"' in desk.get("/hospital/prices").body
    assert path.read_text() == SMALL


def test_what_is_owned_is_put_in(desk):
    """A number owned goes beside its count; more than there are is refused at its field."""
    path = write(desk, SMALL + "costs: {currency: USD, cylinders: {price: 240 USD}}\n")
    here = hash_in(desk.get("/answer/buy").body)
    wrong = desk.post("/own", f"text_hash={here}&owned_cylinders=9")
    assert (wrong.status, re.findall(r'<li><a href="#(\w+)">', wrong.body)) == (422, ["owned_cylinders"])
    assert desk.post("/own", f"text_hash={here}&owned_cylinders=3").place == "/answer/buy"
    assert re.search(r"fleet: 4\n  owned: 3  # from the desk", path.read_text())
    now = hash_in(desk.get("/answer/buy").body)
    assert desk.post("/own", f"text_hash={now}&do=all").place == "/answer/buy"
    assert "owned: 4  # from the desk" in path.read_text()
    assert "4 cylinders" in re.search(r"From the file: (.*?)\.", text_of(desk.get("/answer/buy").body))[1]


def test_the_purchase_list_of_a_step_is_saved(desk):
    """As a page and as a table; headed as a draft while figures are not theirs; a step that is none leads back."""
    write(desk, SMALL + "costs: {currency: USD, cylinders: {price: 240 USD}}\n")
    desk.post("/begin/buy", "strategy=cylinders+only")
    worked_out(desk, "/answer/buy")
    page, table = (desk.post("/list", f"step=0&as={kind}") for kind in ("html", "csv"))
    assert page.headers["content-disposition"] == 'attachment; filename="purchase-list-draft.html"'
    assert "Draft purchase list" in page.body
    assert "cylinders,4,1,3,240,720,USD" in table.body
    assert desk.post("/list", "step=7").place == "/answer/buy"


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
