"""The twelve questions: what may be typed, what is tried in place of a figure, and what a file answers."""

import datetime as dt
import math
from pathlib import Path

import pytest

from o2sim.runs.study import run_study
from o2sim.scenario import loads, warnings
from o2sim.scenario.changing.first_scenario import scenario_from
from o2sim.scenario.changing.new_text import change
from o2sim.scenario.keys.answers import (
    Answer,
    figures,
    limits,
    parse_answer,
    tried,
    written,
    wrong_together,
    yours,
)
from o2sim.scenario.keys.answers_in_file import changes, read_answers
from o2sim.scenario.keys.fields import along, documented
from o2sim.scenario.keys.questions import BY_NAME, PAGES, QUESTIONS, on_page
from o2sim.scenario.keys.sources import CUTS_OF_FACILITIES, EXAMPLE
from o2sim.scenario.types.laws import law_mean

TODAY = dt.date(2026, 11, 28)


def ours(**texts):
    """Return answers of the hospital's own, by name."""
    return {name: Answer("ours", text) for name, text in texts.items()}


def test_there_are_twelve_questions_on_four_pages():
    """Each on one page, two to four a page, each at keys that there are."""
    assert [len(on_page(page)) for page in PAGES] == [4, 3, 2, 3]
    known = {path.replace("*", "children") for path, _ in documented()}
    for key in (key for question in QUESTIONS for key in question.keys):
        named = [
            part for part, field in zip(key.split("."), along(key.split(".")), strict=True) if field is not None
        ]
        assert any(path.split(".")[-1] == named[-1] for path in known), key


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.name)
def test_every_figure_offered_is_in_order_allowed_and_has_a_source(question):
    """An invented one says so; the low and the high end have a source each, as the usual figure has."""
    least, most = limits(question)
    found = [each.figure for each in (question.low, question.usual, question.high)]
    assert least <= found[0] < found[1] < found[2] <= most
    for each in (question.low, question.usual, question.high):
        assert any(word in each.source for word in ("invented", "assumed", "common practice", "read")), each.source


@pytest.mark.parametrize(
    ("name", "text", "value", "figure"),
    [
        ("newborns", "45", "45 / month", 45),
        ("newborns", " 45  a month ", "45 / month", 45),
        ("newborns", "45 per month", "45 / month", 45),
        ("newborns", "1,5 a day", "1.5 / day", 1.5 * 365 / 12),
        ("newborns", "1 200", "1200 / month", 1200),
        ("busiest", "1,8 times", "1.8", 1.8),
        ("capacity", "47 litres", "47 L", 47),
        ("capacity", "0,125", "0.125 L", 0.125),
        ("fleet", "80 cylinders", "80", 80),
        ("delivery", "60 h", "60 h", 2.5),
        ("delivery", "1 week", "1 week", 7),
        ("cuts", "3 a day", "3 / day", 21),
        ("cut_length", "90 min", "90 min", 1.5),
    ],
)
def test_what_people_type_is_read(name, text, value, figure):
    """Decimal commas, units in words and in full; as typed it goes into the file."""
    found = parse_answer(BY_NAME[name], text)
    assert (found.value, round(found.figure, 9), found.problem) == (value, round(figure, 9), "")


@pytest.mark.parametrize(
    ("name", "text", "problem"),
    [
        ("newborns", "forty", "Found “forty”. Write a number alone, such as 45."),
        ("newborns", "", "Found nothing. Write a number alone, such as 45."),
        ("newborns", "-3", "Found “-3”. Write a number alone, such as 45."),
        ("newborns", "45 a fortnight", "Found “45 a fortnight”. Write a number alone, such as 45."),
        ("fleet", "40,5", "Found “40,5”. Write a whole number alone, such as 40."),
        ("fleet", "0", "Found “0”. Write a number from 1 to 100000 cylinders."),
        ("busiest", "0.5", "Found “0.5”. Write a number from 1 to 1000 times."),
        ("cuts", "500", "Found “500”. Write a number from 0 to 200 a week."),
        ("fleet", "1,200", "Found “1,200”: is that mark one of thousands or of decimals? "
         "Write thousands without it, and decimals with fewer or more than three digits."),
        ("fleet", "x" * 99, f"Found “{'x' * 27}...”. Write a whole number alone, such as 40."),
    ],
)  # fmt: skip
def test_what_says_nothing_is_said_with_a_way_out(name, text, problem):
    """Found, allowed, an example; nothing is guessed."""
    assert parse_answer(BY_NAME[name], text).problem == problem


