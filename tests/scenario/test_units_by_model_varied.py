"""Units set anew by their model: rows changed, added and taken out, in levers and tables."""

from __future__ import annotations

import pandas as pd
import pytest
from scenario_texts import with_values

from o2sim.errors import ScenarioError
from o2sim.scenario import loads
from o2sim.scenario.changing.facilities import overlay
from o2sim.scenario.changing.option_table import options_of_table
from o2sim.scenario.changing.override import original_of, stated
from o2sim.scenario.text.nodes import Scalar, find

TEXT = """
name: Two models
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: 40 h}}
cylinders: {content: 6800 L, fleet: 14, regulators: 8}
resupply: {lead_time: 4 days}
concentrators:
  models:
    five: {rated_flow: 5 L/min, outlets: 2}
    ten: {rated_flow: 10 L/min, outlets: 5}
  units:
    - {model: five, count: 3, owned: true}
    - {model: five, count: 1}
strategies:
  mixed: {sources: [concentrator, cylinder]}
  small: {sources: [concentrator, cylinder], concentrators: {units: [{model: ten, count: 1}]}}
"""
TEN, FIVE = "concentrators.units.ten.count", "concentrators.units.five.count"


def units(hospital):
    """Return the rows of units: how many of which model, `+` for those that are owned."""
    return [f"{row.count} {row.model}{'+' * row.owned}" for row in hospital.concentrators.groups]


@pytest.mark.parametrize(
    ("values", "strategy", "mixed", "small"),
    [
        ({TEN: "2"}, None, ["3 five+", "1 five", "2 ten"], ["2 ten"]),
        ({TEN: "2"}, "mixed", ["3 five+", "1 five", "2 ten"], ["1 ten"]),
        ({FIVE: "0"}, "mixed", ["3 five+"], ["1 ten"]),
        ({FIVE: "4"}, None, ["3 five+", "4 five"], ["1 ten", "4 five"]),
        ({FIVE: "0", TEN: "1"}, "mixed", ["3 five+", "1 ten"], ["1 ten"]),
        ({"concentrators.units[1].count": "2"}, "mixed", ["2 five+", "1 five"], ["1 ten"]),
    ],
)
def test_the_count_of_a_model_is_of_those_that_are_bought(values, strategy, mixed, small):
    """What is owned stays; a row is changed, added behind the others, or taken out by 0."""
    found = with_values(original_of(TEXT), values, strategy)
    assert [units(found.hospitals[name]) for name in ("mixed", "small")] == [mixed, small]


def test_a_row_set_is_the_row_written():
    """The hash is that of a file in which the row stands."""
    written = TEXT.replace("    - {model: five, count: 1}\n", "    - {model: five, count: 2}\n")
    assert with_values(original_of(TEXT), {FIVE: "2"}, "mixed").hash == loads(written).hash


def test_what_the_file_says_of_a_model_is_the_row_that_is_bought():
    """One is bought of five; of ten only one strategy has any."""
    source = original_of(TEXT)
    assert [stated(source, FIVE, "mixed"), stated(source, TEN, "mixed"), stated(source, TEN, "small")] == [
        "1", None, "1"]  # fmt: skip


@pytest.mark.parametrize(
    ("path", "found", "allowed"),
    [
        ("concentrators.units.tne.count", "the model 'tne' is unknown", "one of models: five, ten"),
        ("concentrators.units.ten", "found a row of units", f"one key of it, such as {TEN}"),
        ("concentrators.units.ten.working", "there are no units of the model 'ten'",
         f"{TEN}, which puts them there"),
        ("concentrators.units.five.age", "found 2 rows of 'five'",
         "one of them: concentrators.units[1].age, concentrators.units[2].age"),
        ("concentrators.count", "the units are listed (concentrators.units): their number is that of the rows "
         "together", f"the count of one row, such as {FIVE}"),
        ("concentrators.outlets", "every model states outlets for itself, so that this changes nothing",
         "that of a model: concentrators.models.five.outlets"),
    ],
)  # fmt: skip
def test_what_cannot_be_set_says_what_can(path, found, allowed):
    """Each refusal names the path, what was found there and what may be written instead."""
    with pytest.raises(ScenarioError) as caught:
        with_values(original_of(TEXT), {path: "2"}, "mixed")
    problem = caught.value.problems[0]
    assert (problem.field, problem.found, problem.allowed) == (path, found, allowed)


def test_several_bought_rows_of_a_model_are_named_by_their_place():
    """Rows on two wards are two rows to choose among."""
    text = TEXT.replace("count: 3, owned: true", "count: 3")
    with pytest.raises(ScenarioError, match=r"found 2 rows .* concentrators.units\[1\].count"):
        with_values(original_of(text), {FIVE: "2"}, "mixed")


def test_a_table_of_options_has_a_column_for_each_model():
    """Each option has the rows of its strategy with the counts of its line; owned ones stay."""
    table = pd.DataFrame({TEN: [1, 0], FIVE: [0, 2]})
    mixed = options_of_table(loads(TEXT), table, "mixed").options
    small = options_of_table(loads(TEXT), table, "small").options
    assert {name: units(each) for name, each in mixed.hospitals.items()} == {
        "ten 1, five 0": ["3 five+", "1 ten"], "ten 0, five 2": ["3 five+", "2 five"]}  # fmt: skip
    assert [units(each) for each in small.hospitals.values()] == [["1 ten"], ["2 five"]]


def test_named_options_replace_the_list_of_units_whole():
    """A row of `vary` with a name for each choice says all the units of that choice."""
    text = (
        TEXT
        + """
options:
  of: mixed
  vary:
    new units:
      one of ten: {concentrators: {units: [{model: five, count: 3, owned: true}, {model: ten, count: 1}]}}
      two of five: {concentrators: {units: [{model: five, count: 3, owned: true}, {model: five, count: 2}]}}
"""
    )
    assert [units(each) for each in loads(text).options.hospitals.values()] == [
        ["3 five+", "1 ten"], ["3 five+", "2 five"]]  # fmt: skip


def test_a_facility_of_a_table_has_units_by_model():
    """A cell of the column of a model changes its row alone."""
    root = overlay(original_of(TEXT).root, TEN.split("."), Scalar(2, "", "3"))
    rows = find(root, ["concentrators", "units"])
    assert [row.entries["count"].text for row in rows.items] == ["3", "1", "3"]
