"""Concentrators first, cylinders behind them, against overflow and renewal theory."""

from __future__ import annotations

import math

import numpy as np
import pytest
from formulas import overflow_from_units, overflow_group
from running import daily, head, replicate, sizes, z

from o2sim.outcome import Cause

pytestmark = pytest.mark.theory
CYLINDERS = """
cylinders:
  content: 6800 L
  residual_pressure: 0 kPa
  flow_lost_below: 0 kPa
  fleet: 400
  gauge_check: watched
  change_time: 0 min
  leak: 0 L/min
strategies:
  mixed: {sources: [concentrator, cylinder]}
"""
ONE_EACH = "concentrators: {count: %d, rated_flow: 1 L/min, outlets: 1%s}\n"


def patients(per_day: float, duration: str) -> str:
    """Return one class of patients who each need 1 L/min."""
    return f"patients:\n  all: {{admissions: {per_day:g} / day, flow: 1 L/min, duration: {duration}}}\n"


@sizes
def test_overflow_with_return_against_poisson_and_binomial(size: int) -> None:
    """Moved at once both ways, patients on cylinders are (N - W)+, N Poisson, W binomial units at work."""
    mean = overflow_from_units(12, 16, 0.95)
    assert mean == pytest.approx(0.393769, abs=5e-7)
    failing = (
        ", failure: {exponential: {mean: 190 h}}, failure_clock: calendar, repair: {exponential: {mean: 10 h}}"
    )

    def on_cylinders(outcome):
        assert sum(outcome.unserved_s) == 0
        return daily(outcome, "in_use").mean(), outcome.served_cylinder_s / outcome.horizon_s

    text = head() + patients(3, "{lognormal: {mean: 4 days, sd: 5 days}}") + ONE_EACH % (16, failing) + CYLINDERS
    assert np.abs(z(replicate(text, 120 * size, on_cylinders), (mean, mean))).max() < 4


@sizes
def test_overflow_without_return_against_riordan(size: int) -> None:
    """Overflow that stays on cylinders has Riordan's mean and variance (in Wilkinson 1956)."""
    mean, variance = overflow_group(6, 5)

    def on_cylinders(outcome):
        on = daily(outcome, "in_use")
        return on.mean(), ((on - mean) ** 2).mean()

    text = head() + "return_to_concentrator: false\n" + patients(2.5, "{exponential: {mean: 2 days}}")
    samples = replicate(text + ONE_EACH % (6, "") + CYLINDERS, 120 * size, on_cylinders)
    assert np.abs(z(samples, (mean, variance))).max() < 4


@sizes
def test_response_to_power_cuts_against_renewal_reward(size: int) -> None:
    """Each cut leaves all present unserved until staff respond, power is back or they leave (Cox 1962)."""
    response, rate = 0.5, 1 / 96 + 1 / 3  # h; of leaving or of the power coming back
    unserved = 10 / 123 * (1 - math.exp(-rate * response)) / rate  # 10 patients, a cut each 123 h

    def at_once(outcome):
        assert sum(outcome.unserved_s) == outcome.unserved_s[Cause.CHANGEOVER]
        return outcome.unserved_s[Cause.CHANGEOVER] / outcome.horizon_s

    text = (
        head().replace("response_time: 0 min", "response_time: 30 min")
        + patients(2.5, "{exponential: {mean: 4 days}}")
        + "power: {grid: {up: {exponential: {mean: 120 h}}, down: {exponential: {mean: 3 h}}}}\n"
        + "concentrators: {count: 1, rated_flow: 100 L/min, outlets: 100}\n"
        + CYLINDERS
    )
    assert abs(z(replicate(text, 80 * size, at_once), unserved)) < 4
