"""Cheque, list of equipment and options have the same numbers, for every shipped scenario."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from o2sim.money.by_size import refill_price
from o2sim.money.cheque import FIRST_FILL, capital, purchases
from o2sim.questions.choose.options import decide, options_scenario, procurement
from o2sim.questions.choose.screen import decision_sheets
from o2sim.questions.choose.text import cheque_tables, counts, yard
from o2sim.questions.compare.next_steps import in_yard
from o2sim.questions.equipment.buying import tables
from o2sim.questions.equipment.equipment import equipment
from o2sim.questions.equipment.lines import stated_name
from o2sim.runs.study import run_study
from o2sim.scenario import load, loads

SCENARIOS = sorted((Path(__file__).parents[3] / "scenarios").glob("*.yaml"))
DAY_S = 86_400
OWNED = """
horizon: 10 days
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: {exponential: {mean: 40 h}}}}
cylinders: {content: 6800 L, fleet: 9, owned: 6, owned_age: 19 years, regulators: 4, gauge_check: 2 h}
concentrators: {count: 5, owned: 3, owned_age: 5 years, rated_flow: 5 L/min}
costs:
  cylinders: {price: 200 USD, refill: 20 USD, life: 20 years}
  concentrators: {price: 648 USD, life: 7 years}
  equipment: {trolley: {price: 90 USD}}
strategies:
  units: {sources: [concentrator]}
  both: {sources: [concentrator, cylinder]}
