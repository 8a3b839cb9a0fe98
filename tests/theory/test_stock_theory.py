"""The stock of cylinders and its resupply against inventory theory.

A demand is a patient who empties one cylinder in a minute. Spare empties at the door let every order be placed the
moment a cylinder is opened. Where theory lets demand wait, the stock is raised so far that it is never short, and
the net stock is what is full above the raise.
"""

from __future__ import annotations

import numpy as np
import pytest
from formulas import closed_road, erlang_b, first_passage, hadley_whitin, lead_time_demand, poisson_excess
from running import daily, head, one_source, replicate, sizes, z, z_share
from scipy import stats

from o2sim.outcome import Cause

pytestmark = pytest.mark.theory
DAY_S = 86_400
SPARE = 40  # empties at the door, more than are ever in use at once


def shop(full: int, resupply: str, horizon: str = "365 days", warm_up: str = "60 days", spare: int = SPARE) -> str:
    """Return 6 demands a day on a stock that starts with `full` cylinders; resupply as in a scenario, or none."""
    return (
        head(horizon, warm_up)
        + f"""
patients:
  demand: {{admissions: 6 / day, flow: 5 L/min, duration: 1 min, if_unserved: transfer}}
cylinders:
  content: 5 L
  residual_pressure: 0 kPa
  flow_lost_below: 0 kPa
  fleet: {full + spare}
  full_at_start: {full}
  gauge_check: watched
  change_time: 0 min
  leak: 0 L/min
"""
        + (f"resupply: {resupply}\n" if resupply else "")
        + one_source("cylinder")
    )


def base_stock(level: int, lead_time: str) -> str:
    """Return the rule that orders one cylinder for each one opened."""
    return (
        f"{{review: continuous, reorder_point: {level - 1}, order_up_to: {level}, lead_time: {lead_time}, "
        "overtaking: allowed}"
    )


@sizes
@pytest.mark.parametrize(
    ("lead_time", "spare"),
    [
        ("{exponential: {mean: 3 days}}", SPARE),
        ("3 days", SPARE),
        ("4319 min", 0),  # no empty to send before the minute of use is over: three days in all
    ],
)
def test_lost_base_stock_against_erlang_b(lead_time: str, spare: int, size: int) -> None:
    """Base stock with lost demand is Erlang B, insensitive to the lead time (Karush 1957; Sevastyanov 1957)."""
    lost = erlang_b(25, 18)
    assert lost == pytest.approx(0.0247562, abs=5e-8)

    def short(outcome):
        assert outcome.stock_outs == outcome.interruptions[Cause.NO_CYLINDER] == outcome.transferred
        return outcome.transferred, outcome.empty_shelf_s

    samples = replicate(shop(25, base_stock(25, lead_time), spare=spare), 80 * size, short)
    assert np.abs(z(samples / (6 * 365, 365 * DAY_S), (lost, lost))).max() < 4  # Poisson demand sees time averages


@sizes
@pytest.mark.parametrize("lead_time", ["{gamma: {mean: 3 days, sd: 2 days}}", "3 days"])
def test_base_stock_against_palm(lead_time: str, size: int) -> None:
    """Cylinders on order are Poisson whatever the lead time, so are net stock and backorders (Palm 1938)."""
    stock_raise, level = 50, 25
    none, backorders = stats.poisson.sf(level - 1, 18), poisson_excess(18, level)
    assert none == pytest.approx(0.0682602, abs=5e-8)  # the fill rate is 1 less this
    assert backorders == pytest.approx(0.113476, abs=5e-7)

    def shelf(outcome):
        assert outcome.transferred == 0
        net = daily(outcome, "full") - stock_raise
        on_order = daily(outcome, "on_order")
        return (net <= 0).mean(), np.maximum(-net, 0).mean(), on_order.mean(), ((on_order - 18) ** 2).mean()

    samples = replicate(shop(level + stock_raise, base_stock(level + stock_raise, lead_time)), 80 * size, shelf)
    assert np.abs(z(samples, (none, backorders, 18, 18))).max() < 4


