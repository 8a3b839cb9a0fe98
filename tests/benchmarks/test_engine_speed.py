"""Time per event of the reference engine beside bare SimPy, in one run; reported, never asserted.

Run: pytest -m benchmark -s -n 0 tests/benchmarks
"""

import time
from dataclasses import replace
from pathlib import Path

import pytest
import simpy

from o2sim import load
from o2sim.draws import Draws
from o2sim.model.run import simulate

pytestmark = pytest.mark.benchmark
SCENARIOS = Path(__file__).parents[2] / "scenarios"
EVENTS = 200_000


def bare_simpy_us_per_event():
    """Return microseconds per event of SimPy timeouts that do nothing."""

    def ticks(env):
        for _ in range(EVENTS):
            yield env.timeout(1)

    env = simpy.Environment()
    env.process(ticks(env))
    begin = time.perf_counter()
    env.run()
    return (time.perf_counter() - begin) / EVENTS * 1e6


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("*.yaml")), ids=lambda path: path.stem)
def test_microseconds_per_event(path, capsys):
    """Each shipped hospital: sampling included, as a ratio to bare SimPy measured in the same run."""
    scenario = load(path)
    bare = bare_simpy_us_per_event()
    for strategy in scenario.strategies:
        begin, events = time.perf_counter(), 0
        for replication in range(5):
            events += simulate(scenario, strategy, Draws(1, replication), "reference").events
        per_event = (time.perf_counter() - begin) / events * 1e6
        with capsys.disabled():
            print(
                f"\n{path.stem}, {strategy}: {events // 5} events a run, {per_event:.1f} us/event, "
                f"{per_event / bare:.1f} x bare SimPy ({bare:.2f} us)",
                end="",
            )
    assert events > 0


@pytest.mark.parametrize("years", [1, 2, 4, 8])
def test_cost_is_linear_in_the_horizon(years, capsys):
    """Microseconds per event stay level as the horizon grows: only patients present cost."""
    scenario = load(SCENARIOS / "district_hospital.yaml")
    longer = replace(scenario.hospitals["mixed"], horizon_s=365 * 86_400 * years)
    scenario = replace(scenario, hospitals={"mixed": longer})
    begin = time.perf_counter()
    outcome = simulate(scenario, "mixed", Draws(1, 0), "reference")
    seconds = time.perf_counter() - begin
    with capsys.disabled():
        print(f"\n{years} years: {outcome.events} events, {seconds / outcome.events * 1e6:.1f} us/event", end="")
    assert outcome.events > 0