def test_figures_beside_each_other_that_cannot_be():
    """A level above all cylinders there are; cuts that leave no power in the week."""
    found = wrong_together(ours(fleet="10", reorder="12", cuts="14", cut_length="9"))
    assert found["reorder"] == "Found 12 with 10 cylinders in all. Write at most 10."
    assert found["cut_length"].endswith("Write at most 7.807 h.")
    assert wrong_together(ours(fleet="10", reorder="10", cuts="14", cut_length="7.8")) == {}


def test_what_is_tried_follows_the_figures_that_are_known():
    """The reorder point a fleet, a fleet the reorder point, cuts and their length each other."""
    assert figures(ours(fleet="60"), "reorder") == (15, 30, 45)
    assert figures(ours(reorder="60"), "fleet") == (60, 120, 240)
    assert tried(BY_NAME["cuts"], ours(cut_length="2")) == (
        BY_NAME["cuts"].low, BY_NAME["cuts"].usual, BY_NAME["cuts"].high)  # fmt: skip
    assert figures(ours(cut_length="20"), "cuts")[2] * 20 * math.exp(math.log(2.5) ** 2 / 2) < 84.1


def test_cuts_and_their_length_become_times_with_and_without_power():
    """Cuts a week are as many as typed: 168 h over up and down together, by the loader's own means."""
    text = scenario_from(ours(cuts="5", cut_length="2"), TODAY)
    grid = loads(text).hospitals["mixed"].grid
    week_s = 7 * 86_400
    assert week_s / (law_mean(grid.up_s) + law_mean(grid.down_s)) == pytest.approx(5, rel=1e-3)  # four digits
    assert "# from the desk, 28 Nov 2026: 5 cuts a week, usually of 2 h\n" in text
    assert loads(scenario_from(ours(cuts="0"), TODAY)).hospitals["mixed"].grid is None


@pytest.mark.parametrize(
    "answers",
    [
        {}, ours(cuts="150"), ours(cut_length="300"), ours(fleet="1"), ours(reorder="0"), ours(reorder="99"),
        ours(units="0", regulators="0"), ours(newborns="0"), {each.name: Answer("usual") for each in QUESTIONS},
        ours(newborns="40", children="1,5 / day", adults="0.2", busiest="1", capacity="10", fleet="7",
             regulators="3", delivery="36 h", reorder="7", units="2", cuts="21", cut_length="30 min",
             month="may"),
    ],
    ids=str,
)  # fmt: skip
def test_any_answers_make_a_scenario_that_says_them_again(answers):
    """It loads at all ends of its ranges, and read back it has what was typed, and whose it is."""
    text = scenario_from(answers, TODAY, "A # name: 'ours'")
    assert loads(text).name == "A # name: 'ours'"
    found = read_answers(text)
    assert yours(found) == yours(answers)
    for name, answer in answers.items():
        if answer.whose == "ours" and name != "month":
            typed = parse_answer(BY_NAME[name], answer.text).figure
            assert float(found[name].text) == pytest.approx(typed, rel=5e-3)  # cuts are worked out, three digits
        elif name != "month":
            assert found[name].whose == "usual"


def test_without_any_answer_it_runs_and_says_that_no_figure_is_theirs():
    """All empty: twelve ranges, no doubt of the checks, three strategies that run."""
    text = scenario_from({}, TODAY)
    scenario = loads(text)
    assert yours(read_answers(text)) == (0, 12)
    assert len(scenario.uncertain) == 12
    assert warnings(scenario) == []
    quick = loads(text.replace("warm_up: 28 days", "warm_up: 0 days\nhorizon: 7 days"))
    assert len(run_study(quick, replications=2).outcomes) == 3


