"""Concentrators that differ, against reliability theory: capacity of models, life left by age, minimal repair."""

from __future__ import annotations

import math

import numpy as np
import pytest
from running import one_source, replicate, z
from scipy import integrate

from o2sim.draws import Draws
from o2sim.outcome import Outcome
from o2sim.scenario import loads

pytestmark = pytest.mark.theory
engines = pytest.mark.parametrize("engine", ["kernel", "reference"])
YEAR_S = 365 * 86_400
NOBODY = "patients: {nobody: {admissions: 0.001 / year, flow: 1 L/min, duration: 1 h}}\n"


def units(rows: str, horizon: str = "365 days") -> str:
    """Return a hospital without patients and these concentrators, from their first second on."""
    return f"horizon: {horizon}\nresponse_time: 0 min\n{NOBODY}concentrators: {rows}\n" + one_source(
        "concentrator"
    )


TWO_MODELS = """
  failure_clock: calendar
  models:
    five: {rated_flow: 5 L/min, failure: {exponential: {mean: 8 days}}, repair: {exponential: {mean: 2 days}}}
    ten: {rated_flow: 10 L/min, failure: {exponential: {mean: 9 days}}, repair: {exponential: {mean: 1 day}}}
  units: [{model: five, count: 3}, {model: ten, count: 2}]"""


def capacity(outcome: Outcome) -> tuple[float, float, float]:
    """Return the mean flow (L/min) of units in order after 60 days, the shares of time with 20 and below 10."""
    flows, begun_s, now = [5, 5, 5, 10, 10], 60 * 86_400, sum([5, 5, 5, 10, 10])
    last_s, mean, enough, little = 0, 0.0, 0.0, 0.0
    turns = [(entry.time_s, entry.step, entry.item) for entry in outcome.log if entry.item < len(flows)]
    for time_s, step, unit in [*turns, (outcome.horizon_s, "end", 0)]:
        if step not in ("unit fails", "repair done", "end"):
            continue
        seconds = max(0, time_s - max(last_s, begun_s))
        mean, enough, little = mean + now * seconds, enough + (now >= 20) * seconds, little + (now < 10) * seconds
        last_s = time_s
        now += {"unit fails": -flows[unit], "repair done": flows[unit], "end": 0}[step]
    whole_s = outcome.horizon_s - begun_s
    return mean / whole_s, enough / whole_s, little / whole_s


@engines
def test_flow_of_two_models_against_independent_units(engine: str) -> None:
    """Three of 5 L/min up 0.8 of the time and two of 10 up 0.9, each by itself: sums over their 2^5 states."""
    up, flows = [0.8] * 3 + [0.9] * 2, [5] * 3 + [10] * 2
    chances: dict[int, float] = {}
    for state in range(32):
        working = [state >> unit & 1 for unit in range(5)]
        flow = sum(flows[unit] * working[unit] for unit in range(5))
        chance = math.prod(up[unit] if working[unit] else 1 - up[unit] for unit in range(5))
        chances[flow] = chances.get(flow, 0.0) + chance
    mean = sum(flow * chance for flow, chance in chances.items())
    enough = sum(chance for flow, chance in chances.items() if flow >= 20)
    little = sum(chance for flow, chance in chances.items() if flow < 10)
    assert (mean, enough, little) == pytest.approx((30.0, 0.97128, 0.00104), abs=5e-6)
    samples = replicate(units(TWO_MODELS, "1500 days"), 60, capacity, log=True, engine=engine)
    assert np.abs(z(samples, (mean, enough, little))).max() < 4


@engines
@pytest.mark.parametrize(("age", "chance"), [("0 days", 0.015504), ("5 years", 0.157916)])
def test_failures_in_a_year_against_the_life_left(age: str, chance: float, engine: str) -> None:
    """A Weibull life (shape 2, scale 8 years) given that it lasted a: 1 - S(a + 1) / S(a)."""
    a = float(age.split()[0]) if "year" in age else 0.0
    assert 1 - math.exp((a / 8) ** 2 - ((a + 1) / 8) ** 2) == pytest.approx(chance, abs=5e-7)
    mean_days = 8 * 365 * math.gamma(1.5)
    rules = f"failure_clock: calendar, failure: {{weibull: {{mean: {mean_days:.6f} days, shape: 2}}}}"
    rows = f"{{rated_flow: 5 L/min, {rules}, repair: 50 years, units: [{{count: 200, age: {age}}}]}}"
    samples = replicate(units(rows), 20, lambda outcome: outcome.concentrator_failures / 200, engine=engine)
    assert abs(z(samples, chance)) < 4


@pytest.mark.parametrize(("age", "mean"), [(0, 7.089815), (5, 3.947708)])
def test_mean_life_left_against_the_integral_of_survival(age: int, mean: float) -> None:
    """The mean life left at age a is the integral of S from a on, over S(a): Weibull, shape 2, scale 8 years."""
    tail, _ = integrate.quad(lambda years: math.exp(-((years / 8) ** 2)), age, np.inf)
    assert tail / math.exp(-((age / 8) ** 2)) == pytest.approx(mean, abs=5e-7)
    mean_days = 8 * 365 * math.gamma(1.5)
    rules = f"failure_clock: calendar, failure: {{weibull: {{mean: {mean_days:.6f} days, shape: 2}}}}"
    rows = f"{{rated_flow: 5 L/min, {rules}, repair: 50 years, units: [{{count: 400, age: {age * 365} days}}]}}"
    found = loads(units(rows)).hospitals["only"]
    law = found.concentrators.failure_s if found.concentrators else None
    draws = [Draws(7, replication) for replication in range(10)]
    if age:
        lives = [life[0] for each in draws for life in each.lives(found)]
    else:
        assert law is not None
        lives = [each.failures(law, unit)[0] for each in draws for unit in range(400)]
    assert abs(z(np.array(lives, dtype=np.float64) / YEAR_S, mean)) < 4


@engines
@pytest.mark.parametrize("age_days", [0, 200])
def test_failures_of_a_clock_that_goes_on_against_minimal_repair(age_days: int, engine: str) -> None:
    """Repaired as old at once, failures are a Poisson process of the law's hazard (Barlow and Hunter 1960).

    From age a to a + t their mean is ((a + t) / scale)^2 - (a / scale)^2 by a Weibull law of shape 2; so is their
    variance.
    """
    scale, days = 100.0, 300
    mean_days = scale * math.gamma(1.5)
    expected = ((age_days + days) / scale) ** 2 - (age_days / scale) ** 2
    rules = f"failure_clock: calendar, failure: {{weibull: {{mean: {mean_days:.6f} days, shape: 2}}}}"
    rows = (
        f"{{rated_flow: 5 L/min, {rules}, repair: 1 min, repaired_as: old, "
        f"units: [{{count: 50, age: {age_days} days}}]}}"
    )
    samples = replicate(
        units(rows, f"{days} days"), 12, lambda outcome: outcome.concentrator_failures, engine=engine
    )
    assert abs(z(samples, 50 * expected, sd=math.sqrt(50 * expected))) < 4
