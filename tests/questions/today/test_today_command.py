"""`o2sim today` as typed: what it prints and writes, what it refuses, and what Ctrl-C leaves."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from today_ward import TEXT

import o2sim
from o2sim.cli import main
from o2sim.questions.documents.result_schema import result_schema
from o2sim.questions.today import today as place_of_today

NOW = """now:
  counted: 2027-05-03 07:30
  cylinders: {full: 3, part_used: [90 bar], empty: 12}
  on_order: [{ordered: 2027-05-01, count: 5}, {ordered: unknown, count: 2}]
  on_oxygen:
    - {class: adults, flow: 2 L/min, begun: 2027-05-02, source: cylinder, gauge: 80 bar}
    - {class: children, flow: 1 L/min, begun: 2027-05-02, source: cylinder, gauge: 40 bar}
    - {class: newborns, count: 2}
"""
SCENARIOS = Path(__file__).parents[3] / "scenarios"
FEW = ("--replications", "100", "--days", "8", "--on", "2027-05-03")
SHORT = TEXT.replace("500 days", "60 h")


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Be in a folder with a counted scenario, and one that nobody counted."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "reed.yaml").write_text(SHORT + NOW, encoding="utf-8")
    (tmp_path / "bare.yaml").write_text(SHORT, encoding="utf-8")
    return tmp_path


def run(*arguments: str):
    """Run the command."""
    return CliRunner().invoke(main, ["today", *arguments])


def test_what_is_unknown_stands_above_the_two_sentences(place):
    """First what does not add up and what is drawn, then what to order and whether to phone, then the figures."""
    done = run("reed.yaml", *FEW)
    said = " ".join(done.stdout.split())
    assert done.exit_code == 0, done.output
    assert said.startswith(
        "18 of 40 cylinders were counted: 22 not accounted for, those in use that nobody counted among them. "
        "Of 4 on oxygen not everything is known; drawn are the flow of 2, the time so far of 2, the source of 2 "
        "and the gauge of 2. Not counted, and drawn: when 1 of the 2 open orders was placed. By its author the "
        "figures of the scenario are the hospital's own. Order "
    )
    assert " phone" in said[:1_000].lower()
    for words in ("Counted Mon 3 May 07:30: 3 full, 1 part-used", "The rule (at 14 or fewer", "| seed 1 | 100 rep",
                  "How long it lasts if nothing changes", "By the end of", "bring"):  # fmt: skip
        assert words in said
    assert sorted(path.name for path in place.iterdir()) == ["bare.yaml", "reed.yaml"]


def test_json_is_as_the_schema_says(place):
    """One object by the declared keys; the two sentences are in it, each of 35 words at most."""
    done = run("reed.yaml", "--json", *FEW)
    said = json.loads(done.stdout)
    Draft202012Validator({**result_schema(), "anyOf": [{"$ref": "#/$defs/today"}]}).validate(said)
    assert (len(said["by_day"]), said["complete"], len(said["advice"])) == (8, True, 2)
    assert all(len(each.split()) <= 35 for each in said["advice"])
    assert said["ordering"]["rule"]["next_order_day"] == "2027-05-10"
    bare = [each["bare"]["estimate"] for each in said["by_day"]]
    assert bare == sorted(bare)


def test_the_same_seed_gives_the_same(place):
    """Twice the same figures, and from Python the same object."""
    first, again = (run("reed.yaml", "--json", *FEW).stdout for _ in range(2))
    found = o2sim.today("reed.yaml", replications=100, days=8, on="2027-05-03")
    assert first == again
    assert json.loads(first) == json.loads(json.dumps(found.result))
    assert found.advice == " ".join(json.loads(first)["advice"])


def test_a_folder_a_sheet_and_a_log(place):
    """A page that loads nothing, the days, the JSON, the drawing; one sheet; a line. Again only by force."""
    asked = ("reed.yaml", *FEW, "--out", "out", "--sheet", "wall.html", "--log", "log.jsonl")
    done = run(*asked)
    page = (place / "out" / "today.html").read_text(encoding="utf-8")
    wall = (place / "wall.html").read_text(encoding="utf-8")
    assert done.exit_code == 0, done.output
    assert sorted(each.name for each in (place / "out").iterdir()) == [
        "days.csv", "fan.png", "today.html", "today.json",
    ]  # fmt: skip
    assert (page.count("<svg"), "http" in page.replace("http-equiv", "")) == (1, False)
    assert len((place / "out" / "days.csv").read_text(encoding="utf-8").splitlines()) == 9
    assert "Oxygen today" in wall
    assert "EXAMPLE" not in wall
    assert len((place / "log.jsonl").read_text(encoding="utf-8").splitlines()) == 1
    assert "is there already" in run(*asked).stderr
    assert run(*asked, "--force").exit_code == 0
    assert len((place / "log.jsonl").read_text(encoding="utf-8").splitlines()) == 1


def test_a_sheet_of_example_figures_has_no_number_to_act_by(place):
    """While not all figures are the hospital's own, no order stands on it."""
    text = (place / "reed.yaml").read_text(encoding="utf-8").replace("figures: ours\n", "")
    (place / "reed.yaml").write_text(text, encoding="utf-8")
    assert run("reed.yaml", *FEW, "--sheet", "wall.html").exit_code == 0
    wall = (place / "wall.html").read_text(encoding="utf-8")
    body = re.sub(r"<(style|footer).*?</\1>", "", wall, flags=re.DOTALL)
    assert "EXAMPLE" in wall
    assert not re.search(r"(?i)order (at least )?\d", body)


