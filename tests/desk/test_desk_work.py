"""Work at the desk: its answer, stopped, broken off, of an older file; another desk; forgetting, closing."""

import json

import fake_work
from desk_asked import answered, desk, text_of, worked_out, write
from desk_server import served, until
from scenario_texts import SMALL
from small_ward import WARD

from o2sim.desk.desk import FORMAT

__all__ = ["desk"]  # a fixture


def test_an_answer_says_if_its_file_has_changed(desk):
    """After a change of the file the old answer is shown, and says that it is of another text."""
    path = write(desk, SMALL)
    desk.post("/begin/answer")
    assert "The file has changed since" not in worked_out(desk)
    path.write_text(SMALL.replace("fleet: 4", "fleet: 5"))
    assert "The file has changed since" in desk.get("/answer").body


def test_an_answer_holds_while_only_what_may_be_bought_changes(desk):
    """How often someone goes without depends on no option and no comment; what to buy does, and says so."""
    path = write(desk, WARD)
    here = desk.desk.read()
    for name in ("answer", "buy"):
        result = {**fake_work.do(name, {}, lambda *_: None), "scenario_hash": here.scenario.hash}
        desk.desk.history.keep_answer(here.file, name, here.hash, {**result, "whose": [0, 12], "format": FORMAT})
    path.write_text(WARD.replace("count: [1, 2]", "count: [1, 3]") + "# of this year\n")
    said = ["The file has changed since" in desk.get(path).body for path in ("/answer", "/answer/buy")]
    assert said == [False, True]
    assert text_of(desk.get("/earlier").body).count("the file has changed since") == 1


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
