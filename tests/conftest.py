"""Compile the engine once before any test, so that no two processes do, and count no lines where it is slow."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

WHOLE_RUNS = (  # files that compare many whole runs, or load a scenario again and again
    "test_better_rule.py", "test_count_twins.py", "test_every_field_counts.py", "test_fuzz_scenarios.py",
    "test_metamorphic.py", "test_properties.py", "test_published_costs.py", "test_sized_alone.py",
    "test_sizing.py", "test_twins.py", "test_uncompiled.py", "test_use_and_need.py", "test_written_answer.py",
)  # fmt: skip
READY = """
from o2sim import loads
from o2sim.draws import Draws
from o2sim.model.run import simulate

text = (
    "name: ready\\nstart: 2031-01-01\\nhorizon: 1 day\\n"
    "patients: {a: {admissions: 1 / day, flow: 1 L/min, duration: 5 h}}\\n"
    "concentrators: {count: 1, rated_flow: 5 L/min}\\nstrategies: {s: {sources: [concentrator]}}\\n"
)
simulate(loads(text), "s", Draws(0, 0))  # not make_ready, which takes code kept on another processor for ready
"""


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile before the processes of the tests start, in one whose lines nobody counts: counting slows it."""
    if not hasattr(session.config, "workerinput"):
        subprocess.run([sys.executable, "-c", READY], check=True)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave theory, and comparisons of many whole runs, out of the coverage: a line they alone reach is untested.

    They would take up to three times as long. Where a single test does so, and others reach its lines, it has the
    mark `no_cover` itself. The kernel as plain Python is counted, in a run of its own.
    """
    plain = os.environ.get("NUMBA_DISABLE_JIT", "0") != "0"
    for item in items:
        whole_runs = item.path.name in WHOLE_RUNS and not plain
        if whole_runs or item.get_closest_marker("theory") is not None:
            item.add_marker(pytest.mark.no_cover)
