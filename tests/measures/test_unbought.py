"""What was needed and not bought, and units broken without repair: from an outcome, as means, against a budget."""

from __future__ import annotations

import pytest
from build import CYLINDER, DAY, cylinders, hospital, kind, resupply
from poor_ward import PURSE, broken
from synthetic import UNITS, outcome
from synthetic import hospital as made_up

from o2sim.draws import Draws
from o2sim.measures.names import BROKEN, NEEDED, NOT_BOUGHT
from o2sim.measures.replications import replication_table
from o2sim.measures.unbought import unbought_of
from o2sim.model.run import simulate
from o2sim.money.unbought import Unbought, lacking_of, mean_of, unbought
from o2sim.scenario.types.hospital import Allotment, Costs, Funds, Recorded, Scenario

HALF_DAY_GAS = DAY // 2 * 1_000  # of a cylinder that one patient at 1 L/min empties in twelve hours


@pytest.mark.theory
def test_cylinders_not_bought_against_a_budget():
    """One patient empties two cylinders a day of 20 USD; 900 USD a month buy 45 of 60, so 15 are not bought."""
    one = kind(recorded=Recorded("replay", 0, 90, (0,), (1_000,), (90 * DAY,)))
    stock = cylinders(fleet=70, full_at_start=0, full_gas=HALF_DAY_GAS, residual_gas=0, lost_gas=0)
    rules = hospital(
        CYLINDER, horizon_s=90 * DAY, patients=(one,), cylinders=stock, resupply=resupply(DAY, 59, 60, 0),
        costs=Costs("USD", refill=20.0), funds=Funds(allotment=Allotment(900_00, 30 * DAY)),
    )  # fmt: skip
    scenario = Scenario("t", "", "t.yaml", "0" * 16, {"s": rules})
    found = unbought(rules, lacking_of(simulate(scenario, "s", Draws(1, 0), "reference")))
    assert found.needed == pytest.approx(60 * 365 / 30)
    assert found.not_bought == pytest.approx(15 * 365 / 30)


def test_broken_hours_are_those_out_less_those_in_repair():
    """A unit is out for 500 h, mended for 100 of them: 400 h, where the purse pays for parts."""
    one = outcome(0, at_once=broken(500))
    assert unbought(made_up(funds=PURSE), lacking_of(one)).broken_hours == pytest.approx(400)
    assert unbought(made_up(funds=Funds()), lacking_of(one)).broken_hours is None


def test_without_a_purse_nothing_is_counted():
    """No funds, or a purse that pays for nothing that is there."""
    assert unbought(made_up(), lacking_of(outcome(0))) is None
    assert unbought(made_up(cylinders=None, resupply=None, funds=Funds()), lacking_of(outcome(0))) is None
    assert replication_table(made_up(), [outcome(0)]).values.keys() & {NEEDED, NOT_BOUGHT, BROKEN} == set()


def test_means_of_a_table_and_of_replications_agree():
    """By both ways the same, per 365 days, whatever the length of the horizon."""
    rules = made_up(funds=PURSE, horizon_s=73 * DAY, concentrators=UNITS)
    made = [outcome(k, days=73, cylinders_delivered=10 + k, at_once=broken(200)) for k in range(4)]
    table = unbought_of(replication_table(rules, made))
    assert table == mean_of(unbought(rules, lacking_of(each)) for each in made)
    assert table == Unbought(57.5, 0.0, pytest.approx(500))


def test_a_mean_of_some_that_count_no_money_is_none():
    """Rows of draws without a purse have no such number."""
    assert mean_of([Unbought(1.0, 0.0, None), None]) is None
