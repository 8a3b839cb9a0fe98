"""Simultaneous use against queueing theory: need, units running, regulators in use."""

from __future__ import annotations

import numpy as np
import pytest
from running import head, one_source, replicate, sizes, z
from scipy import stats

from o2sim.draws import Draws
from o2sim.questions.equipment.occupancy import peak, pooled, seconds_at_level
from o2sim.scenario import loads

pytestmark = pytest.mark.theory
LAW = stats.poisson(12)


def patients(flow: str = "1 L/min", rest: str = "") -> str:
    """Return 3 patients a day for 4 days each."""
    return f"patients:\n  all: {{admissions: 3 / day, flow: {flow}, duration: 4 days{rest}}}\n"


@sizes
def test_need_at_once_against_the_infinite_server_queue(size: int) -> None:
    """Time at each level is Poisson(rate x stay) (Mirasol 1963): 99 % of the time 21 are enough, 20 are not."""
    text = (
        head("3650 days")
        + patients()
        + "concentrators: {count: 1, rated_flow: 5 L/min}\n"
        + one_source("concentrator")
    )
    hospital = loads(text).hospitals["only"]
    histograms = []
    for number in range(60 * size):
        table = Draws(11, number).patients(hospital)
        start = np.array(table.arrival_s)
        stop = start + np.array(table.duration_s)
        histograms.append(seconds_at_level(start, stop, hospital.warm_up_s, hospital.end_s))
    shares = np.array([[sum(levels[: n + 1]) / sum(levels) for n in (6, 12, 20, 21)] for levels in histograms])
    assert np.abs(z(shares, LAW.cdf((6, 12, 20, 21)))).max() < 4
    assert LAW.ppf(0.99) == peak(pooled(histograms)).enough == 21


@sizes
def test_units_running_against_the_infinite_server_queue(size: int) -> None:
    """One patient a unit, 15 units, need by the clock: min(N, 15) run, on average 12 - E(N - 15)+ = 11.59806."""
    units = "concentrators: {count: 15, rated_flow: 1 L/min, outlets: 1}\n" + one_source("concentrator")

    def running(outcome):
        levels = outcome.at_once.units_running
        mean = sum(level * seconds for level, seconds in enumerate(levels)) / outcome.horizon_s
        return mean, levels[15] / outcome.horizon_s, sum(levels[:11]) / outcome.horizon_s

    samples = replicate(head() + patients() + units, 25 * size, running)
    mean = float(sum(min(n, 15) * LAW.pmf(n) for n in range(100)))
    assert mean == pytest.approx(12 - 0.401940, abs=1e-6)
    assert np.abs(z(samples, (mean, LAW.sf(14), LAW.cdf(10)))).max() < 4


@sizes
def test_regulators_in_use_against_erlang(size: int) -> None:
    """Five regulators, 3 erlang, who finds none is transferred: all are in use B(5, 3) = 0.110054 of the time."""
    ample = (
        "cylinders: {content: 100000 L, fleet: 2000, regulators: 5, gauge_check: watched, change_time: 0 min, "
        "leak: 0 L/min}\n"
    )
    text = head() + patients(rest=", if_unserved: transfer").replace("4 days", "1 day") + ample
    weights = stats.poisson(3).pmf(np.arange(6))
    expected = weights / weights.sum()
    assert expected[5] == pytest.approx(0.110054, abs=5e-7)

    def shares(outcome):
        return [outcome.at_once.cylinders[level] / outcome.horizon_s for level in range(6)]

    samples = replicate(text + one_source("cylinder"), 25 * size, shares)
    assert np.abs(z(samples, expected)).max() < 4
