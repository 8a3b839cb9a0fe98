"""Concentrators of several models in money: lines by model, what is owned of each, repairs and power by model."""

from __future__ import annotations

from dataclasses import replace

import pytest
from synthetic import outcome

from o2sim.money.cheque import capital, cheque, purchases, replacements
from o2sim.money.cost import annual_cost, lines
from o2sim.money.costing import cost_lines
from o2sim.money.listed import quantities
from o2sim.money.not_counted import not_counted
from o2sim.money.to_buy import things
from o2sim.scenario import loads

TEXT = """
horizon: 365 days
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: {exponential: {mean: 40 h}}}}
concentrators:
  repair: 30 days
  failure_clock: calendar
  models:
    five: {rated_flow: 5 L/min, outlets: 2, failure: {exponential: {mean: 2 years}} FIVE}
    ten: {rated_flow: 10 L/min, outlets: 1, failure: {exponential: {mean: 4 years}} TEN}
  units: [UNITS]
costs: {concentrators: {price: 648 USD, life: 7 years MORE} COSTS}
strategies: {units: {sources: [concentrator]}}
"""
OLD = "{model: five, count: 3, owned: true, age: 5 years}"
YEAR = outcome(0)


def place(units=f"{OLD}, {{model: ten, count: 2}}", **parts):
    """Return the hospital with units of two models, texts in the place of words in capitals."""
    text = TEXT.replace("UNITS", units)
    for word in ("FIVE", "TEN", "MORE", "COSTS"):
        text = text.replace(f" {word}", parts.get(word.lower(), ""))
    return loads(text).hospitals["units"]


@pytest.mark.theory
def test_three_owned_of_one_model_and_two_bought_of_another_against_the_annuity():
    """Two at 648: 1,296 to pay, 208.02 a year (0.16051 at 3 % over 7 years, the usual table); three in year 3."""
    hospital = place()
    assert capital(hospital) == 1_296
    assert annual_cost(hospital, YEAR) == {"concentrators": pytest.approx(208.02, abs=0.005)}
    assert [(each["year"], each["items"]) for each in replacements(hospital)] == [
        (3, {"concentrators, five": 3 * 648}),
        (8, {"concentrators, ten": 2 * 648}),
        (10, {"concentrators, five": 3 * 648}),
    ]
    assert capital(place("{model: five, count: 3}, {model: ten, count: 2}")) == 3_240


def test_units_listed_without_models_cost_as_those_that_are_counted():
    """Rows of like units: three aged 5 of 7 years are no purchase, two are bought, under their usual name."""
    text = TEXT.replace("UNITS", "{count: 3, owned: true, age: 5 years}, {count: 2}")
    head, tail = text.split("  models:")
    rest = tail[tail.index("  units:") :]
    like = f"{head}  rated_flow: 5 L/min\n  outlets: 2\n  failure: {{exponential: {{mean: 2 years}}}}\n{rest}"
    hospital = loads(like.replace(" MORE", "").replace(" COSTS", "")).hospitals["units"]
    assert [(each.item, each.count, each.there) for each in purchases(hospital)] == [("concentrators", 2, 3)]
    assert annual_cost(hospital, YEAR)["concentrators"] == pytest.approx(208.02, abs=0.005)


def test_the_price_and_life_of_a_model_go_before_those_of_the_costs():
    """Ten at 1,100 for 5 years, five at 648 for 7; an age counts against the life of its own model."""
    hospital = place(ten=", price: 1100 USD, life: 5 years")
    assert [(each.item, each.count, each.price, each.life_years, each.there) for each in purchases(hospital)] == [
        ("concentrators, five", 0, 648, 7, 3), ("concentrators, ten", 2, 1_100, 5, 0)]  # fmt: skip
    old = place("{model: ten, count: 1, owned: true, age: 6 years}", ten=", life: 5 years")
    assert [(each.count, each.there, each.due) for each in purchases(old)] == [(1, 1, 1)]


def test_a_model_with_its_own_price_brings_the_same_share_of_it():
    """A salvage of 10 % of 600 is one of 10 % of 1,200 too; freight follows the model's own price."""
    hospital = place(more=", salvage: 60 USD", ten=", price: 1296 USD", costs=", freight: 10 %")
    found = {each[0]: each[2] for each in lines(hospital)}
    assert found["concentrators, ten"].salvage == 120
    assert found["freight: concentrators, ten"].price == pytest.approx(129.6)


