"""Whether what a fit says of the chance of a shortfall holds the truth's: records simulated, fitted, compared."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from drawn_hospital import Thin, drawn_records

import o2sim
from o2sim import Scenario, loads
from o2sim.questions.fit.fitting import fit

ROWS = 200  # of joint draws
EACH = 50  # replications of a row
TRUTH_REPLICATIONS = 4_000
STRATEGY = "mixed"
TRUTH = """
name: Chance ward
start: 2027-01-01
horizon: 90 days
warm_up: 14 days
response_time: 5 min
patients:
  children:
    admissions: 6 / day
    hypoxaemic: 12 %
    recognised: 80 %
    flow: {triangular: {low: 0.5 L/min, mode: 1 L/min, high: 3 L/min}}
    duration: {lognormal: {median: 55 h, geometric_sd: 2}}
cylinders: {content: 6800 L, fleet: 9, regulators: 6, gauge_check: 2 h}
resupply: {review: 7 days, reorder_point: 6, order_up_to: 8, lead_time: {gamma: {mean: 5 days, sd: 3 days}}}
concentrators:
  count: 2
  rated_flow: 5 L/min
  outlets: 2
  power: 350 W
  failure: {exponential: {mean: 2500 h}}
  repair: {lognormal: {median: 20 days, geometric_sd: 1.8}}
power: {grid: {up: {exponential: {mean: 20 h}}, down: {lognormal: {median: 3 h, geometric_sd: 2}}}}
strategies: {mixed: {sources: [concentrator, cylinder]}}
"""
BOOKS = Thin(books=("stays", "admissions", "cuts", "orders", "units", "job_cards"))
# What stands in the base for what is fitted: guesses far from the truth, so that one that writes nothing is seen.
GUESSES = (
    ("6 / day", "3 / day"), ("median: 55 h", "median: 30 h"), ("mean: 20 h", "mean: 60 h"),
    ("mean: 5 days", "mean: 2 days"), ("mean: 2500 h", "mean: 9000 h"), ("median: 20 days", "median: 60 days"),
)  # fmt: skip


def base() -> Scenario:
    """Return the truth with guesses in place of what books give."""
    text = TRUTH
    for true, guess in GUESSES:
        assert true in text
        text = text.replace(true, guess)
    return loads(text)


def chance(scenario: Scenario, replications: int, **more: object) -> npt.NDArray[np.bool_]:
    """Return for each replication whether anybody went short for lack of supply."""
    study = o2sim.run_study(scenario, strategies=[STRATEGY], replications=replications, seed=9, **more)
    return np.array([outcome.stock_outs > 0 for outcome in study.outcomes[STRATEGY]])


def chances_by_draw(seed: int, days: int = 365) -> npt.NDArray[np.float64]:
    """Return the chance at each joint draw of what one drawn hospital's books of so many days give."""
    found = fit(drawn_records(TRUTH, STRATEGY, days, seed, thin=BOOKS), base(), seed=seed)
    short = chance(found.scenario, ROWS * EACH, draws=found.draws)
    return short.reshape(EACH, ROWS).mean(axis=0)
