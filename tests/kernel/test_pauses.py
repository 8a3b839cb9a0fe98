"""The compiled loop comes back to Python on the way, so that Ctrl-C is heard, and finds the same."""

from __future__ import annotations

import os
import signal

import pytest
from scenario_texts import SMALL

from o2sim import loads
from o2sim.compiler import jit
from o2sim.draws import Draws
from o2sim.model.kernel import engine
from o2sim.model.kernel.loop import PAUSED

HOSPITAL = next(iter(loads(f"{SMALL}horizon: 400 days\n").hospitals.values()))


def found(log=False):
    """Return what one replication finds, as texts."""
    done = engine.run_kernel(HOSPITAL, Draws(3, 5), log)
    return str(done.totals), {name: str(value) for name, value in done.found.items()}, done.log.tolist()


@pytest.mark.parametrize("steps", [1, 7, 100])
def test_a_run_in_slices_is_the_same(monkeypatch, steps):
    """However many steps the loop takes at a time, totals, days and the log are those of a run at one go."""
    whole = found(), found(log=True)
    monkeypatch.setattr(engine, "_STEPS", steps)
    monkeypatch.setattr(engine, "_at_a_time", lambda *_: steps)
    assert (found(), found(log=True)) == whole


def test_slices_are_a_quarter_of_a_second():
    """A slice that was quick is followed by a longer one, at most eight times; a slow one by a shorter."""
    paced = [engine._at_a_time(1_000, took_s) for took_s in (0.0, 0.125, 0.25, 1.0, 1e6)]
    assert paced == [8_000, 2_000, 1_000, 250, 1]


@pytest.mark.skipif(not jit.COMPILES, reason="without a compiler every step hears")
def test_ctrl_c_is_heard_inside_a_replication(monkeypatch):
    """A signal that comes while compiled code runs ends the replication at the next pause, not at its end."""
    slices, run = [], engine.run

    def interrupted(where):
        slices.append(int(run(where)))
        if len(slices) == 3:
            os.kill(os.getpid(), signal.SIGINT)
        return slices[-1]

    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    monkeypatch.setattr(engine, "run", interrupted)
    monkeypatch.setattr(engine, "_STEPS", 20)
    monkeypatch.setattr(engine, "_at_a_time", lambda *_: 20)
    try:
        with pytest.raises(KeyboardInterrupt):
            found()
    finally:
        signal.signal(signal.SIGINT, before)
    assert slices == [PAUSED] * 3