def test_every_line_of_a_figure_says_where_it_comes_from():
    """A comment beside each value; what nobody stated is invented, assumed or has a source."""
    lines = scenario_from(ours(fleet="9"), TODAY).splitlines()
    head = next(place for place, line in enumerate(lines) if line.startswith("warm_up"))
    bare = [line for line in lines[head:] if ": " in line and "  # " not in line and "sources:" not in line]
    assert bare == []
    assert "  fleet: 9   # from the desk, 28 Nov 2026" in lines
    assert any("reorder_point: {low: 2, likely: 4, high: 6}   # not known" in line for line in lines)


def test_a_usual_figure_keeps_its_source():
    """Nobody takes an example for a figure of the place."""
    said = written({name: Answer("usual") for name in BY_NAME}, TODAY)
    assert said["cylinders.fleet"].note == EXAMPLE
    assert said["power.grid.down.median"].note == CUTS_OF_FACILITIES


@pytest.mark.parametrize(
    ("file", "name", "whose", "text", "note"),
    [
        ("district_hospital", "fleet", "file", "30", "those open at once"),
        ("district_hospital", "cuts", "file", "4.3", ""),
        ("district_hospital", "newborns", "file", "27.38", "the classes' shares"),
        ("health_centre", "fleet", "file", "12", "(but mixed has its own)"),
        ("uncertain_valley", "delivery", "unknown", "5", "two suppliers disagree"),
        ("two_wards", "units", "other", "", "each ward states its own"),
        ("two_wards", "newborns", "other", "", "the file has classes of its own: children, adults"),
        ("child_ward", "regulators", "other", "", "the file states regulator_sets instead"),
        ("field_demand", "children", "other", "", "admissions come from a register"),
        ("field_demand", "fleet", "other", "", "the file has no cylinders"),
        ("border_hospital_field", "busiest", "missing", "", ""),
    ],
)  # fmt: skip
def test_what_a_file_answers(file, name, whose, text, note):
    """A figure with its comment, a range, another form with its line, or nothing; none of a demo is anybody's."""
    found = read_answers(Path(f"scenarios/{file}.yaml").read_text(encoding="utf-8"))
    assert yours(found) == (0, 12)
    answer = found[name]
    assert (answer.whose, answer.text) == (whose, text)
    assert note in answer.note
    assert (answer.line > 0) == (whose != "missing" and "has no" not in note)


def test_a_change_of_cuts_leaves_their_length_as_it_is():
    """In a file with another spread of the lengths the cuts are as many as typed all the same."""
    path = Path("scenarios/health_centre.yaml")
    text = path.read_text(encoding="utf-8").replace(
        "median: 4 h, geometric_sd: 2.5", "median: 4 h, geometric_sd: 2"
    )
    new = change(text, values_of(text, ours(cuts="9")), TODAY, folder=path.parent).text
    assert read_answers(new)["cuts"].text == "9"
    assert read_answers(new)["cut_length"].text == "4"
    longer = change(text, values_of(text, ours(cut_length="6")), TODAY, folder=path.parent).text
    assert read_answers(longer)["cuts"].text == read_answers(text)["cuts"].text


def values_of(text, answers):
    """Return the values that answers set in a text, without their comments."""
    return {key: each.value for key, each in changes(text, answers, TODAY).items()}


@pytest.mark.parametrize("name", ["busiest", "cuts", "cut_length"])
def test_a_section_that_a_file_lacks_is_made_whole(name):
    """A season needs its month, a grid both its laws."""
    path = Path("scenarios/field_supply.yaml")
    text = path.read_text(encoding="utf-8")
    values = changes(text, ours(**{name: "3"}), TODAY)
    notes = {key: each.note for key, each in values.items()}
    new = change(text, {key: each.value for key, each in values.items()}, TODAY, notes=notes, folder=path.parent)
    assert read_answers(new.text)[name].text == "3"


def test_no_cuts_take_the_place_of_cuts():
    """And cuts that of none."""
    path = Path("scenarios/district_hospital.yaml")
    text = path.read_text(encoding="utf-8")
    none = change(text, values_of(text, ours(cuts="0")), TODAY, folder=path.parent).text
    assert "  grid: always" in none
    again = change(none, values_of(none, ours(cuts="4", cut_length="1")), TODAY, folder=path.parent).text
    assert read_answers(again)["cuts"].text == "4"
