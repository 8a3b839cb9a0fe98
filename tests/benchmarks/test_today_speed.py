"""How long the question of today takes for a hospital of 60 beds: recorded, never asserted."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

import o2sim
from o2sim.questions.today.runs import Runs
from o2sim.scenario.types.hospital import DAY_S

SCENARIO = Path(__file__).parents[2] / "scenarios" / "district_hospital.yaml"
LINE = "counted 2027-05-03 07:30, full 7, empty 12, on order 6 since 2027-04-29, on oxygen children 3"
REPLICATIONS = 2_000


@pytest.mark.benchmark
def test_two_thousand_mornings_of_21_days():
    """The forecast alone, wanted in 2 s of a processor, and all of the question, wanted in 10 s more."""
    asked = {"replications": REPLICATIONS, "on": "2027-05-03"}
    found = o2sim.today(SCENARIO, LINE, **{**asked, "replications": 100})  # loads and compiles
    runs = Runs(found.scenario, 1, "kernel")
    began_s = time.process_time()
    seen = runs(found.scenario.hospitals[found.record.strategy], 21 * DAY_S, REPLICATIONS)
    alone_s, began_s = time.process_time() - began_s, time.process_time()
    whole = o2sim.today(SCENARIO, LINE, **asked)
    print(f"\nforecast {alone_s:.1f} s, all of it {time.process_time() - began_s:.1f} s of a processor")
    assert (seen.replications, whole.record.complete) == (REPLICATIONS, True)
