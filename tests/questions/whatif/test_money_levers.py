"""Money as a lever: what an allotment, or what may be owed, buys in what-if, drivers, sizing and facilities."""

from __future__ import annotations

import pytest
from test_sizing import WARD

from o2sim.measures.names import BROKEN, CHANCE, COST, NEEDED, NOT_BOUGHT, SUPPLY_HOURS
from o2sim.questions.drivers import text as driven
from o2sim.questions.drivers.drivers import drivers
from o2sim.questions.equipment.equipment import equipment
from o2sim.questions.equipment.text import LACKING
from o2sim.questions.equipment.text import content as of_equipment
from o2sim.questions.facilities import tables
from o2sim.questions.facilities.result import Figures
from o2sim.questions.size import money_text
from o2sim.questions.size.content import csv_columns, csv_rows
from o2sim.questions.size.sizing import size
from o2sim.questions.whatif.text import content, next_steps
from o2sim.questions.whatif.whatif import whatif
from o2sim.runs.study import run_study
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of
from o2sim.typed import as_json

HOW = {"engine": "reference"}
FUNDS = "funds: {allotment: {amount: 60 USD, every: 30 days}}\n"
OWED = "funds: {allotment: {amount: 60 USD, every: 30 days}, supplier: {terms: credit, limit: 40 USD}}\n"
ONE = {"strategies": ["cylinders only"], "replications": 4}


def poor(text=FUNDS):
    """Return the ward with a purse."""
    return loads(WARD.rstrip() + "\n" + text)


def lacking(result, name="cylinders only"):
    """Return what was not bought at each point."""
    return [point["strategies"][name][NOT_BOUGHT]["mean"] for point in result["points"]]


@pytest.mark.parametrize(
    ("text", "lever"),
    [
        (FUNDS, "funds.allotment.amount = 20 USD, 60 USD, 9000 USD"),
        (OWED, "funds.supplier.limit = 20 USD, 40 USD, 9000 USD"),
    ],
)
def test_more_money_leaves_less_unbought(text, lever):
    """Under the same luck; with plenty nothing is left unbought, and cost and hours say which side is poor."""
    result = whatif(poor(text), lever, **ONE, **HOW).result
    least, some, plenty = lacking(result)
    assert least > some > plenty == 0
    assert {NEEDED, NOT_BOUGHT, COST} <= result["units"].keys()
    assert BROKEN in result["units"]
    said = " ".join(str(block) for block in content(result))
    assert ("not bought" in said, "a low cost may be poverty" in said) == (True, True)
    assert next_steps(result) != []


def test_a_what_if_without_a_purse_has_no_such_measure():
    """No key and no unit more."""
    result = whatif(loads(WARD), "cylinders.fleet = 14", **ONE, **HOW).result
    assert {NEEDED, NOT_BOUGHT, BROKEN} & {
        *result["units"],
        *result["points"][0]["strategies"]["cylinders only"],
    } == set()


def test_drivers_show_what_an_uncertain_allotment_does():
    """Cylinders not bought stand beside the cost, as a measure of their own with its unit."""
    unsure = WARD.rstrip() + "\n" + FUNDS.replace("60 USD", "{low: 20 USD, likely: 60 USD, high: 900 USD}")
    found = drivers(original_of(unsure), **ONE, **HOW).result
    bars = found["strategies"]["cylinders only"]["bars"]
    assert list(bars) == [CHANCE, SUPPLY_HOURS, COST, NOT_BOUGHT]
    (bar,) = [each for each in bars[NOT_BOUGHT] if each["field"] == "funds.allotment.amount"]
    assert bar["low"]["mean"] > bar["high"]["mean"] == 0
    assert found["units"][NOT_BOUGHT] == "number per 365 days"
    assert driven.NAMES[NOT_BOUGHT] == "cylinders a year not bought for want of money"


def test_a_sizing_says_where_money_and_not_the_stock_is_short():
    """No stock is enough with 20 USD a month; costs stand beside what was not bought, in words and file."""
    text = FUNDS.replace("60 USD", "20 USD")
    asked = {"replications": 60, "target": 0.2, "vary": ["cylinders.fleet = 14, 16"]}
    found = size(poor(text), "cylinders only", **asked, **HOW).record
    said = money_text.short_of_money(found)
    assert money_text.MONEY_SHORT in said
    assert "were not bought for want of money there" in said
    assert csv_columns(found)[-3:] == (NEEDED, NOT_BOUGHT, BROKEN)
    assert [len(row) for row in csv_rows(found)] == [len(csv_columns(found))] * len(found.curve)


def test_a_list_of_equipment_says_that_money_was_lacking():
    """Numbers at once are of what could be paid for."""
    study = run_study(poor(), workers=1, **ONE, **HOW)
    said = " ".join(str(block) for block in of_equipment(equipment(study)))
    assert (LACKING in said) is True


def test_facilities_add_what_was_not_bought():
    """Of two: 30 of 120 and 0 of 60, together 30 of 180, in the table of totals and in each row."""
    from o2sim.money.unbought import Unbought
    from o2sim.statistics.estimates import Mean, Probability

    half, mean = Probability(0.5, 0.1, 0.9, 0.95), Mean(1.0, 0.0, 2.0)
    found = [
        {
            "facility": name, "place": name, "scenario_hash": "0" * 16, "horizon_days": 365.0, "currency": "USD",
            "strategies": {"s": as_json(Figures(9, half, half, mean, mean, mean, mean, unbought=each))},
        }
        for name, each in (("a", Unbought(120.0, 30.0, None)), ("b", Unbought(60.0, 0.0, None)))
    ]  # fmt: skip
    (table,) = tables.total_tables(found)
    assert dict(table.rows)["  cylinders not bought, of those needed"] == "30 of 180"
    rows = [row[-1] for row in tables.facility_table(found).rows if row[0] == "  s"]
    assert rows == ["1 (0–2)\n30 of 120 not bought", "1 (0–2)\n0 of 60 not bought"]
    assert [row[-3:] for row in tables.csv_rows({"facilities": found})] == [(120.0, 30.0, ""), (60.0, 0.0, "")]
