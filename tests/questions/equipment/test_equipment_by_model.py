"""The list of equipment where concentrators are of several models: lines, outlets, loads and hours by model."""

from __future__ import annotations

import pytest

from o2sim.planning.by_model import highest_load_w, outlets_of
from o2sim.questions.equipment.equipment import equipment
from o2sim.questions.equipment.text import content, csv_rows, hours_by_unit
from o2sim.runs.study import run_study
from o2sim.scenario import loads
from o2sim.typed import as_json

WARD = """
horizon: 28 days
warm_up: 7 days
patients: {adults: {admissions: 2 / day, flow: 4 L/min, duration: 2 days}}
concentrators:
  failure: {exponential: {mean: 300 h}}
  repair: 10 days
  models:
    five: {rated_flow: 5 L/min, outlets: 1, power: 350 W, drift: 3 years, service_every: 200 h}
    ten: {rated_flow: 10 L/min, outlets: 2, power: 600 W}
  units: [{model: five, count: 3, owned: true, age: 100 h}, {model: ten, count: 2}]
power:
  grid: {up: {exponential: {mean: 20 h}}, down: {exponential: {mean: 4 h}}}
  battery: {usable: 10 kWh, charge: 600 W}
strategies: {concentrators only: {sources: [concentrator]}}
"""


@pytest.fixture(scope="module")
def needed():
    """Return the lists of the ward."""
    return equipment(run_study(loads(WARD), replications=3, engine="reference"))


def lines(needed):
    """Return the entries of the only strategy by item."""
    (found,) = needed.strategies.values()
    return {each.item: each for each in (*found.equipment, *found.workshop)}


def test_each_model_is_a_line_with_what_it_gives(needed):
    """Three of five are there, two of ten are to buy; what runs at once is of all models together."""
    found = lines(needed)
    five, ten = found["Concentrators, five"], found["Concentrators, ten"]
    assert [(five.quantity, five.there), (ten.quantity, ten.there)] == [(3, 3), (2, None)]
    assert ten.figures.startswith("10 L/min, 2 outlets, 600 W each; ")
    assert "how many of each model are in use at once is not counted" in five.rule
    (lists,) = needed.strategies.values()
    assert [(each.item, each.there, each.to_buy) for each in lists.to_buy][:2] == [
        ("Concentrators, five", 3, 0), ("Concentrators, ten", 0, 2)]  # fmt: skip


def test_points_of_use_are_the_outlets_of_all_models(needed):
    """Three outlets of five and four of ten: seven back-ups, two splitters."""
    found = lines(needed)
    assert found["Back-up cylinders, full"].quantity == 7
    assert found["Back-up cylinders, full"].figures == "3 units of 1 outlet and 2 units of 2 outlets"
    assert (found["Flow splitters"].quantity, found["Flow splitters"].figures) == (2, "2 outlets")


def test_the_load_is_that_of_the_units_of_the_most_watts(needed):
    """Of four that run at most two are of 600 W and two of 350 W: it says that it is a bound."""
    units = loads(WARD).hospitals["concentrators only"].concentrators
    assert [highest_load_w(units, running) for running in range(6)] == [0, 600, 1_200, 1_550, 1_900, 2_250]
    load = lines(needed)["Load of the units"]
    assert load.rule.startswith("at most: ")
    assert load.highest in (1_200, 1_550, 1_900, 2_250)
    assert outlets_of(units) == 7


def test_services_and_running_hours_name_the_model(needed):
    """Only five is serviced; hours of a year stand behind the name of their model, as text and as data."""
    assert lines(needed)["Preventive services"].figures == "five every 200 running hours"
    (lists,) = needed.strategies.values()
    assert as_json(lists)["model_by_unit"] == ["five", "five", "five", "ten", "ten"]
    first, second = hours_by_unit(lists).split("; ")
    assert (first.count(", "), second.count(", ")) == (2, 1)
    assert first.startswith("five ")


def test_text_and_table_have_a_row_for_each_model(needed):
    """The rows of the table to buy from name the model."""
    items = [row[2] for row in csv_rows(needed)]
    assert [item for item in items if item.startswith("Concentrators, ")] == [
        "Concentrators, five", "Concentrators, ten"]  # fmt: skip
    assert "Concentrators, ten" in str(content(needed))
