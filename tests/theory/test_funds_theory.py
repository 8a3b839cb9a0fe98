"""A purse against budgets worked out by the day, and against the Poisson law of what patients need."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from build import CYLINDER, DAY, cylinders, hospital, kind, resupply
from running import head, one_source, sizes, z, z_share
from scipy import stats

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Cause, Outcome
from o2sim.scenario import loads
from o2sim.scenario.types.hospital import Allotment, Costs, Funds, Hospital, Recorded, Scenario, Supplier

pytestmark = pytest.mark.theory
engines = pytest.mark.parametrize("engine", ["reference", "kernel"])
MONTH = 30 * DAY
HALF_DAY_GAS = DAY // 2 * 1_000  # of a cylinder that one patient at 1 L/min empties in twelve hours
CENTS = 100
NONE = 10**9


def always(funds: Funds, days: int, level: int, point: int) -> Hospital:
    """Return a hospital of one patient who is always there, reviewed each midnight, without any stock."""
    one = kind(recorded=Recorded("replay", 0, days, (0,), (1_000,), (days * DAY,)))
    stock = cylinders(fleet=70, full_at_start=0, full_gas=HALF_DAY_GAS, residual_gas=0, lost_gas=0)
    costs = Costs("USD", refill=20.0)
    rule = resupply(DAY, point, level, 0)
    return hospital(
        CYLINDER, horizon_s=days * DAY, patients=(one,), cylinders=stock, resupply=rule, costs=costs, funds=funds
    )


def outcome_of(rules: Hospital, engine: str) -> Outcome:
    """Return the outcome of a hospital, with its log."""
    return simulate(Scenario("t", "", "t.yaml", "0" * 16, {"s": rules}), "s", Draws(1, 0), engine, log=True)


@engines
def test_a_month_that_money_ends_against_its_budget(engine: str) -> None:
    """900 USD buy 45 of the 60 cylinders of a month: 22.5 days are served, 180 h are not, for want of funds."""
    months = 3
    rules = always(Funds(allotment=Allotment(900 * CENTS, MONTH)), months * 30, level=60, point=59)
    outcome = outcome_of(rules, engine)
    assert (outcome.cylinders_delivered, outcome.served_cylinder_s) == (months * 45, months * 22.5 * DAY)
    assert outcome.unserved_s[Cause.NO_FUNDS] == sum(outcome.unserved_s) == months * 180 * 3_600
    assert outcome.unfunded_gas == months * 15 * HALF_DAY_GAS  # needed and not bought
    assert (outcome.paid_cents, outcome.closing_cash_cents) == (months * 900 * CENTS, 0)
    assert sum(outcome.stock_outs_by_cause) == outcome.stock_outs_by_cause[Cause.NO_FUNDS] > 0


@engines
@pytest.mark.parametrize(
    ("allotment", "limit", "stops", "first", "bought", "not_bought", "owed", "cash"),
    [
        (900, 2_000, False, 207, 1_180, 260, 2_000, 0),
        (1_200, 2_000, False, NONE, 1_440, 0, 1_200, 1_200),
        (900, None, True, 143, 1_128, 312, 1_200, 240),
        (1_200, None, True, NONE, 1_440, 0, 1_200, 1_200),
        (900, 0, False, 0, 0, 1_440, 0, 21_600),
    ],
)
def test_credit_against_a_budget_by_the_day(
    engine: str, allotment: int, limit: int | None, stops: bool,
    first: int, bought: int, not_bought: int, owed: int, cash: int,
) -> None:  # fmt: skip
    """Two cylinders a day at 20 USD, due in 30 days, for 24 months: worked out day by day, by hand."""
    supplier = Supplier("credit", None if limit is None else limit * CENTS, MONTH, stops)
    rules = always(Funds(0, Allotment(allotment * CENTS, MONTH), supplier=supplier), 720, level=2, point=0)
    outcome = outcome_of(rules, engine)
    cut = [entry.time_s // DAY for entry in outcome.log if entry.step == "order lacks money"]
    assert min(cut, default=NONE) == first
    assert (outcome.cylinders_delivered, outcome.cylinders_not_ordered) == (bought, not_bought)
    assert (outcome.closing_owed_cents, outcome.closing_cash_cents) == (owed * CENTS, cash * CENTS)
    assert 24 * allotment + owed == cash + 20 * bought


@engines
def test_an_order_against_the_money_there_is(engine: str) -> None:
    """500 USD, a trip of 140, a refill of 16 and carriage of 1.50: 20 cylinders, and 10 USD are left."""
    rules = always(Funds(500 * CENTS), 1, level=60, point=59)
    costs = Costs("USD", refill=16.0, trip=140.0, transport_per_cylinder=1.5)
    outcome = outcome_of(Hospital(**{**vars(rules), "costs": costs}), engine)
    assert (outcome.cylinders_delivered, outcome.closing_cash_cents) == (20, 10 * CENTS)


def june(pays_for: int) -> str:
    """Return June, each patient emptying one cylinder, with money for so many; what was left of May has lapsed."""
    return (
        head("30 days", "28 days").replace("2027-01-01", "2027-06-01")
        + f"""
patients: {{demand: {{admissions: 2 / day, hypoxaemic: 100 %, flow: 5 L/min, duration: 1 min}}}}
cylinders:
  content: 5 L
  residual_pressure: 0 kPa
  flow_lost_below: 0 kPa
  fleet: 400
  full_at_start: 200
  gauge_check: watched
  change_time: 0 min
  leak: 0 L/min
resupply: {{review: continuous, reorder_point: 199, order_up_to: 200, lead_time: 0 min}}
funds:
  opening: 1000000 USD
  allotment: {{amount: {20 * pays_for} USD, every: month, day: 1}}
  lapses: may
costs: {{cylinders: {{refill: 20 USD}}}}
"""
        + one_source("cylinder")
    )


@sizes
@pytest.mark.parametrize(
    ("pays_for", "share", "runs_out"),
    [(45, 0.749037, 0.973418), (54, 0.884479, 0.757857), (60, 0.948568, 0.465738), (66, 0.983202, 0.198826),
     (75, 0.998380, 0.025964)],
)  # fmt: skip
def test_a_month_against_poisson_demand(pays_for: int, share: float, runs_out: float, size: int) -> None:
    """Of Poisson demand N of mean 60, min(N, k) are bought with money for k: E min(N, k) / 60, and P(N > k)."""
    law = stats.poisson(60)
    expected = (sum(law.sf(n) for n in range(pays_for)) / 60, law.sf(pays_for))
    assert expected == pytest.approx((share, runs_out), abs=5e-7)
    text = june(pays_for)
    scenario, seed = loads(text), zlib.crc32(text.encode())
    found = [simulate(scenario, "only", Draws(seed, number)) for number in range(400 * size)]
    bought = np.array([outcome.paid_cents / (20 * CENTS) / 60 for outcome in found])
    cut = np.array([outcome.cylinders_not_ordered > 0 for outcome in found], dtype=float)
    assert abs(z(bought, expected[0])) < 4
    assert abs(z_share(cut, expected[1])) < 4
    assert all(outcome.lapsed_cents > 0 and outcome.allotted_cents == 20 * CENTS * pays_for for outcome in found)
