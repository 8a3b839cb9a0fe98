"""Pieces in any order, from workers and from a store, become whole replications in order; Ctrl-C breaks none."""

from __future__ import annotations

import json
import signal

import pytest
from test_executors import AnyOrder
from test_study import SCENARIO

from o2sim.measures.measures import summarise
from o2sim.runs import study as study_module
from o2sim.runs.executors import Given
from o2sim.runs.gathering import undisturbed
from o2sim.runs.store_file import open_store
from o2sim.runs.study import run_study

NAMES = ("two units", "three units")


def printed(study):
    """Return a study as it is printed."""
    return json.dumps(summarise(study))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_daily_counts_come_in_the_order_of_replications(seed):
    """Whatever is finished first, each strategy's replications are handed on as 0, 1, 2..., those run once."""
    told = []
    hands = AnyOrder(seed)
    found = run_study(
        SCENARIO, replications=12, crew=Given(hands, 4), chunk_size=2,
        on_daily=lambda name, k, daily: told.append((k, name, daily.tolist())),
    )  # fmt: skip
    hands.submit(None)
    whole = run_study(SCENARIO, replications=12, keep_daily=True)
    assert told == [(k, name, whole.outcomes[name][k].daily.tolist()) for k in range(12) for name in NAMES]
    assert printed(found) == printed(whole)


def test_what_is_in_a_store_is_met_where_its_turn_comes(tmp_path):
    """One strategy stored ahead in two overlapping ways, the other not at all: all is as without a store."""
    with open_store(tmp_path / "a.o2store", "scenario", SCENARIO) as store:
        for count, size in ((5, 2), (9, 3)):
            run_study(SCENARIO, strategies=["two units"], replications=count, chunk_size=size, store=store)
        told = []
        found = run_study(
            SCENARIO,
            replications=12,
            store=store,
            chunk_size=5,
            on_daily=lambda name, k, _: told.append((k, name)),
        )
    assert printed(found) == printed(run_study(SCENARIO, replications=12))
    assert told == [(k, name) for k in range(12) for name in NAMES]


def test_a_stopped_batch_has_what_the_store_holds_of_every_strategy(tmp_path, monkeypatch):
    """Six of one strategy and four of the other are stored: stopped at once, the first four are reported."""
    with open_store(tmp_path / "a.o2store", "scenario", SCENARIO) as store:
        for name, count in zip(NAMES, (6, 4), strict=True):
            run_study(SCENARIO, strategies=[name], replications=count, store=store)

        def stop(*_, **__):
            raise KeyboardInterrupt

        monkeypatch.setattr(study_module, "simulate", stop)
        found = run_study(SCENARIO, replications=20, store=store)
    monkeypatch.undo()
    assert (found.replications, found.complete) == (4, False)
    assert printed(found) == printed(run_study(SCENARIO, replications=4)).replace(
        '"replications_requested": 4, "complete": true', '"replications_requested": 20, "complete": false'
    )


@pytest.fixture
def ctrl_c():
    """Have Ctrl-C heard as Python does by itself, also where the tests were begun in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("ctrl_c")
def test_ctrl_c_waits_until_a_replication_is_added():
    """A signal that comes in the middle is heard at the end, also where one such part is inside another."""
    done = []
    with pytest.raises(KeyboardInterrupt), undisturbed():  # noqa: PT012
        with undisturbed():
            signal.raise_signal(signal.SIGINT)
            done.append("inner")
        done.append("outer")
    assert done == ["inner", "outer"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
