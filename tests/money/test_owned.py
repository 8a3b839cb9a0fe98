"""What is owned already: not bought, due by its age, in no run; and every line of the list of equipment priced."""

from __future__ import annotations

from dataclasses import replace

import pytest
from synthetic import outcome

from o2sim.draws import Draws
from o2sim.errors import ScenarioError
from o2sim.model.run import simulate
from o2sim.money.cheque import capital, cheque, purchases, recurrent, replacements
from o2sim.money.cost import ITEMS, annual_cost
from o2sim.money.to_buy import things, unpriced
from o2sim.scenario import loads
from o2sim.scenario.building.owned import PLACES
from o2sim.scenario.changing.override import changed, loaded, original_of
from o2sim.scenario.checks.checks import warnings
from o2sim.scenario.types.listed import KINDS

WARD = """
horizon: 20 days
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: {exponential: {mean: 40 h}}}}
cylinders: {content: 6800 L, fleet: 9, regulators: 4, gauge_check: 2 h OWNED}
concentrators: {count: 5, rated_flow: 5 L/min, outlets: 2, power: 0 W UNITS}
costs: {concentrators: {price: 648 USD, life: 7 years MORE} COSTS}
strategies:
  both: {sources: [concentrator, cylinder] BOTH}
"""
AGED = ", owned: 3, owned_age: 5 years"
YEAR = outcome(0)


def ward(**parts):
    """Return the hospital of the ward, with texts in the place of words in capitals."""
    return loads(text(**parts)).hospitals["both"]


def text(**parts):
    """Return the scenario of the ward with texts in the place of words in capitals."""
    found = WARD
    for word in ("OWNED", "UNITS", "MORE", "COSTS", "BOTH"):
        found = found.replace(f" {word}", parts.get(word.lower(), ""))
    return found + parts.get("end", "")


def refused(**parts):
    """Return what is said of a ward that is refused, by key."""
    with pytest.raises(ScenarioError) as caught:
        loads(text(**parts))
    return {problem.field: problem.found for problem in caught.value.problems}


@pytest.mark.theory
def test_three_owned_units_of_five_against_the_annuity():
    """Two at 648: 1,296 to pay, 208.02 a year (0.16051 at 3 % over 7 years, the usual table); three in year 3."""
    hospital = ward(units=AGED)
    assert capital(hospital) == 1_296
    assert annual_cost(hospital, YEAR)["concentrators"] == pytest.approx(208.02, abs=0.005)
    assert annual_cost(hospital, YEAR)["concentrators"] == pytest.approx(2 * 648 * 0.16051, abs=0.01)
    assert [(each["year"], each["amount"]) for each in replacements(hospital)] == [
        (3, 3 * 648), (8, 2 * 648), (10, 3 * 648)]  # fmt: skip


def test_owned_units_cost_the_interest_on_their_salvage_and_their_service():
    """Three at a salvage of 100 forgo 3 % of 300 a year; all five are serviced; as bought all five are charged."""
    more = ", salvage: 100 USD, service: 60 USD/year"
    sunk, none = ward(units=AGED, more=more), ward(more=more)
    alike = ward(units=AGED, more=more, costs=", owned_cost: as bought")
    each = annual_cost(none, YEAR)["concentrators"] / 5
    assert annual_cost(sunk, YEAR)["concentrators"] == pytest.approx(2 * each + 0.03 * 300)
    assert annual_cost(sunk, YEAR)["concentrator service"] == 300
    assert annual_cost(alike, YEAR) == annual_cost(none, YEAR)
    assert capital(alike) == capital(sunk) == 2 * 648
    assert recurrent(sunk, YEAR) == pytest.approx(recurrent(none, YEAR), abs=1e-9)  # service alone, either way


def test_an_option_that_needs_fewer_buys_nothing_and_is_paid_nothing_back():
    """Of three owned units two are needed: no purchase, no cost, each replaced in its year."""
    base = text(units=", owned: 3, owned_age: 5 years", more=", salvage: 100 USD")
    fewer = loads(f"{base}  few: {{sources: [concentrator], concentrators: {{count: 2}}}}\n").hospitals["few"]
    (line,) = purchases(fewer)
    assert (line.count, line.there, line.amount) == (0, 2, 0)
    assert annual_cost(fewer, YEAR) == {"concentrators": pytest.approx(2 * 100 * 0.03)}
    assert replacements(fewer)[0] == {"year": 3, "items": {"concentrators": 1_096}, "amount": 1_096}