def test_looking_back_at_a_log(place):
    """One count is too few; as JSON it is as the schema says."""
    run("reed.yaml", *FEW, "--log", "log.jsonl")
    done = run("--log", "log.jsonl", "--review")
    assert done.exit_code == 0, done.output
    assert "1 count in the log, 0 pairs of a forecast and a later count: too few" in " ".join(done.stdout.split())
    said = json.loads(run("--log", "log.jsonl", "--review", "--json").stdout)
    Draft202012Validator({**result_schema(), "anyOf": [{"$ref": "#/$defs/today_review"}]}).validate(said)


def test_an_older_count_says_so(place):
    """What is reported begins on that day, and the order is as if placed at the count."""
    done = run("reed.yaml", *FEW[:-1], "2027-05-05", "--json")
    said = json.loads(done.stdout)
    assert (said["on"], said["by_day"][0]["day"], len(said["by_day"])) == ("2027-05-05", "2027-05-05", 6)
    assert said["unknown"][1].startswith("The count is 2 days old (Mon 3 May)")


def test_nobody_counted_the_patients(place):
    """They are drawn, the flow is that of the forecast, and more children are not tried."""
    text = (place / "reed.yaml").read_text(encoding="utf-8")
    (place / "reed.yaml").write_text(text[: text.index("  on_oxygen")], encoding="utf-8")
    said = json.loads(run("reed.yaml", "--json", *FEW).stdout)
    assert said["unknown"][1].startswith("Nobody has counted who is on oxygen")
    assert (said["cover"]["flow_from"][:4], said["counts"]["on_oxygen"], said["if_so"]) == ("mean", None, [])
    assert said["cover"]["hours"] > 0


def test_without_resupply_the_forecast_stands_alone(place):
    """Nothing can be ordered, and it says so in place of the two sentences."""
    text = re.sub(r"resupply: .*?}\n", "", (place / "reed.yaml").read_text(encoding="utf-8"), flags=re.DOTALL)
    (place / "reed.yaml").write_text(re.sub(r"  on_order: .*\n", "", text), encoding="utf-8")
    done = run("reed.yaml", "--json", *FEW)
    said = json.loads(done.stdout)
    assert (said["ordering"], said["phone"], said["advice"], said["complete"]) == (None, None, [], True)
    assert "no resupply" in " ".join(run("reed.yaml", *FEW).stdout.split())


