"""Loss with pre-emptive priority against Erlang B."""

import numpy as np
import pytest

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario import loads

pytestmark = pytest.mark.theory
SCENARIO = """
horizon: 400 days
warm_up: 20 days
tolerated_gap: 0
response_time: 0
if_unserved: transfer
allocation: {preempt: true}
patients:
  high: {admissions: 6 / day, flow: 1 L/min, duration: {exponential: {mean: 1 day}}, priority: 1}
  low: {admissions: 6 / day, flow: 1 L/min, duration: {exponential: {mean: 1 day}}, priority: 2}
concentrators: {count: 15, rated_flow: 1 L/min}
"""


def erlang_b(servers, load):
    """Return the blocking probability of M/M/c/c by the usual recursion."""
    blocked = 1.0
    for count in range(1, servers + 1):
        blocked = load * blocked / (count + load * blocked)
    return blocked


def lost_work(seed, replication, scenario, low_index):
    """Return the share of the low priority's seconds of need that are lost in one run, warm-up included."""
    draws = Draws(seed, replication)
    table = draws.patients(scenario.hospitals["concentrators only"])
    outcome = simulate(scenario, "concentrators only", draws, log=True)
    lost = 0
    for entry in outcome.log:
        if entry.step == "patient transferred" and table.class_index[entry.item] == low_index:
            lost += table.arrival_s[entry.item] + table.duration_s[entry.item] - entry.time_s
    whole = sum(s for s, c in zip(table.duration_s, table.class_index, strict=True) if c == low_index)
    return lost / whole


def test_lost_work_of_the_low_priority_against_erlang_b():
    """With equal mean stays the high priority sees Erlang B of its own load, both together that of the sum.

    Source: pre-emptive loss systems, e.g. Helly 1962 and Burke 1962 (from memory); 15 units, 6 + 6 erlang:
    0.170567 of the low priority's work is lost. |z| < 4.
    """
    both, high = erlang_b(15, 12), erlang_b(15, 6)
    expected = (12 * both - 6 * high) / 6
    assert expected == pytest.approx(0.170567, abs=5e-7)
    scenario = loads(SCENARIO)
    shares = [lost_work(8, k, scenario, 1) for k in range(24)]
    z = (np.mean(shares) - expected) / (np.std(shares, ddof=1) / 24**0.5)
    assert abs(z) < 4