def test_what_is_past_its_life_is_bought_again_at_once():
    """Three units of 7 years aged 8: five are bought, less what the three bring; each is charged as bought."""
    hospital = ward(units=", owned: 3, owned_age: 8 years", more=", salvage: 100 USD")
    (line,) = purchases(hospital)
    assert (line.count, line.there, line.due, line.amount) == (5, 3, 3, 5 * 648 - 300)
    assert annual_cost(hospital, YEAR) == annual_cost(ward(more=", salvage: 100 USD"), YEAR)
    assert [each["year"] for each in replacements(hospital)] == [8]


def test_the_first_filling_is_that_of_the_bought_cylinders():
    """Nine full at the start, six owned: three are filled before they come."""
    prices = ", cylinders: {price: 200 USD, refill: 20 USD}"
    paid = cheque(ward(owned=", owned: 6", costs=prices), [YEAR])
    assert [(line["item"], line["count"]) for line in paid["purchases"]] == [
        ("cylinders", 3), ("concentrators", 5), ("first filling of the cylinders", 3)]  # fmt: skip
    assert paid["first_year_capital"] == 3 * 200 + 5 * 648 + 3 * 20


def test_owned_things_change_no_run():
    """The same outcome bit for bit, its log included; and a number of 0 changes no hash."""
    owned = loads(text(units=AGED, owned=", owned: 9, regulators_owned: 2"))
    with_owned, without = (simulate(each, "both", Draws(1, 0), log=True) for each in (owned, loads(text())))
    assert with_owned.log
    assert with_owned == without
    assert loads(text(units=", owned: 0")).hash == loads(text()).hash != loads(text(units=AGED)).hash


def test_no_more_is_owned_than_there_is_to_be():
    """Each key says so at its line, all at once; an age without a number and an age that is negative too."""
    found = refused(
        owned=", owned: 10, regulators_owned: 5, splitters: {count: 1, outlets: 2, owned: 2}",
        units=", owned: 6",
        end="noticed: {by_oximeter: {count: 2, after: 1 min, owned_age: 1 year}}\n"
        "equipment: {trolley: {count: 1, owned: 2}}\n",
    )
    assert found == {
        "cylinders.owned": "found 10 cylinders owned of 9",
        "cylinders.regulators_owned": "found 5 regulators owned of 4",
        "cylinders.splitters.owned": "found 2 splitters owned of 1",
        "concentrators.owned": "found 6 concentrators owned of 5",
        "noticed.by_oximeter.owned_age": "found owned_age, but no owned",
        "equipment.trolley.owned": "found 2 owned of 1",
    }


def test_a_change_may_need_fewer_than_are_owned():
    """A strategy and a varied field may go below what the file owns; what they own themselves may not be more."""
    source = original_of(text(units=AGED))
    hospital = loaded(source, changed(source, {"concentrators.count": "2"})).hospitals["both"]
    assert capital(hospital) == 0
    with pytest.raises(ScenarioError, match="6 concentrators owned of 5"):
        loaded(source, changed(source, {"concentrators.owned": "6"}))
    assert refused(both=", concentrators: {owned: 6}") == {
        "strategies.both.concentrators.owned": "found 6 concentrators owned of 5"
    }


def test_what_is_owned_may_change_where_a_strategy_needs_fewer():
    """Four owned of five in the file, of which a strategy needs two, stay four: none is to be bought for it."""
    source = original_of(f"{text(units=AGED)}  few: {{sources: [concentrator], concentrators: {{count: 2}}}}\n")
    hospitals = loaded(source, changed(source, {"concentrators.owned": "4"})).hospitals
    assert [capital(hospitals[name]) for name in ("both", "few")] == [648, 0]


def test_cylinders_past_their_life_are_bought_and_filled_again():
    """Of nine cylinders three are 25 years old, of a life of 20: their price and their first filling are paid."""
    prices = ", cylinders: {price: 100 USD, life: 20 years, refill: 10 USD}"
    old, young = (ward(owned=f", owned: 3, owned_age: {age} years", costs=prices) for age in (25, 5))
    assert capital(old) - capital(young) == 3 * (100 + 10)


def test_kinds_of_regulator_sets_are_owned_each_at_its_age():
    """Five of eight sets are there, three of them due in year 2; a number beside the kinds is refused."""
    sets = "[{count: 5, owned: 3, owned_age: 6 years}, {count: 3, owned: 2}]"
    changed_text = text(costs=", regulators: {price: 90 USD, life: 7 years}").replace(
        "regulators: 4", f"regulator_sets: {sets}", 1
    )
    hospital = loads(changed_text).hospitals["both"]
    (line,) = (each for each in purchases(hospital) if each.item == "regulators")
    assert (line.count, line.there) == (3, 5)
    assert replacements(hospital)[0] == {"year": 2, "items": {"regulators": 270}, "amount": 270}
    with pytest.raises(ScenarioError, match="regulators_owned beside regulator_sets"):
        loads(changed_text.replace("gauge_check", "regulators_owned: 1, gauge_check"))


