"""Joint draws against theory: the answer of each row in closed form, and the mixture over rows of it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from formulas import poisson_excess
from running import head, one_source
from scipy import stats
from test_sizing_theory import shop, weekly

from o2sim.measures.measures import summarise
from o2sim.questions.size.sizing import size
from o2sim.runs.study import run_study
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of

pytestmark = pytest.mark.theory
DAYS, ROWS, EACH = 20, 60, 10


def rates(sd: float, mean: float) -> np.ndarray:
    """Return a rate for each row: lognormal, by even shares of probability, in no order."""
    shares = (np.arange(ROWS) + 0.5) / ROWS
    return np.random.default_rng(4).permutation(mean * np.exp(sd * stats.norm.ppf(shares) - sd**2 / 2))


def studied(text: str, per_day: np.ndarray, strategy_rows: int = EACH) -> dict:
    """Return the summary of a study whose rows have these rates of admission."""
    draws = pd.DataFrame({"patients.all.admissions (/day)": per_day})
    return summarise(run_study(loads(text), replications=strategy_rows * ROWS, draws=draws))


@pytest.fixture(scope="module")
def alone():
    """Return rates by row, and the summary where all who come go short: the chance is 1 - exp(-rate x days)."""
    per_day = rates(0.8, 0.05)
    text = head(f"{DAYS} days", "0 days") + one_source("concentrator")
    text += "patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: 2 h}}\n"
    text += "concentrators: {count: 1, rated_flow: 1 L/min, outlets: 1}\nallocation: {reduced_flow: never}\n"
    return per_day, studied(text, per_day)


def test_the_chance_is_that_of_the_mixture_of_poisson_laws(alone):
    """The chance of any arrival of a Poisson process (any textbook), averaged over rows."""
    per_day, summary = alone
    by_row = stats.poisson.sf(0, per_day * DAYS)
    found = summary["strategies"]["only"]["stock_out_probability"]
    luck = np.sqrt((by_row * (1 - by_row)).mean() / (ROWS * EACH))  # given the rows: only luck is left
    assert abs(found["estimate"] - by_row.mean()) / luck < 4
    both = np.sqrt(luck**2 + by_row.var(ddof=1) / ROWS)
    assert (found["high"] - found["low"]) / 2 == pytest.approx(stats.t.ppf(0.975, ROWS - 1) * both, rel=0.15)


def test_the_split_is_that_of_the_law_of_total_variance(alone):
    """Var(Y) = Var(E(Y | row)) + E(Var(Y | row)): between rows that of 1 - exp(-rate x days), the rest luck."""
    per_day, summary = alone
    by_row = stats.poisson.sf(0, per_day * DAYS)
    parts = summary["draws"]["split"]["only"]["stock_out_probability"]
    assert parts["by_inputs"] == pytest.approx(by_row.var(ddof=1), rel=0.35)
    assert parts["by_luck"] == pytest.approx((by_row * (1 - by_row)).mean(), rel=0.1)
    whole, mean = parts["by_inputs"] + parts["by_luck"], by_row.mean()
    assert whole == pytest.approx(mean * (1 - mean), rel=0.1)
    assert parts["low"] < by_row.var(ddof=1) / (mean * (1 - mean)) < parts["high"]


def test_unserved_hours_are_those_of_the_mixture_of_overflows():
    """Unserved at once are (N - c)+ with N Poisson of the row's load (Mirasol 1963); its mean over rows."""
    per_day, stay_days, units = rates(0.5, 2.0), 1.0, 3
    text = head(f"{DAYS} days", "5 days") + one_source("concentrator")
    text += "patients: {all: {admissions: 1 / day, flow: 1 L/min, duration: {exponential: {mean: 1 day}}}}\n"
    text += f"concentrators: {{count: {units}, rated_flow: 1 L/min, outlets: 1}}\n"
    summary = studied(text, per_day, 5)
    yearly = np.array([poisson_excess(rate * stay_days, units) for rate in per_day]) * 365 * 24
    found = summary["strategies"]["only"]["unserved_patient_hours"]
    error = (found["high"] - found["low"]) / 2 / stats.t.ppf(0.975, ROWS - 1)
    assert abs(found["mean"] - yearly.mean()) < 4 * error
    parts = summary["draws"]["split"]["only"]["unserved_patient_hours"]
    assert parts["by_inputs"] == pytest.approx(yearly.var(ddof=1), rel=0.5)


def least(rate: float, weeks: int, target: float) -> int:
    """Return the least stock with P(any demand unmet) <= target by the closed form."""
    return next(stock for stock in range(400) if weekly(stock, weeks, rate) <= target)


@pytest.mark.parametrize(
    ("causes", "method", "over"),
    [(None, "one batch", "20..110 step 10"), (["any"], "from the largest down", "70..110 step 20")],
)
def test_a_stock_over_draws_against_the_mixture_of_weekly_refills(causes, method, over):
    """By stock the mean over rows of 1 - P(Poisson(7 rate) <= S)^weeks; the answer keeps it within the target."""
    weeks, per_day = 2, rates(0.25, 6.0)[:40]
    text = shop(60, "{review: 7 days, order_up_to: 60, lead_time: 0 h}", f"{7 * weeks} days", spare=0)
    draws = pd.DataFrame({"patients.demand.admissions (/day)": per_day})
    asked = {"vary": f"cylinders.fleet = {over}", "target": 0.1, "replications": 400, "causes": causes}
    result = size(original_of(text), "only", draws=draws, **asked).result
    assert result["method"]["name"] == method
    for point in result["curve"]:
        stock, n = int(point["values"]["cylinders.fleet"]), point["replications"]
        chances = np.array([weekly(stock, weeks, rate) for rate in per_day])
        luck = np.sqrt((chances * (1 - chances)).mean() / n)
        assert abs(point["estimate"] - chances.mean()) < 4 * luck + 1 / n
        assert point["low"] <= chances.mean() <= point["high"]
    answer = int(result["answer"]["values"]["cylinders.fleet"])
    assert np.mean([weekly(answer, weeks, rate) for rate in per_day]) <= 0.1
    tried = int(result["curve"][0]["values"]["cylinders.fleet"])
    by_row = np.array([max(least(rate, weeks, 0.1), tried) for rate in per_day])
    for end, share in (("low", 0.05), ("middle", 0.5), ("high", 0.95)):
        found, step = int(result["by_row"][end]["cylinders.fleet"]), int(over.split()[-1])
        assert found == pytest.approx(np.quantile(by_row, share), abs=step + 1)  # one cylinder for luck
