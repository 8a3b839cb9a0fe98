"""The curve of a sizing against closed forms, and how often its guarantee is broken where the truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import first_passage
from running import daily, head, one_source
from scenario_texts import with_values
from scipy import stats

from o2sim.questions.size.sizing import size
from o2sim.runs.study import run_replication
from o2sim.scenario.changing.override import original_of
from o2sim.statistics.sequential import hopeless, most_failures, refuted, shown

pytestmark = pytest.mark.theory
SURE = 0.9999  # of a band, so that a right curve lies in it at every point
FLEET = "cylinders.fleet"


def shop(full: int, resupply: str, horizon: str, rate: int = 6, spare: int = 40) -> str:
    """Return demands that each empty one cylinder in a minute, on a stock that starts full."""
    return (
        head(horizon, "0 days")
        + f"""
patients:
  demand: {{admissions: {rate} / day, flow: 5 L/min, duration: 1 min, if_unserved: transfer}}
cylinders:
  content: 5 L
  residual_pressure: 0 kPa
  flow_lost_below: 0 kPa
  fleet: {full + spare}
  full_at_start: {full}
  gauge_check: watched
  change_time: 0 min
  leak: 0 L/min
resupply: {resupply}
"""
        + one_source("cylinder")
    )


def weekly(stock: int, weeks: int, rate: int = 6) -> float:
    """Return P(any demand unmet) with a full refill each week: 1 - P(Poisson(7 rate) <= stock)^weeks."""
    return float(1 - stats.poisson.cdf(stock, 7 * rate) ** weeks)


@pytest.mark.parametrize(("weeks", "count"), [(4, 100), pytest.param(52, 1000, marks=pytest.mark.slow)])
def test_curve_against_weekly_refill(weeks: int, count: int) -> None:
    """One batch gives every point of 1 - P(Poisson(42) <= S)^weeks (Poisson process; any textbook)."""
    assert weekly(60, 52) == pytest.approx(0.165080, abs=5e-7)
    assert [weekly(stock, 52) <= limit for stock, limit in ((63, 0.05), (62, 0.05), (67, 0.01), (66, 0.01))] == [
        True, False, True, False,
    ]  # fmt: skip
    text = shop(60, "{review: 7 days, order_up_to: 60, lead_time: 0 h}", f"{7 * weeks} days", spare=0)
    result = size(original_of(text), "only", vary=f"{FLEET} = 40..80 step 2", target=0.1, confidence=SURE,
                  replications=count).result  # fmt: skip
    assert result["method"]["name"] == "one batch"
    for point in result["curve"]:
        assert point["low"] <= weekly(int(point["values"][FLEET]), weeks) <= point["high"]
    assert weekly(int(result["answer"]["values"][FLEET]), weeks) <= 0.1


@pytest.mark.parametrize(("days", "count"), [(10, 100), pytest.param(365, 600, marks=pytest.mark.slow)])
def test_curve_against_first_passage(days: int, count: int) -> None:
    """Base stock from full, exponential lead times: the absorbing birth-death process, at every stock."""
    text = shop(
        30,
        "{review: continuous, reorder_point: 29, order_up_to: 30, lead_time: {exponential: {mean: 3 days}}, "
        "overtaking: allowed}",
        f"{days} days",
    )
    assert first_passage(34, 6, 3, 365) == pytest.approx(0.209857, abs=5e-7)
    result = size(original_of(text), "only", vary=f"{FLEET} = 56..85 step 3", target=0.1, confidence=SURE,
                  replications=count).result  # fmt: skip
    assert result["method"]["name"] == "one batch"
    for point in result["curve"]:
        stock = int(point["values"][FLEET]) - 40
        assert point["low"] <= first_passage(stock, 6, 3, days) <= point["high"]


def test_guarantee_of_the_order_statistic_against_weekly_refill() -> None:
    """Over 1,000 sizings of 200 weekly-refill years the truth is above 5 % no more often than stated.

    The law of a year's highest weekly demand is known, so that the sizing itself is done on drawn numbers.
    """
    highest = np.random.default_rng(7).poisson(42, (1000, 200, 52)).max(axis=2)
    allowed = most_failures(200, 0.05, 0.95)
    chosen = np.sort(highest, axis=1)[:, 200 - allowed - 1]
    broken = int(sum(weekly(int(stock), 52) > 0.05 for stock in chosen))
    assert stats.binom.sf(broken - 1, 1000, 0.05) > 0.001
    assert broken > 0


def truths(target: float) -> dict[int, float]:
    """Return P(any demand unmet in 8 weeks at one a day) by stock; that of 12 lies just above the target."""
    found = {stock: weekly(stock, 8, rate=1) for stock in range(8, 25)}
    assert found[13] < target < found[12] < target + 0.01
    return found


@pytest.mark.slow
def test_guarantee_of_repeated_sizings_against_weekly_refill() -> None:
    """Over 300 sizings by the simulator, each with a seed of its own, it is broken as often as theory says.

    The least stock that is too small fails in 19.7 % of runs; the target is 19 %. An answer is wrong where that
    one, or one below it, fails in few enough replications: a binomial law, and at most the 10 % that are stated.
    """
    truth = truths(0.19)
    source = original_of(shop(8, "{review: 7 days, order_up_to: 8, lead_time: 0 h}", "56 days", rate=1, spare=0))
    chance = float(stats.binom.cdf(most_failures(60, 0.19, 0.9), 60, truth[12]))
    assert 0.05 < chance <= 0.1
    answers = [
        size(
            source, "only", vary=f"{FLEET} = 8..24", target=0.19, confidence=0.9, replications=60, seed=seed
        ).answer
        for seed in range(300)
    ]
    broken = sum(answer is not None and truth[int(answer[FLEET])] > 0.19 for answer in answers)
    print(f"broken {broken} of 300, by theory {300 * chance:.1f}, stated at most 30")
    assert stats.binom.cdf(broken, 300, chance) > 0.001
    assert stats.binom.sf(broken - 1, 300, chance) > 0.001


def passes(chance: float, limit: int, target: float, alpha: float, screen: bool) -> float:
    """Return the exact chance that a candidate with this chance of failing passes within the limit."""
    alive, passed = np.array([1.0]), 0.0
    for n in range(1, limit + 1):
        alive = np.convolve(alive, [1 - chance, chance])
        for failures in range(n + 1):
            if shown(failures, n, target, alpha):
                passed += alive[failures]
            elif not hopeless(failures, limit, target, alpha) and not (
                screen and refuted(failures, n, target, alpha)
            ):
                continue
            alive[failures] = 0.0
    return passed


@pytest.mark.slow
def test_guarantee_of_repeated_searches_against_weekly_refill() -> None:
    """The same by the scan that is confirmed afresh: the levels are held, so that one batch would not do.

    The candidate just above the target is the answer where it passes both, at 10 % and afresh at 5 %: so the
    guarantee is broken far less often than the 10 % that are stated.
    """
    truth = truths(0.19)
    source = original_of(shop(8, "{review: 7 days, lead_time: 0 h}", "56 days", rate=1, spare=0)
                         .replace("  full_at_start: 8\n", ""))  # fmt: skip
    scanned, confirmed = passes(truth[12], 80, 0.19, 0.1, True), passes(truth[12], 80, 0.19, 0.05, False)
    assert 0.01 < scanned <= 0.1
    assert 0.005 < confirmed <= 0.05
    passed = broken = found = 0
    for seed in range(300):
        done = size(source, "only", vary=f"{FLEET} = 10..22 step 2", target=0.19, confidence=0.9, replications=80,
                    seed=seed, hold_levels=True).result  # fmt: skip
        assert done["method"]["name"] == "search"
        found += done["answer"] is not None
        broken += done["answer"] is not None and truth[int(done["answer"]["values"][FLEET])] > 0.19
        passed += any(p["values"][FLEET] == "12" and p["status"] in ("confirmed", "not confirmed")
                      for p in done["curve"])  # fmt: skip
    print(f"passed the scan {passed} of 300, by theory {300 * scanned:.1f}; broken {broken}, by theory "
          f"{300 * scanned * confirmed:.1f}, stated at most 30; found {found}")  # fmt: skip
    for count, chance in ((passed, scanned), (broken, scanned * confirmed)):
        assert stats.binom.cdf(count, 300, chance) > 0.001
        assert stats.binom.sf(count - 1, 300, chance) > 0.001
    assert found > 280


@pytest.mark.parametrize("reorder_point", [18, 22])
def test_cost_of_reorder_points_against_stockpyl(reorder_point: int) -> None:
    """(r, Q) with waiting demand: cost of holding and waiting at reorder points set anew (stockpyl)."""
    from stockpyl.rq import r_q_cost_poisson

    stock_raise, quantity, days = 50, 30, 200
    source = original_of(
        shop(
            stock_raise + 50,
            f"{{review: continuous, reorder_point: {stock_raise + 20}, order_up_to: {stock_raise + 150}, "
            f"vehicle_capacity: {quantity}, lead_time: 3 days}}",
            f"{days} days",
        ).replace("warm_up: 0 days", "warm_up: 60 days")
    )
    expected = r_q_cost_poisson(reorder_point, quantity, 1, 4, 1e-9, 6, 3)  # held 1, waited for 4, a day
    changed = with_values(source, {"resupply.reorder_point": str(stock_raise + reorder_point)})
    costs = []
    for number in range(12):
        (outcome,) = run_replication(changed, ["only"], 5, number, "reference")
        net = daily(outcome, "full") - stock_raise
        costs.append(float((np.maximum(net, 0) + 4 * np.maximum(-net, 0)).mean()))
    error = np.std(costs, ddof=1) / np.sqrt(len(costs))
    assert abs(np.mean(costs) - expected) < 4 * error