@sizes
@pytest.mark.parametrize(
    "rule",  # three ways to say: 30 cylinders when net stock and on order have come down to 20
    [
        "reorder_point: 70, order_up_to: 100",
        "reorder_point: 99, order_up_to: 100, minimum_order: 30",
        "reorder_point: 70, order_up_to: 150, vehicle_capacity: 30",
    ],
)
def test_reorder_point_and_quantity_against_hadley_whitin(rule: str, size: int) -> None:
    """(r, Q) with a constant lead time and waiting demand (Hadley and Whitin 1963, chapter 4)."""
    stock_raise = 50
    expected = hadley_whitin(18, 20, 30)  # fill rate, cycle service, mean on hand
    assert expected == pytest.approx((0.970070, 0.730720, 17.5598), abs=5e-5)

    def shelf(outcome):
        assert outcome.transferred == 0
        net = daily(outcome, "full") - stock_raise
        return (net > 0).mean(), cycles_met(outcome, stock_raise).mean(), np.maximum(net, 0).mean()

    text = shop(100, f"{{review: continuous, {rule}, lead_time: 3 days}}", warm_up="120 days")
    assert np.abs(z(replicate(text, 50 * size, shelf, log=True), expected)).max() < 4


def cycles_met(outcome, stock_raise: int):
    """Return, for each order placed up to day 390, whether net stock was not negative just before its delivery.

    Later orders are left out, since of them the slow ones would not be delivered within the run.
    """
    early = {entry.item for entry in outcome.log if entry.step == "order" and entry.time_s < 390 * DAY_S}
    deliveries = [entry for entry in outcome.log if entry.step == "delivery" and entry.item in early]
    return np.array([entry.value - entry.other >= stock_raise for entry in deliveries])


@sizes
def test_demand_in_a_gamma_lead_time_against_the_negative_binomial(size: int) -> None:
    """Poisson demand in a gamma lead time is negative binomial (Greenwood and Yule 1920; Burgin 1975)."""
    demand = lead_time_demand(6, 4, 3)
    assert demand.sf(30) == pytest.approx(0.110965, abs=5e-7)
    assert demand.ppf(0.95) == 37
    stock_raise = 100
    text = shop(
        stock_raise + 90,  # 60 a lot, so that orders hardly ever overlap
        f"{{review: continuous, reorder_point: {stock_raise + 30}, order_up_to: {stock_raise + 90}, "
        "lead_time: {gamma: {mean: 3 days, sd: 1.5 days}}, overtaking: allowed}",
    )

    def short(outcome):
        return (~cycles_met(outcome, stock_raise)).mean(), (~cycles_met(outcome, stock_raise - 7)).mean()

    samples = replicate(text, 100 * size, short, log=True)
    assert np.abs(z(samples, (demand.sf(30), demand.sf(37)))).max() < 4


@sizes
def test_periodic_review_against_hadley_whitin(size: int) -> None:
    """Weekly order up to S: the least net stock is S less the demand of a week and a lead time (same, ch. 5)."""
    stock_raise, level, lead_days = 60, 75, 3
    text = shop(
        level + stock_raise,
        f"{{review: 7 days, reorder_point: {level + stock_raise - 1}, order_up_to: {level + stock_raise}, "
        f"lead_time: {lead_days} days}}",
        horizon="364 days",
        warm_up="28 days",
    )

    def shelf(outcome):
        net = daily(outcome, "full") - stock_raise
        lowest = net[lead_days::7]  # midnight of the delivery, before it
        return (lowest < 0).mean(), lowest.mean(), net[lead_days + 1 :: 7].mean()

    short = stats.poisson.sf(level, 6 * (7 + lead_days))
    samples = replicate(text, 60 * size, shelf)
    assert np.abs(z(samples, (short, level - 60, level - 6 * 4))).max() < 4


