"""Compile the engine once before any test, so that no two processes do, and no test sees the message."""

from __future__ import annotations

import pytest


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile in the process that starts the others, if there is anything to compile."""
    if hasattr(session.config, "workerinput"):
        return
    from o2sim import loads
    from o2sim.model.run import make_ready

    text = (
        "name: ready\nstart: 2031-01-01\nhorizon: 1 day\n"
        "patients: {a: {admissions: 1 / day, flow: 1 L/min, duration: 5 h}}\n"
        "concentrators: {count: 1, rated_flow: 5 L/min}\nstrategies: {s: {sources: [concentrator]}}\n"
    )
    make_ready("kernel", next(iter(loads(text).hospitals.values())))
