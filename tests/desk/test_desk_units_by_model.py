"""The desk with a hospital whose concentrators are listed by model: what is owned, tried, bought and asked."""

from __future__ import annotations

from desk_asked import desk, hash_in, text_of, write

from o2sim.desk.at_buy import bought, in_all
from o2sim.desk.own_steps import purchases, said_purchases
from o2sim.desk.words import counted
from o2sim.scenario import loads
from o2sim.scenario.changing.option_table import options_of_table
from o2sim.scenario.keys.answers_in_file import read_answers
from o2sim.tabular import Rows

__all__ = ["desk"]  # a fixture
TEXT = """\
name: Two models
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: 40 h}}
cylinders: {content: 6800 L, fleet: 8, regulators: 4}
resupply: {lead_time: 4 days}
concentrators:
  models:
    five: {rated_flow: 5 L/min, outlets: 2}
    ten: {rated_flow: 10 L/min, outlets: 5}
  units: [{model: five, count: 3, owned: true}, {model: five, count: 1}]
costs: {cylinders: {price: 240 USD, refill: 10 USD}, concentrators: {price: 648 USD, life: 7 years}}
strategies:
  cylinders only: {sources: [cylinder]}
  mixed: {sources: [concentrator, cylinder]}
"""
ROWS = "units: [{model: five, count: 3, owned: true}, {model: five, count: 1}]"


def test_steps_try_one_and_two_more_of_each_model():
    """Four fleets, each with what there is and then more of one model at a time; all of them load."""
    rows = purchases(loads(TEXT), "mixed")
    cells = [tuple(row.values()) for row in rows]
    assert cells[:5] == [("8", "1", "0"), ("8", "2", "0"), ("8", "3", "0"), ("8", "1", "1"), ("8", "1", "2")]
    assert len(rows) == 4 * 5
    table = Rows(tuple(rows[0]), tuple(tuple(row.values()) for row in rows))
    found = options_of_table(loads(TEXT), table, "mixed").options.hospitals
    counts = [each.concentrators.count for each in found.values()]
    assert counts[:5] == [4, 5, 6, 5, 6]
    assert said_purchases(rows) == (
        "cylinders in all: 8, 10, 12, 16; concentrators “five” bought: 1, 2, 3; "
        "concentrators “ten” bought: 0, 1, 2"
    )


def test_steps_of_rows_that_no_column_can_name_leave_units_as_they_are():
    """Like units in rows, and two rows of one model to buy, have no column: only cylinders are tried."""
    like = TEXT.replace(ROWS, "units: [{count: 2}, {count: 1}]").replace(
        TEXT[TEXT.index("  models:") : TEXT.index("  units:")], "  rated_flow: 5 L/min\n"
    )
    assert [list(row) for row in purchases(loads(like), "mixed")] == [["cylinders.fleet"]] * 4
    twice = TEXT.replace("count: 3, owned: true", "count: 3")
    assert list(purchases(loads(twice), "mixed")[0]) == ["cylinders.fleet", "concentrators.units.ten.count"]


def test_a_step_names_the_model_that_it_buys():
    """One and two of a model, in words."""
    assert [counted(count, "concentrators, ten") for count in (1, 2)] == [
        "1 concentrator “ten”", "2 concentrators “ten”"]  # fmt: skip
    line = {"item": "concentrators, ten", "in_all": 2, "there": 0, "buy": 2, "each": 648.0, "amount": 1296.0}
    tried = {"concentrators.units.five.count": "0", "concentrators.units.ten.count": "2", "cylinders.fleet": "8"}
    step = {"lines": [line], "choices": tried}
    assert bought(step) == "2 concentrators “ten”"
    assert in_all(step) == "cylinders in all: 8, concentrators “ten” bought: 2"


def test_what_is_listed_has_no_field_but_a_word_where_it_is_changed(desk):
    """The page of what is owned, and that of what may be bought, point to the list in the file."""
    write(desk, TEXT)
    said = desk.get("/answer/buy").body
    assert 'name="owned_concentrators"' not in said
    assert "Concentrators are listed in the file (concentrators.units)" in text_of(said)
    assert "From the file: 3 concentrators." in text_of(said)
    may = desk.get("/answer/options").body
    assert 'name="may_concentrators"' not in may
    assert "a name under options.vary with the whole list for each choice" in text_of(may)


def test_what_is_owned_of_the_rest_is_put_in_beside_the_list(desk):
    """All that the file counts is there already: cylinders and regulators; the list stays letter by letter."""
    path = write(desk, TEXT)
    desk.post("/own", f"text_hash={hash_in(desk.get('/answer/buy').body)}&do=all")
    assert ROWS in path.read_text()
    assert "owned: 8" in path.read_text()


def test_the_question_of_how_many_work_points_to_the_list():
    """The file states units in place of a count: no field shows it as missing."""
    answer = read_answers(TEXT)["units"]
    assert (answer.whose, answer.note) == ("other", "the file states units instead")
