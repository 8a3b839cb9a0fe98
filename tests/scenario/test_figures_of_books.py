"""Figures that were put in from a hospital's own books are known as theirs by the comment beside them."""

import datetime as dt

import pytest

from o2sim.scenario.changing.first_scenario import scenario_from
from o2sim.scenario.keys.answers import yours
from o2sim.scenario.keys.answers_in_file import read_answers
from o2sim.scenario.keys.questions import asked_as
from o2sim.scenario.text.desk_comment import is_from_desk, is_from_records, next_comment, records_note

DAY = dt.date(2026, 11, 28)
NOTE = records_note(DAY, "Orders: 22 of 24 orders, lognormal")


def test_a_comment_says_that_its_value_is_from_a_book():
    """Of the value of its line, or of one named in it; a figure typed later is from the desk and from no book."""
    assert (is_from_records(NOTE), is_from_desk(NOTE)) == (True, True)
    two = next_comment(records_note(DAY, "Units: 3 units"), "count ", "2", f"fleet {NOTE}")
    assert (is_from_records(two, "count"), is_from_records(two, "fleet"), is_from_records(two, "power")) == (
        True, True, False,
    )  # fmt: skip
    assert is_from_records(next_comment("from the desk, 29 Nov 2026", "", "18", NOTE)) is False


@pytest.mark.parametrize("comment", [NOTE, "example"])
def test_a_range_counts_as_theirs_where_it_is_from_a_book(comment):
    """A range is otherwise what nobody knows; a law in another form than the field's is no figure."""
    text = scenario_from({}, DAY)
    line = next(each for each in text.splitlines() if each.lstrip().startswith("lead_time:"))
    law = "{lognormal: {median: {low: 2 days, likely: 3 days, high: 4 days}, geometric_sd: 1.7}}"
    answers = read_answers(text.replace(line, f"  lead_time: {law}  # {comment}"))
    assert (answers["delivery"].recorded, yours(answers)) == (comment == NOTE, (int(comment == NOTE), 12))


@pytest.mark.parametrize(
    ("key", "name"),
    [("resupply.lead_time", "delivery"), ("cylinders.fleet", "fleet"), ("power.grid.down", "cut_length"),
     ("power.grid.up", None), ("patients.children.duration", None)],
)  # fmt: skip
def test_a_law_answers_the_question_that_asks_for_a_number_of_it(key, name):
    """But for the time between two cuts, which is not how many there are a week."""
    found = asked_as(key)
    assert (None if found is None else found.name) == name
