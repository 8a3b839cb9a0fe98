"""Studies of a wanted precision where the chance is known: how often their interval misses it."""

from __future__ import annotations

import pytest
from running import CI, LARGE
from scipy.stats import binom
from test_sizing_theory import shop, weekly

from o2sim.measures.measures import summarise
from o2sim.runs.study import run_study
from o2sim.scenario import loads

pytestmark = pytest.mark.theory
STOCK, WEEKS = 12, 8


@pytest.mark.parametrize("size", [CI, LARGE])
def test_coverage_of_planned_studies_against_weekly_refill(size: int) -> None:
    """With seeds of their own the intervals miss 1 - P(Poisson(7) <= 12)^8 no more often than stated."""
    studies = 12 if size == 1 else 300
    scenario = loads(
        shop(STOCK, f"{{review: 7 days, order_up_to: {STOCK}, lead_time: 0 h}}", f"{7 * WEEKS} days", 1, 0)
    )
    truth = weekly(STOCK, WEEKS, rate=1)
    assert truth == pytest.approx(0.196, abs=0.001)
    outside = met = 0
    for seed in range(studies):
        summary = summarise(run_study(scenario, precision=0.06, seed=seed))
        chance = summary["strategies"]["only"]["stock_out_probability"]
        outside += not chance["low"] <= truth <= chance["high"]
        met += summary["precision"]["met"]
    assert binom.sf(outside - 1, studies, 0.05) > 0.001
    assert binom.cdf(met, studies, 0.9) > 0.001