@sizes
def test_weekly_full_refill_against_the_poisson_law(size: int) -> None:
    """Filled up each week at once, the year is 52 independent weeks: 1 - P(Poisson(42) <= S)^52."""
    law = stats.poisson(42)
    any_short = [1 - law.cdf(stock) ** 52 for stock in range(100)]
    assert any_short[60] == pytest.approx(0.165080, abs=5e-7)
    assert [next(s for s in range(100) if any_short[s] <= level) for level in (0.05, 0.01)] == [63, 67]
    text = shop(
        60,
        "{review: 7 days, reorder_point: 59, order_up_to: 60, lead_time: 0 days}",
        horizon="364 days",
        warm_up="0 days",
    )
    samples = replicate(text, 220 * size, lambda outcome: (outcome.stock_outs > 0, outcome.transferred))
    assert abs(z_share(samples[:, 0], any_short[60])) < 4
    assert abs(z(samples[:, 1], 52 * poisson_excess(42, 60))) < 4


@sizes
@pytest.mark.parametrize("stock", [60, 50])
def test_no_resupply_against_the_gamma_law(stock: int, size: int) -> None:
    """Without resupply the first unmet demand is the (S+1)th: a gamma law (Poisson process; any textbook)."""
    short = stats.gamma.cdf(7, stock + 1, scale=1 / 6)
    if stock == 60:
        assert short == pytest.approx(0.00346358, abs=5e-9)
    text = shop(stock, "", horizon="7 days", warm_up="0 days")
    samples = replicate(text, 4000 * size, lambda outcome: (outcome.stock_outs > 0, outcome.transferred))
    assert abs(z_share(samples[:, 0], short)) < 4
    assert abs(z(samples[:, 1], poisson_excess(42, stock))) < 4


@sizes
def test_time_to_run_out_without_resupply_against_the_gamma_law(size: int) -> None:
    """The time to the first unmet demand has mean (S+1) / rate and variance (S+1) / rate squared."""
    mean, variance = 61 / 6, 61 / 36
    assert mean == pytest.approx(10.16667, abs=5e-6)

    def first_unmet_day(outcome):
        return next(entry.time_s for entry in outcome.log if entry.step == "patient transferred") / DAY_S

    text = shop(60, "", horizon="21 days", warm_up="0 days")  # P(fewer than 61 demands in it) is 1e-11
    samples = replicate(text, 1000 * size, first_unmet_day, log=True)
    assert abs(z(samples, mean)) < 4
    assert abs(z((samples - mean) ** 2, variance)) < 4


@sizes
@pytest.mark.parametrize(("stock", "days", "count"), [(34, 365, 100), (27, 30, 700)])
def test_first_stock_out_against_the_birth_death_process(stock: int, days: int, count: int, size: int) -> None:
    """Base stock from full: the first demand unmet is a first passage of an absorbing birth-death process."""
    short = first_passage(stock, 6, 3, days)
    if days == 365:
        assert short == pytest.approx(0.209857, abs=5e-7)
    resupply = base_stock(stock, "{exponential: {mean: 3 days}}")
    text = shop(stock, resupply, horizon=f"{days} days", warm_up="0 days")
    assert abs(z_share(replicate(text, count * size, lambda outcome: outcome.stock_outs > 0), short)) < 4


@sizes
def test_road_closures_against_runs_of_trials(size: int) -> None:
    """Drawn closures hold a noon delivery until a run of midnights without one (Feller 1968, chapter XIII)."""
    text = shop(
        90,
        "{review: 7 days, order_up_to: 90, lead_time: 12 h, overtaking: allowed, "
        "road_closures: [{chance_per_day: 20 %, length: 4 days}]}",
        warm_up="28 days",
    )

    def held(outcome):
        orders = [entry for entry in outcome.log if entry.step == "order" and entry.time_s >= 28 * DAY_S]
        days = np.array([entry.value - entry.time_s for entry in orders]) / DAY_S - 0.5
        return (days > 0).mean(), days.mean()

    assert np.abs(z(replicate(text, 100 * size, held, log=True), closed_road(0.2, 4))).max() < 4
