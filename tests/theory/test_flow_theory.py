"""The flow a patient gets: flows that step down and reduced flow, against M/G/infinity and the Poisson law."""

from __future__ import annotations

import math

import numpy as np
import pytest
from running import daily, head, one_source, replicate, sizes, z
from scipy import stats

pytestmark = pytest.mark.theory
YEAR_S = 365 * 86_400
LITRE = 60_000  # of gas, in 1/60 mL


@sizes
def test_flow_that_steps_down_against_two_infinite_server_queues(size: int) -> None:
    """3 a day, stays exponential of 4 days, 2 L/min for 2 days and then 0.5: M/G/infinity, thinned by age.

    Those in their first 2 days and the others are Poisson apart with means 3 E[min(D, 2)] and 3 E[(D - 2)+] (Eick,
    Massey and Whitt 1993), here 12 (1 - exp(-0.5)) and 12 exp(-0.5): mean flow 2 and 0.5 times these, variance 4
    and 0.25 times.
    """
    late = 12 * math.exp(-0.5)
    mean, variance = 2 * (12 - late) + 0.5 * late, 4 * (12 - late) + 0.25 * late
    assert (mean, variance) == pytest.approx((13.08245, 20.706120), abs=5e-6)
    stays = "flow: 2 L/min, duration: {exponential: {mean: 4 days}}, flow_steps: [{after: 2 days, share: 25 %}]"
    text = (
        head()
        + f"patients: {{all: {{admissions: 3 / day, {stays}}}}}\n"
        + "concentrators: {count: 3, rated_flow: 200 L/min, outlets: 100}\n"
        + one_source("concentrator")
    )

    def flows(outcome):
        flow = daily(outcome, "flow_needed_ml_min") / 1_000
        litres = outcome.needed_gas / LITRE / (365 * 1_440)
        assert outcome.concentrator_gas == outcome.needed_gas
        return flow.mean(), (flow**2).mean(), litres

    samples = replicate(text, 100 * size, flows)
    assert np.abs(z(samples, (mean, variance + mean**2, mean))).max() < 4


@sizes
def test_reduced_flow_of_units_with_one_outlet_against_the_poisson_law(size: int) -> None:
    """All need 8 L/min of 4 units of 5 L/min with an outlet each: min(N, 4) are under-served by 3, (N - 4)+ wait.

    N is Poisson with mean 3 whatever the law of stay (Mirasol 1963), for the need runs by the clock.
    """
    present = np.arange(60)
    served = float((stats.poisson(3).pmf(present) * np.minimum(present, 4)).sum())
    assert served == pytest.approx(2.680643, abs=5e-7)
    stays = "flow: 8 L/min, duration: {lognormal: {mean: 2 days, sd: 2 days}}"
    text = (
        head()
        + f"patients: {{all: {{admissions: 1.5 / day, {stays}}}}}\n"
        + "concentrators: {count: 4, rated_flow: 5 L/min, outlets: 1}\n"
        + one_source("concentrator")
    )

    def at_once(outcome):
        litres = outcome.missing_gas / LITRE / (365 * 1_440), outcome.concentrator_gas / LITRE / (365 * 1_440)
        return outcome.under_served_s / YEAR_S, sum(outcome.unserved_s) / YEAR_S, *litres

    samples = replicate(text, 150 * size, at_once)
    assert np.abs(z(samples, (served, 3 - served, 3 * served, 5 * served))).max() < 4


@sizes
def test_two_units_against_the_poisson_law(size: int) -> None:
    """All need 10 L/min of 4 units of 5 L/min, an outlet each, two a patient; N present is Poisson with mean 3.

    Up to two have two units each. A third and a fourth get the second unit of another, so of three 2 are
    under-served, of four and more 4; (N - 4)+ wait. The units running are min(2 N, 4).
    """
    present = np.arange(60)
    chance = stats.poisson(3).pmf(present)
    under = np.select([present < 3, present == 3], [0, 2], 4)
    expected = [
        float((chance * each).sum()) for each in (under, np.maximum(present - 4, 0), np.minimum(2 * present, 4))
    ]
    stays = "flow: 10 L/min, duration: {exponential: {mean: 2 days}}"
    text = (
        head()
        + f"patients: {{all: {{admissions: 1.5 / day, {stays}}}}}\n"
        + "concentrators: {count: 4, rated_flow: 5 L/min, outlets: 1}\nallocation: {two_units: true}\n"
        + one_source("concentrator")
    )

    def at_once(outcome):
        assert outcome.concentrator_gas == 5_000 * outcome.concentrator_running_s
        return (
            outcome.under_served_s / YEAR_S,
            sum(outcome.unserved_s) / YEAR_S,
            outcome.concentrator_running_s / YEAR_S,
        )

    assert np.abs(z(replicate(text, 100 * size, at_once), expected)).max() < 4