def test_what_is_owned_and_used_by_nobody_is_doubtful():
    """Monitors without monitors in the scenario are said to be of no use, with their line."""
    found = [each for each in warnings(loads(text(units=", monitors_owned: 2"))) if "owned" in each.field]
    assert [(each.field, each.line, each.found) for each in found] == [
        ("concentrators.monitors_owned", 5, "oxygen monitors owned, but no strategy has any")
    ]


def test_every_line_of_the_list_can_be_priced():
    """With a price of 10 for each line all but cylinders and regulators have one; what is used up recurs."""
    prices = ", equipment: {" + ", ".join(f"{kind.key}: {{price: 10 USD}}" for kind in KINDS) + "}"
    plain, hospital = ward(), ward(costs=prices)
    assert unpriced(hospital) == ["cylinders", "regulators"]
    lines = {each.item: each for each in things(hospital)}
    yearly = sum(lines[kind.item].count for kind in KINDS if kind.item in lines and kind.yearly)
    bought = sum(lines[kind.item].count for kind in KINDS if kind.item in lines and not kind.yearly)
    assert capital(hospital) - capital(plain) == 10 * bought
    assert recurrent(hospital, YEAR) - recurrent(plain, YEAR) == pytest.approx(10 * yearly)
    assert set(annual_cost(hospital, YEAR)) <= set(ITEMS)


def test_published_prices_stand_in_only_where_asked_for():
    """Analyser 385, sieve beds 185, compressor 180, board 170 (Duke 2021, table 2); in no other currency."""
    asked = ward(costs=", prices_left_out: published")
    found = {line.item: line.price for line in purchases(asked)}
    names = "oxygen analyser", "sieve beds, sets in stock", "compressor kits in stock", "circuit boards in stock"
    assert [found[name] for name in names] == [385, 185, 180, 170]
    assert "cylinder trolleys" in unpriced(asked)
    other = text(costs=", currency: KES, prices_left_out: published").replace("648 USD", "80000 KES")
    with pytest.raises(ScenarioError, match="prices_left_out: published, with prices in KES"):
        loads(other)


def test_a_stated_number_goes_before_the_rule_and_a_gift_has_a_price_of_nothing():
    """Three trolleys in place of one; at 0 USD they are no longer without a price."""
    hospital = ward(
        costs=", equipment: {trolley: {price: 0 USD}}", end="equipment: {trolley: {count: 3, owned: 1}}\n"
    )
    (trolleys,) = (each for each in things(hospital) if each.item == "cylinder trolleys")
    assert (trolleys.count, trolleys.stock.there, trolleys.stock.bought, trolleys.amount) == (3, 1, 2, 0)
    assert "cylinder trolleys" not in unpriced(hospital)


def test_items_that_can_be_owned_are_items_of_the_costs():
    """A place that names another item would be bought all the same; two items of a name would be one cost."""
    assert {place.item for place in PLACES} <= set(ITEMS)
    assert len(set(ITEMS)) == len(ITEMS)
    assert replace(ward(), owned=()) == ward()


def test_freight_is_paid_for_what_is_bought_alone():
    """Of five units three are owned: freight of 20 % is paid for two, and for the three as year 3 begins."""
    hospital = ward(units=AGED, costs=", freight: 20 %")
    paid = {each.item: each.amount for each in purchases(hospital)}
    assert (paid["concentrators"], paid["freight: concentrators"]) == (2 * 648, pytest.approx(2 * 129.6))
    third = next(each for each in replacements(hospital) if each["year"] == 3)
    assert third["items"] == {"concentrators": 3 * 648, "freight: concentrators": pytest.approx(3 * 129.6)}
    whole = ward(costs=", freight: 20 %")
    spread = annual_cost(hospital, YEAR)["freight"], annual_cost(whole, YEAR)["freight"]
    assert spread[0] == pytest.approx(spread[1] * 2 / 5)


def test_what_others_give_is_neither_paid_nor_without_a_price():
    """Units that a donor gives are in no cheque, and the list asks nothing for them."""
    hospital = ward(more=", paid_by: donor")
    (units,) = (each for each in things(hospital) if each.item == "concentrators")
    assert (units.amount, units.unpriced) == (0.0, False)
    assert "concentrators" not in {each.item for each in purchases(hospital)}