def test_stopped_while_orders_are_tried_leaves_the_forecast(place, monkeypatch):
    """Ctrl-C after the forecast: what is whole is shown, with exit code 130."""

    def stopped(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(place_of_today, "ordering_of", stopped)
    done = run("reed.yaml", "--json", *FEW)
    said = json.loads(done.stdout)
    Draft202012Validator({**result_schema(), "anyOf": [{"$ref": "#/$defs/today"}]}).validate(said)
    assert (done.exit_code, said["complete"], said["ordering"], len(said["by_day"])) == (130, False, None, 8)
    assert "Stopped before orders were tried" in " ".join(run("reed.yaml", *FEW).stdout.split())


REFUSED = [
    (("bare.yaml",), 1, "nothing is counted: give --count, --records or a section now"),
    ((), 2, "name a scenario, such as: o2sim today ours.yaml"),
    (("none.yaml",), 2, "none.yaml"),
    (("reed.yaml", "--strategy", "cylinder"), 2, "Did you mean 'cylinders'?"),
    (("reed.yaml", "--days", "0"), 2, "--days"),
    (("reed.yaml", "--days", "500"), 2, "--days"),
    (("reed.yaml", "--days", "5", "--on", "2027-05-08"), 1, "5 days or more after the count"),
    (("reed.yaml", "--on", "soon"), 1, "on: found 'soon'; allowed: a date, such as 2027-05-04"),
    (("reed.yaml", "--on", "2027-05-02"), 1, "before the count of 2027-05-03"),
    (("reed.yaml", "--target", "0 %"), 1, "target: found 0.0; allowed: a share above 0 and below 1"),
    (("reed.yaml", "--target", "many"), 2, "--target"),
    (("reed.yaml", "--replications", "5"), 2, "--replications"),
    (("reed.yaml", "--seed", "-1"), 2, "--seed"),
    (("reed.yaml", "--out", "bare.yaml"), 2, "that is a file; name a folder"),
    (("reed.yaml", "--sheet", "wall.pdf"), 2, "write a name that ends in .html"),
    (("reed.yaml", "--sheet", "none/wall.html"), 1, "found no folder none"),
    (("reed.yaml", "--log", "none/log.jsonl"), 1, "found no folder none"),
    (("reed.yaml", "--review", "--log", "log.jsonl"), 2, "--review looks at a log alone"),
    (("--review",), 2, "--review looks at a log alone"),
    (("--review", "--log", "none.jsonl"), 1, "none.jsonl: cannot be read"),
    (("--review", "--log", "bare.yaml", "--out", "x"), 2, "--review writes nothing"),
]


@pytest.mark.parametrize(("arguments", "code", "words"), REFUSED, ids=[" ".join(each[0]) for each in REFUSED])
def test_what_is_refused(place, arguments, code, words):
    """One message with its exit code, nothing printed, nothing written."""
    done = run(*arguments)
    said = " ".join(done.stderr.split())
    assert (done.exit_code, done.stdout, "Traceback" in said) == (code, "", False), done.output
    assert words in said
    assert sorted(path.name for path in place.iterdir()) == ["bare.yaml", "reed.yaml"]


def test_settings_out_of_their_limits_from_python(place):
    """The function refuses what the command would."""
    for asked, words in (({"days": 0}, "days: found 0"), ({"replications": 3}, "replications: found 3"),
                         ({"target": "x"}, "target: "), ({"now": 5}, "now: found int")):  # fmt: skip
        with pytest.raises(o2sim.O2simError, match=words):
            o2sim.today("reed.yaml", **asked)
    units = SHORT.replace("{cylinders: {sources: [cylinder]}}", "{units: {sources: [concentrator]}}")
    units += "concentrators: {count: 1, rated_flow: 5 L/min}\n"
    (place / "units.yaml").write_text(units + "now: {counted: 2027-05-03 07:30}\n", encoding="utf-8")
    with pytest.raises(o2sim.O2simError, match=r"'units' has no cylinders.*nor has any other"):
        o2sim.today("units.yaml", on="2027-05-03")


LINE = "full 3, empty 12, on order 5 since 2027-05-01"


def test_a_count_of_one_line(place):
    """With a day asked for it was counted as the day's staff begin, else when it says; what is wrong is named."""
    one = json.loads(run("bare.yaml", "--count", LINE, "--json", *FEW).stdout)
    other = json.loads(run("bare.yaml", "--count", f"{LINE}, counted 2027-05-03 09:15", "--json", *FEW).stdout)
    assert (one["counted"], other["counted"]) == ("2027-05-03T07:00", "2027-05-03T09:15")
    assert (one["counts"]["full"], one["counts"]["on_order"], one["ordering"]["most"]) == (3, 5, 7)
    done = run("bare.yaml", "--count", "ful 3, empty 12", *FEW)
    assert (done.exit_code, "--count: ful 3: found" in done.stderr, done.stdout) == (2, True, "")
    done = run("bare.yaml", "--count", LINE, "--records", "bare.yaml", *FEW)
    assert (done.exit_code, "allowed: one of them" in done.stderr) == (1, True)
    done = run("bare.yaml", "--records", "bare.yaml", *FEW)
    assert (done.exit_code, "Traceback" in done.stderr, done.stdout) == (2, False, "")


def test_a_count_from_python(place):
    """A text, a mapping as the section, and the record of Python give the same."""
    at = {"counted": "2027-05-03 07:30", "cylinders": {"full": 3, "empty": 12}, "on_oxygen": []}
    asked = {"replications": 100, "days": 3, "on": "2027-05-03"}
    mapping = o2sim.today("bare.yaml", at, **asked)
    text = o2sim.today(
        o2sim.load("bare.yaml"), "counted 2027-05-03 07:30, full 3, empty 12, on oxygen none", **asked
    )
    record = o2sim.today("bare.yaml", mapping.scenario.hospitals["cylinders"].now, **asked)
    assert mapping.record.by_day == text.record.by_day == record.record.by_day


def test_a_count_of_records():
    """The sheets of today of a workbook are a count like any other."""
    books = o2sim.read_records(SCENARIOS / "heron_point_records.xlsx")
    found = o2sim.today(SCENARIOS / "district_hospital.yaml", books, replications=100, days=2, on="2027-01-01")
    assert (found.record.counts.full, found.record.counts.empty) == (books.today[0].full, books.today[0].empty)
    assert sum(found.record.counts.on_oxygen.values()) == len(books.on_patients)


def test_both_engines_give_the_same(place):
    """The readable engine and the compiled one, to the last figure."""
    kernel, reference = (
        json.loads(run("reed.yaml", "--json", "--engine", name, *FEW).stdout) for name in ("kernel", "reference")
    )
    assert {**kernel, "engine": ""} == {**reference, "engine": ""}


def test_stopped_in_the_forecast_leaves_what_is_done(place):
    """Ctrl-C after 150 of 300: what is done is a forecast of its own, without orders."""

    def progress(done: int) -> None:
        if done >= 150:
            raise KeyboardInterrupt

    found = o2sim.today("reed.yaml", replications=300, days=3, on="2027-05-03", progress=progress).record
    assert (found.ran.replications, found.complete, found.ordering) == (150, False, None)


def test_frames_and_a_notebook(place):
    """A row a day and a row for each order; the page of a notebook holds the two sentences."""
    found = o2sim.today("reed.yaml", replications=100, days=3, on="2027-05-03")
    assert list(found.to_frame().columns[:4]) == ["day", "bare", "bare_low", "bare_high"]
    assert list(found.to_frame("orders")["least"]).count(True) == 1
    assert "today" in found._repr_html_()
    with pytest.raises(o2sim.O2simError, match="found of='x'"):
        found.to_frame("x")
    assert found.chart().alt.startswith("Full cylinders from 3 at the count to ")
