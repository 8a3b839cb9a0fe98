"""Names that lead off the computer, marks beside uncertain numbers and control characters: one message each."""

from __future__ import annotations

import pytest
from scenario_texts import SMALL

from o2sim import loads
from o2sim.errors import Problem, ScenarioError, plain
from o2sim.scenario import load
from o2sim.scenario.building import beside
from o2sim.scenario.changing import facilities
from o2sim.scenario.changing.facilities import read_facilities
from o2sim.scenario.text.places import on_network

UNCERTAIN = SMALL.replace("fleet: 4", "fleet: {low: 3, likely: 4, high: 6}")
FAR = [r"\\\\server\\share\\a.csv", "//server/share/a.csv", r"\\/server/a.csv", "file:///etc/a.csv", "http://host/a.csv",
       "https://host/a.csv", " //server/a.csv", r"\\\\?\\UNC\\server\\a.csv"]  # fmt: skip


@pytest.mark.parametrize("name", FAR)
def test_a_name_that_leaves_the_computer_is_never_opened(tmp_path, monkeypatch, name):
    """A share or an address in a scenario is refused by its text: no path is made of it."""
    file = tmp_path / "here.yaml"
    file.write_text(f"{SMALL}start: 2027-01-01\npower: {{grid: {{file: '{name}'}}}}\n", encoding="utf-8")
    scenario = f"{SMALL}start: 2027-01-01\npower: {{grid: {{file: '{name}'}}}}\n"
    monkeypatch.setattr(beside.Path, "resolve", lambda *_: pytest.fail("it was looked for"))
    with pytest.raises(ScenarioError) as error:
        load(file)
    assert [problem.found for problem in error.value.problems] == [
        f"found {name.strip()!r}, which is not on this computer"
    ]
    assert scenario in file.read_text()


@pytest.mark.parametrize("name", ["a.csv", "sub/a.csv", "C:/a.csv", "a//b.csv", "../a.csv"])
def test_other_names_are_not_taken_for_shares(name):
    """A name on this computer is left to the rule of the folder."""
    assert not on_network(name)


def test_an_address_as_the_scenario_itself():
    """An address in place of a scenario or of facilities says what to do, and is not looked for."""
    for read in (load, lambda path: read_facilities(facilities.Path(path))):
        with pytest.raises(ScenarioError, match="found an address; allowed: the path of a file or folder on this"):
            read("http://host/a.yaml")


MARKED = [
    ("fleet: &a {low: 3, likely: 4, high: 6}", "found the anchor &a"),
    ("fleet: !t {low: 3, likely: 4, high: 6}", "found the tag '!t'"),
    ("fleet: {low: 3, likely: &x 4, high: 6}", "found the anchor &x"),
    ("fleet: {low: !!int 3, likely: 4, high: 6}", "found the tag"),
    ('fleet: {low: 3, likely: "4\\a", high: 6}', "found the character U+0007"),
    ('fleet: {low: 3, likely: 4, high: 6, "z\\e": 1}', "found the character U+001B"),
    ("&a fleet: {low: 3, likely: 4, high: 6}", "found the anchor &a"),
    ("fleet: {low: 3, likely: *q, high: 6}", "found the alias *q"),
]


@pytest.mark.parametrize(("written", "found"), MARKED)
def test_marks_beside_an_uncertain_number(written, found):
    """An anchor, tag, alias or control character beside an uncertain number is a problem with its line."""
    with pytest.raises(ScenarioError) as error:
        loads(UNCERTAIN.replace("fleet: {low: 3, likely: 4, high: 6}", written))
    assert found in str(error.value)
    assert all(problem.line == 9 for problem in error.value.problems)


def test_a_short_row_of_cuts_that_begins_with_the_hours(tmp_path):
    """A row without a start is one problem with its line, whatever column stands first."""
    (tmp_path / "cuts.csv").write_text("hours,start\n2.5\n", encoding="utf-8")
    file = tmp_path / "here.yaml"
    file.write_text(f"{SMALL}start: 2027-01-01\npower: {{grid: {{file: cuts.csv}}}}\n", encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"cuts\.csv:2: start: found nothing"):
        load(file)


def table(tmp_path, text):
    """Return what is read of a table of facilities over the small scenario."""
    (tmp_path / "base.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "posts.csv").write_text(text, encoding="utf-8")
    return read_facilities(tmp_path / "posts.csv", tmp_path / "base.yaml")


def test_control_characters_of_a_table_never_reach_a_terminal(tmp_path):
    """A cell or column with an escape is a problem that names it, and no message holds the character itself."""
    read = table(tmp_path, "name,cylinders.fleet\nFern\x1b[31m post,4\nMoss,5\n")
    assert [each.scenario.name for each in read.sound] == ["Moss"]
    assert [problem.found for problem in read.problems] == ["found the character U+001B"]
    with pytest.raises(ScenarioError, match=r"column 2: found the character U\+001B") as error:
        table(tmp_path, "name,cylinders.fle\x1bet\nFern,4\n")
    assert "\x1b" not in str(error.value)


def test_keys_and_files_with_control_characters_are_escaped():
    """A key with an escape or a line end is shown in one line of printed signs."""
    with pytest.raises(ScenarioError) as error:
        loads(SMALL.replace("fleet:", '"fl\\e[31meet":'))
    assert "\x1b" not in str(error.value)
    assert str(Problem("a\nb", 1, "k\x07", "found 'x'", "")) == r"a\nb:1: k\x07: found 'x'"


def test_plain_leaves_what_is_printed():
    """Letters of all scripts stay, joiners too; controls and marks that turn the direction become escapes."""
    assert plain("Ürümçi \u0928\u200d\u0940") == "Ürümçi \u0928\u200d\u0940"
    assert plain("a\x1b[0m\u202eb\nc", keep="\n") == "a\\x1b[0m\\u202eb\nc"


def test_more_facilities_than_a_study_takes(tmp_path, monkeypatch):
    """A table of too many rows is refused before any is read, with the limit and the row that is one too many."""
    monkeypatch.setattr(facilities, "MOST_FACILITIES", 2)
    with pytest.raises(ScenarioError, match=r"posts\.csv:4: found 3 rows; allowed: at most 2 facilities"):
        table(tmp_path, "name\na\nb\nc\n")
