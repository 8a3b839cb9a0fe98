"""Who does the work of a sizing, and what is run ahead, change nothing; Ctrl-C keeps what is known."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from test_sizing import WARD, sized

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.questions.size import candidate_runs
from o2sim.questions.size.candidate_runs import SizingRuns, kept_of
from o2sim.questions.size.candidates import field_of
from o2sim.runs.executors import Given, Processes
from o2sim.runs.study import run_replication
from o2sim.scenario.changing.override import original_of

SHORT = WARD.replace("horizon: 60 days", "horizon: 20 days")
TWO = ["cylinders.fleet = 26, 40", "concentrators.count = 2, 4"]


@pytest.mark.parametrize(
    ("text", "more"),
    [
        (WARD, {"vary": "cylinders.fleet = 20..60 step 4", "replications": 60}),
        (
            SHORT,
            {"vary": "cylinders.fleet = 16..40 step 4", "replications": 60, "hold_levels": True, "target": 0.2},
        ),
        (SHORT, {"vary": TWO, "causes": ["no cylinder"], "target": 0.4, "replications": 40}),
    ],
)
def test_threads_that_finish_in_any_order_say_the_same(text, more):
    """One batch, a scan and a scan by cost: workers run ahead, in vain at times, and the result is the same."""
    strategy = "mixed" if more["vary"] is TWO else "cylinders only"
    with ThreadPoolExecutor(3) as threads:
        ahead = sized(text, strategy, crew=Given(threads, window=6), **more).result
    assert ahead == sized(text, strategy, **more).result


def test_the_lowest_shelf_is_what_the_event_log_says():
    """The fewest full ones left where one was opened, the warm-up included, in both engines."""
    source = original_of(WARD)
    (top,) = field_of(source, "mixed", ["cylinders.fleet = 40"]).candidates
    seen = set()
    for replication in range(4):
        outcome = simulate(top.scenario, "mixed", Draws(1, replication), engine="reference", log=True)
        left = [entry.other for entry in outcome.log if entry.step == "cylinder opened"]
        assert outcome.fewest_full == min(left)
        (fast,) = run_replication(top.scenario, ["mixed"], 1, replication, "kernel")
        assert fast.fewest_full == outcome.fewest_full
        assert kept_of(top.hospital("mixed"), outcome).lowest_shelf in (outcome.fewest_full, -1)
        seen.add(outcome.fewest_full)
    assert len(seen) > 1


def test_each_replication_is_run_once_and_workers_run_ahead(monkeypatch):
    """One after the other in place; with workers what comes next, twice as many each time."""
    ran = []
    run_one = candidate_runs.run_replication

    def spy(scenario, strategies, seed, replication, engine):
        ran.append((scenario.hospitals["mixed"].cylinders.fleet, replication))
        return run_one(scenario, strategies, seed, replication, engine)

    monkeypatch.setattr(candidate_runs, "run_replication", spy)
    candidates = field_of(original_of(SHORT), "mixed", ["cylinders.fleet = 30, 31, 32"]).candidates
    in_place = SizingRuns(candidates, "mixed", 1, "kernel", Processes(1))
    in_place.order, in_place.limit = [0, 1, 2], 40
    assert in_place.one(0, 0) is in_place.one(0, 0)
    assert ran == [(30, 0)]
    ran.clear()
    with ThreadPoolExecutor(1) as thread:
        ahead = SizingRuns(candidates, "mixed", 1, "kernel", Given(thread, window=2))
        ahead.order, ahead.limit = [0, 1, 2], 40
        for replication in range(40):
            ahead.one(0, replication)
        ahead.one(0, 40)  # the first fresh one
    assert sorted(ran) == [
        *((30, k) for k in range(56)),
        *((31, k) for k in range(16)),
        *((32, k) for k in range(16)),
    ]


def test_ctrl_c_in_the_pilot_keeps_what_is_known():
    """No order is known yet, so there is no answer; what was run is told."""

    def stop(done, total):
        if done == 2:
            raise KeyboardInterrupt

    result = sized(SHORT, "mixed", vary=TWO, replications=59, progress=stop).result
    assert (result["complete"], result["answer"]) == (False, None)
    assert [point["replications"] for point in result["curve"]] == [20, 20]
