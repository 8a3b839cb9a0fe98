"""The compiled engine against the reference, end to end with sampling, as ratios in one run; never asserted.

CPU seconds of this process, so that what else the machine does matters little.
"""

from __future__ import annotations

import time

import pytest
from hospitals import HOSPITALS, scaled, shipped
from table import show

from o2sim.draws import Draws
from o2sim.model.run import simulate

pytestmark = pytest.mark.benchmark
YEAR = 365


def _per_run(scenario, engine, replications, first=0):
    """Return (seconds, events) of one run on average: all strategies under the same draws, sampling included."""
    begin, events = time.process_time(), 0
    for replication in range(first, first + replications):
        draws = Draws(1, replication)
        for name in scenario.strategies:
            events += simulate(scenario, name, draws, engine=engine).events
    runs = replications * len(scenario.strategies)
    return (time.process_time() - begin) / runs, events / runs


def _warm(scenario):
    _per_run(scenario, "kernel", 2, first=10_000)


def test_kernel_against_reference(capsys):
    """The three shipped hospitals and one of 300 beds (the city hospital, twice)."""
    cases = [(name.replace("_", " "), shipped(name)) for name in HOSPITALS]
    cases.append(("300 beds", scaled(shipped("city_hospital"), 2)))
    rows = []
    for name, scenario in cases:
        _warm(scenario)
        slow_s, events = _per_run(scenario, "reference", 3)
        quick_s, _ = _per_run(scenario, "kernel", 100)
        each = [f"{events:,.0f}", f"{slow_s * 1e3:.1f}", f"{quick_s * 1e3:.2f}", f"{quick_s / events * 1e9:.0f}"]
        rows.append((name, *each, f"{slow_s / quick_s:.0f}"))
    heads = ("hospital", "events a run", "reference, ms", "kernel, ms", "kernel, ns an event", "times as fast")
    show(capsys, "kernel against reference", heads, rows)
    assert len(rows) == 4


@pytest.mark.parametrize("strategy", ["mixed"])
def test_cost_of_an_event_by_patients(capsys, strategy):
    """The district hospital with 500 to 40,000 patients a year, its stock and units in proportion."""
    base = shipped("district_hospital")
    arrivals = simulate(base, strategy, Draws(1, 0), engine="kernel").arrivals
    rows = []
    for patients in (500, 1_500, 10_000, 40_000):
        scenario = scaled(base, patients / arrivals)
        scenario = type(base)(**{**vars(scenario), "hospitals": {strategy: scenario.hospitals[strategy]}})
        _warm(scenario)
        seconds, events = _per_run(scenario, "kernel", max(5, 60_000 // patients))
        rows.append((f"{patients:,}", f"{events:,.0f}", f"{seconds * 1e3:.2f}", f"{seconds / events * 1e9:.0f}"))
    show(capsys, "patients a year", ("patients a year", "events a run", "ms a run", "ns an event"), rows)
    assert len(rows) == 4


def test_cost_of_an_event_by_years(capsys):
    """The district hospital over 1, 2, 5 and 20 years: only patients present cost."""
    rows = []
    for years in (1, 2, 5, 20):
        scenario = scaled(shipped("district_hospital"), 1, days=YEAR * years)
        _warm(scenario)
        seconds, events = _per_run(scenario, "kernel", max(3, 40 // years))
        rows.append((years, f"{events:,.0f}", f"{seconds * 1e3:.2f}", f"{seconds / events * 1e9:.0f}"))
    show(capsys, "years", ("years", "events a run", "ms a run", "ns an event"), rows)
    assert len(rows) == 4
