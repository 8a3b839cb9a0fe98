"""Compile the engine once before any test, so that no two processes do, and trace no theory test."""

from __future__ import annotations

import subprocess
import sys

import pytest

READY = """
from o2sim import loads
from o2sim.model.run import make_ready

text = (
    "name: ready\\nstart: 2031-01-01\\nhorizon: 1 day\\n"
    "patients: {a: {admissions: 1 / day, flow: 1 L/min, duration: 5 h}}\\n"
    "concentrators: {count: 1, rated_flow: 5 L/min}\\nstrategies: {s: {sources: [concentrator]}}\\n"
)
make_ready("kernel", next(iter(loads(text).hospitals.values())))
"""


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile before the processes of the tests start, in one whose lines nobody counts: counting slows it."""
    if not hasattr(session.config, "workerinput"):
        subprocess.run([sys.executable, "-c", READY], check=True)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave theory tests out of the coverage: they would be slow, and a line they alone reach is untested."""
    for item in items:
        if item.get_closest_marker("theory") is not None:
            item.add_marker(pytest.mark.no_cover)
