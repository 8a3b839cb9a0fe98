"""The planner's figures against patients drawn and simulated: need, gas without need, peaks, the 99 % point."""

from __future__ import annotations

import numpy as np
import pytest
from running import head, one_source, replicate, sizes, z
from scipy import stats

from o2sim.draws import Draws
from o2sim.outcome import Outcome
from o2sim.planning.figures import PlanningFigures, planning_figures
from o2sim.planning.need import on_oxygen
from o2sim.planning.total_flow import compound_negative_binomial, patients_exceeded
from o2sim.scenario import loads
from o2sim.scenario.types.hospital import DAY_S, Hospital
from o2sim.scenario.types.stages import stages

pytestmark = pytest.mark.theory
EVERY_WORD = (
    head("365 days", "60 days")
    + """
patients:
  children:
    admissions: 6 / day
    hypoxaemic: 30 %
    flow: {triangular: {low: 0.5 L/min, mode: 1 L/min, high: 2 L/min}}
    duration: {lognormal: {median: 48 h, geometric_sd: 2.0}}
    recognised: 70 %
    given_without_need: 8 %
    weaned_late: {exponential: {mean: 18 h}}
    overdispersion: 3
    season: {peak: may, ratio: 2}
    surges: [{from: 2027-08-10, length: {uniform: {low: 10 days, high: 30 days}}, multiplier: 4}]
  adults: {admissions: 2 / day, flow: 3 L/min, duration: {exponential: {mean: 3 days}}}
cylinders: {content: 6800 L, fleet: 5000, gauge_check: watched, change_time: 0 min, leak: 0 L/min}
"""
    + one_source("cylinder")
)
LITRE = 60_000


def planned(text: str) -> tuple[Hospital, PlanningFigures]:
    """Return the only hospital of a text and its planning figures."""
    (hospital,) = loads(text).hospitals.values()
    return hospital, planning_figures(hospital)


@sizes
def test_expected_need_against_the_mean_of_simulated_need(size: int) -> None:
    """Litres a day given and needed, and patients missed, over a year with all rules of demand at once."""
    _, figures = planned(EVERY_WORD)

    def told(outcome: Outcome) -> tuple[float, ...]:
        needed = outcome.needed_gas / LITRE / 365
        given = (outcome.cylinder_gas + outcome.unneeded_cylinder_gas) / LITRE / 365
        return given, needed, outcome.unrecognised_s / outcome.horizon_s

    samples = replicate(EVERY_WORD, 25 * size, told)
    expected = (figures.mean.litres_per_day, figures.mean.needed_litres_per_day, figures.missed)
    assert np.abs(z(samples, expected)).max() < 4


def at_noon(hospital: Hospital, seed: int, replication: int, days: int = 365) -> np.ndarray:
    """Return how many are given oxygen at noon of each day of the horizon, all sources at hand; shape (days,)."""
    table = Draws(seed, replication).patients(hospital)
    arrival = np.array(table.arrival_s)
    leave = arrival + np.array(table.duration_s)
    noon = hospital.warm_up_s + (np.arange(days) + 0.5) * DAY_S
    return ((arrival[:, None] <= noon) & (noon < leave[:, None])).sum(axis=0)


@sizes
def test_patients_by_day_through_season_and_surge_against_those_drawn(size: int) -> None:
    """On every tenth day, and on the day of the peak, the mean number at noon is the planner's."""
    hospital, figures = planned(EVERY_WORD)
    assert figures.peak_day is not None
    peak = (figures.peak_day - hospital.start).days
    days = [*range(5, 365, 40), peak]
    samples = np.array([at_noon(hospital, 11, number)[days] for number in range(200 * size)], dtype=np.float64)
    by_day = sum(on_oxygen(stage, hospital.start).by_day for item in hospital.patients for stage in stages(item))
    assert figures.peak.patients == pytest.approx(float(by_day[peak]))
    assert np.abs(z(samples, by_day[days])).max() < 4


OVERDISPERSED = (
    head("365 days", "60 days")
    + """
patients:
  children: {admissions: 12 / day, flow: 1 L/min, duration: {exponential: {mean: 2 days}}, overdispersion: 7}
cylinders: {content: 6800 L, leak: 0 L/min, fleet: 5000}
"""
    + one_source("cylinder")
)


