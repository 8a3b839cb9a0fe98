"""What one batch costs beside a search for the same answer, and the whole curve beside one stock; never asserted.

Run: pytest -m benchmark -s -n 0 tests/benchmarks/test_sizing_speed.py
"""

import time
from pathlib import Path

import pytest

from o2sim import run_study, size
from o2sim.scenario.override import original

pytestmark = pytest.mark.benchmark
CENTRE = Path(__file__).parents[2] / "scenarios" / "health_centre.yaml"
ASKED = {"target": 0.2, "replications": 80, "vary": "cylinders.fleet = 12..32 step 2"}


def seconds(work):
    """Return how long some work takes, and what it gives."""
    begin = time.perf_counter()
    found = work()
    return time.perf_counter() - begin, found


def test_one_batch_beside_a_search_and_beside_one_stock(capsys):
    """Ratios of one run: the search is over the same values with the levels held, which rules out one batch."""
    source = original(CENTRE)
    batch_s, batch = seconds(lambda: size(source, "cylinders only", **ASKED))
    search_s, search = seconds(lambda: size(source, "cylinders only", hold_levels=True, **ASKED))
    one_s, _ = seconds(lambda: run_study(source.scenario, strategies=["cylinders only"], replications=160))
    with capsys.disabled():
        print(
            f"\none batch {batch_s:.1f} s ({batch.answer}), search {search_s:.1f} s ({search.answer}): "
            f"{search_s / batch_s:.1f} x; the whole curve is {batch_s / one_s:.2f} x one stock as often",
            end="",
        )
    assert batch.result["method"]["name"] != search.result["method"]["name"]