def test_lines_of_models_add_up_to_the_item_of_all():
    """Purchases, service and freight of each model are lines of the costing; a year's items name none of them."""
    hospital = place("{model: five, count: 3}, {model: ten, count: 2}", more=", service: 60 USD/year",
                     ten=", price: 1100 USD, service_price: 90 USD/year", costs=", freight: 10 %")  # fmt: skip
    items, found = annual_cost(hospital, YEAR), cost_lines(hospital, [YEAR])
    assert list(items) == ["concentrators", "concentrator service", "freight"]
    assert items["concentrator service"] == 3 * 60 + 2 * 90
    assert sum(line.economic for line in found) == pytest.approx(sum(items.values()))
    assert [line.item for line in found] == [
        "concentrators, five", "concentrators, ten", "freight: concentrators, five",
        "freight: concentrators, ten", "concentrator service, five", "concentrator service, ten"]  # fmt: skip


def test_owned_units_of_a_model_forgo_the_interest_on_their_salvage():
    """Three kept at a salvage of 100 forgo 3 % of 300 a year beside the two that are bought."""
    sunk = place(more=", salvage: 100 USD")
    alike = place(more=", salvage: 100 USD", costs=", owned_cost: as bought")
    each = annual_cost(alike, YEAR)["concentrators"] / 5
    assert annual_cost(sunk, YEAR)["concentrators"] == pytest.approx(2 * each + 0.03 * 300)


def test_units_pay_for_the_power_of_their_own_model():
    """1,000 h of 350 W and 2,000 h of 700 W are 1,750 kWh; a fifth of the hours off the grid, a fifth less."""
    hospital = place("{model: five, count: 1}, {model: ten, count: 1}", costs=", electricity: 1 USD/kWh")
    ran = replace(YEAR, concentrator_running_s=3_000 * 3_600, unit_running_s=(1_000 * 3_600, 2_000 * 3_600))
    assert annual_cost(hospital, ran)["electricity"] == pytest.approx(1_750)
    off = replace(ran, off_grid_running_s=600 * 3_600)
    assert annual_cost(hospital, off)["electricity"] == pytest.approx(1_400)


def test_failures_are_shared_out_by_how_often_each_model_is_expected_to_fail():
    """Three of five fail 1.5 times a year, two of ten half a time: of 4 failures three at 100 and one at 300."""
    prices = {"five": ", repair_price: 100 USD", "ten": ", repair_price: 300 USD"}
    hospital = place("{model: five, count: 3}, {model: ten, count: 2}", **prices)
    failed = replace(YEAR, concentrator_failures=4)
    assert annual_cost(hospital, failed)["concentrator repair"] == pytest.approx(600)


def test_the_cheque_shows_what_is_there_of_each_model_beside_what_is_bought():
    """Three of five there, two of ten bought; as things the same numbers, with the year of the next change."""
    found = cheque(place(), [YEAR])
    assert [(each["item"], each.get("there"), each["count"]) for each in found["purchases"]] == [
        ("concentrators, five", 3, 0), ("concentrators, ten", None, 2)]  # fmt: skip
    assert [(each.item, each.count, each.next_due) for each in things(place())][:2] == [
        ("concentrators, five", 3, 3), ("concentrators, ten", 2, None)]  # fmt: skip


def test_lines_that_follow_from_units_go_by_model():
    """Three with two outlets and two with one: three splitters, eight points of use, two filters for each unit."""
    found = {kind.key: count for kind, count in quantities(place())}
    asked = ("splitter", "tubing", "back_up_cylinder", "gross_filter", "stabiliser", "analyser")
    assert {key: found[key] for key in asked} == {
        "splitter": 3, "tubing": 8, "back_up_cylinder": 8, "gross_filter": 10, "stabiliser": 5, "analyser": 1,
    }  # fmt: skip


def test_what_has_no_price_is_named_by_model():
    """The repair and the service of ten have no price, those of five have one."""
    said = not_counted(place(five=", repair_price: 100 USD, service_price: 9 USD/year"))
    assert [each for each in said if "ten" in each] == ["concentrator service, ten", "repairs, ten"]