@sizes
def test_spread_of_overdispersed_days_against_the_patients_drawn(size: int) -> None:
    """The number at noon has the planner's variance, and exceeds its 99 % point on 1 % of the days.

    For stays of mean tau those of the day k days ago are still there with chance tau (1 - q) q^(k - 1/2), q =
    exp(-1 / tau), and those of this morning with tau (1 - sqrt(q)): the squares are a geometric series.
    """
    hospital, figures = planned(OVERDISPERSED)
    (each,) = (on_oxygen(stage, hospital.start) for stage in stages(hospital.patients[0]))
    tau, root = 2.0, np.exp(-0.25)
    squares = (tau * (1 - root)) ** 2 + (tau * (1 - root**2)) ** 2 * root**2 / (1 - root**4)
    spread = 24 * each.spread
    assert spread == pytest.approx((7 - 1) * 12 * squares, rel=1e-3)
    samples = np.array([at_noon(hospital, 12, number) for number in range(40 * size)], dtype=np.float64)
    assert abs(z(((samples - 24) ** 2).mean(axis=1), 24 + spread)) < 4
    share = (samples > figures.mean.patients_99).mean(axis=1)
    assert figures.mean.patients_99 == stats.nbinom.ppf(0.99, 24**2 / spread, 24 / (24 + spread))
    beyond = 1 - stats.nbinom.cdf(figures.mean.patients_99, 24**2 / spread, 24 / (24 + spread))
    assert abs(z(share, beyond)) < 4
    flow = (samples > figures.mean.flow_99_ml_min / 1_000).mean(axis=1)
    assert abs(z(flow, beyond)) < 4
    poisson = patients_exceeded(24.0)
    assert (samples > poisson).mean() > 0.03  # what would be told without the spread


def test_compound_negative_binomial_against_scipy() -> None:
    """Every term one step: the number itself, also where the chance of none underflows; two steps: its double."""
    for mean, spread, size in ((3.0, 2.0, 60), (900.0, 40.0, 1_500), (0.5, 30.0, 400)):
        law = stats.nbinom(mean * mean / spread, mean / (mean + spread))
        found = compound_negative_binomial(mean, spread, np.array([0.0, 1.0]), size)
        assert found == pytest.approx(law.pmf(np.arange(size)), abs=1e-12)
        share = patients_exceeded(mean, spread)
        assert share == law.ppf(0.99)
    double = compound_negative_binomial(3.0, 2.0, np.array([0.0, 0.0, 1.0]), 60)
    assert double[::2] == pytest.approx(stats.nbinom(4.5, 0.6).pmf(np.arange(30)), abs=1e-12)
    half = compound_negative_binomial(6.0, 8.0, np.array([0.5, 0.5]), 60)  # thinned
    assert half == pytest.approx(stats.nbinom(4.5, 0.6).pmf(np.arange(60)), abs=1e-12)


@sizes
def test_delivered_cylinders_that_give_less_against_the_mean_of_those_delivered(size: int) -> None:
    """In a year on cylinders as many are delivered as planned, 5 % of them useless and 20 % half full."""
    text = (
        head("365 days", "60 days", "10 min")
        + """
patients:
  adults: {admissions: 3 / day, flow: 4 L/min, duration: {exponential: {mean: 1 day}}}
cylinders:
  content: 3000 L
  fleet: 400
  gauge_check: watched
  change_time: 0 min
  leak: 0 L/min
  unusable: 5 %
  underfilled: {share: 20 %, content: {uniform: {low: 40 %, high: 70 %}}}
resupply: {review: 1 day, reorder_point: 399, order_up_to: 400, lead_time: 1 day}
"""
        + one_source("cylinder")
    )
    _, figures = planned(text)
    samples = replicate(
        text, 15 * size, lambda outcome: outcome.cylinders_delivered / 365 - rest(outcome, figures)
    )
    assert abs(z(samples, 0)) < 4


def rest(outcome: Outcome, figures: PlanningFigures) -> float:
    """Return the cylinders a day that the gas given in a replication takes, by the planner's figures."""
    litres = outcome.cylinder_gas / LITRE / 365
    assert figures.mean.cylinders_per_day is not None
    return litres * figures.mean.cylinders_per_day / figures.mean.litres_per_day