options: {of: both, vary: {concentrators.count: [2, 5]}}
"""


def shortened(scenario):
    """Return a scenario whose strategies run for a day: the numbers that are stated do not depend on the run."""
    hospitals = {name: replace(each, horizon_s=DAY_S, warm_up_s=0) for name, each in scenario.hospitals.items()}
    return replace(scenario, hospitals=hospitals)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_list_and_cheque_have_the_same_numbers(path):
    """What is to be bought stands in the list by its number, the cheque pays for it; the sum is the capital."""
    scenario = shortened(load(path))
    needed = equipment(run_study(scenario, replications=1))
    for name, lists in needed.strategies.items():
        hospital = scenario.hospitals[name]
        listed = {each.item: each.quantity for each in lists.equipment}
        counted = {each.item: each for each in lists.to_buy}
        assert {item: listed.get(item) for item in counted} == {
            item: each.quantity for item, each in counted.items()
        }
        paid = {stated_name(line.item): line.count for line in purchases(hospital)}
        assert paid == {item: counted[item].to_buy for item in paid}
        amounts = sum(each.amount or 0.0 for each in lists.to_buy if each.unit == "each")
        if hospital.costs is not None:
            filled = sum(
                _filled(hospital, size) for size in (hospital.cylinders.each if hospital.cylinders else ())
            )
            assert lists.capital == capital(hospital) == pytest.approx(amounts + filled)
        assert all(counted[stated_name(item)].unpriced for item in lists.unpriced)


def _filled(hospital, size):
    """Return what the first filling of a size costs: of the full ones those that are not there already."""
    there = sum(each.count for each in hospital.owned if each.item == "cylinders" and each.size in ("", size.name))
    return max(0, size.full_at_start - there) * refill_price(hospital.costs, size)


@pytest.fixture(scope="module")
def decided():
    """Return the decision among two options of a ward that owns three units and six cylinders, and its study."""
    study = run_study(options_scenario(loads(OWNED)), replications=2)
    return decide(study), study


def test_options_pay_for_what_is_not_owned(decided):
    """Two units of three owned ones: nothing; five: two at 648; three cylinders and their filling in both."""
    decision, study = decided
    spent = {name: each.first_year_capital for name, each in decision.options.items()}
    cylinders = 3 * (200 + 20) + 90
    assert spent == {"concentrators 2": cylinders, "concentrators 5": cylinders + 2 * 648}
    bought = {line.item: line.count for line in decision.cheque.purchases}
    assert bought[FIRST_FILL] == bought["cylinders"] == 3
    in_list = {each.item: (each.quantity, each.there) for each in procurement(study, "concentrators 5")}
    assert (in_list["Concentrators"], in_list["Cylinders, whole fleet"]) == ((5, 3), (9, 6))
    assert decision.cheque.replacements[0].year == 2  # cylinders of 19 in 20 years
    assert [(each.item, each.count, each.age_years) for each in decision.owned] == [
        ("cylinders", 6, 19), ("concentrators", 3, 5)]  # fmt: skip


def test_what_is_in_the_yard_comes_first():
    """The table of the yard leads; a unit is said to stay until year 3, and what is left to buy has its amount."""
    yard, to_buy = tables(equipment(run_study(loads(OWNED), replications=1)))[:2]
    assert yard.columns[0] == "Already in the yard"
    assert yard.rows == (
        ("Concentrators", "3 of 5, until year 3", "3 of 5, until year 3"),
        ("Cylinders, whole fleet", "-", "6 of 9, until year 2"),
    )
    rows = {row[0]: row[1:] for row in to_buy.rows}
    assert rows["Concentrators"] == ("2 x 648 = 1,296",) * 2
    assert rows["in all, to begin with"] == ("1,296", "2,046")
    assert "no price" in rows["Signs: oxygen, no smoking"][0]
    counts = [sum("no price" in row[place] for row in to_buy.rows) for place in (1, 2)]
    assert to_buy.note.endswith(f"in no total, ask for one: {counts[0]} of “units” and {counts[1]} of “both”.")


def test_the_yard_counts_things_and_not_their_freight():
    """Beside freight six cylinders and three units are nine in the yard; what is all there has no freight."""
    text = OWNED.replace("costs:\n", "costs:\n  freight: 10 %\n  duty: 5 %\n").replace("[2, 5]", "[3]")
    paid, again = cheque_tables(decide(run_study(options_scenario(loads(text)), replications=2)))
    has = {row[0]: row[1:3] for row in paid.rows}
    assert (has["already in the yard"][0], has["concentrators"]) == ("9", ("3", "0"))
    assert has["freight: cylinders"] == ("0", "3")
    assert "freight: concentrators" not in has
    assert again.rows[0][2] == "cylinders, with freight and duty"


def test_a_gift_is_listed_as_paid_by_others():
    """Two units that a donor gives are no product that comes to 0."""
    text = OWNED.replace("concentrators: {price", "concentrators: {paid_by: donor, price")
    to_buy = tables(equipment(run_study(loads(text), replications=1)))[1]
    assert {row[0]: row[1] for row in to_buy.rows}["Concentrators"] == "2, paid by others"


def test_the_sheets_to_buy_from_leave_out_what_is_there(decided):
    """Of nine cylinders six are there and three to buy; the cheque has a sum, and names what has no price."""
    decision, study = decided
    _, cheque, to_buy = decision_sheets(replace(decision, procurement=procurement(study, "concentrators 5")))
    assert to_buy.heads[1:4] == ("in all", "there", "to buy")
    assert next(row[1:4] for row in to_buy.rows if row[0] == "Cylinders, whole fleet") == (9, 6, 3)
    rows = {row[0]: row[1:] for row in cheque.rows}
    assert rows["in all, to begin with"][2] == decision.cheque.first_year_capital
    assert rows["cylinders"][-1] == 6
    assert {f"no price, in no total: {item}" for item in decision.cheque.unpriced} <= set(rows)


def test_what_is_past_its_life_is_bought_again_in_list_cheque_and_words():
    """Six of nine cylinders are 21 of 20 years old: all nine are bought, wherever their number stands."""
    study = run_study(options_scenario(loads(OWNED.replace("19 years", "21 years"))), replications=2)
    decision = decide(study)
    listed = {each.item: counts(each, shared=True) for each in procurement(study, "concentrators 5")}
    assert listed["Cylinders, whole fleet"] == (9, 6, 9)
    assert next(line.count for line in decision.cheque.purchases if line.item == "cylinders") == 9
    assert "but for those past their life, bought again at once: cylinders 6" in yard(decision)[0]
    assert in_yard(study.scenario.hospitals["concentrators 5"]) == [
        "Already in the yard, nothing to buy: concentrators 3.",
        "In the yard, but past their life, so to be bought again at once: cylinders 6.",
    ]
