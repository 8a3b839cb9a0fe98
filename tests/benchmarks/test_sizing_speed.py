"""What one batch costs beside a search for the same answer and beside one stock; whole commands; never asserted.

Run: pytest -m benchmark -s -n 0 tests/benchmarks/test_sizing_speed.py
"""

from __future__ import annotations

import time

import pytest
from hospitals import SCENARIOS
from table import show
from test_commands import DISTRICT, _command

from o2sim import run_study, size
from o2sim.outcome import Cause
from o2sim.questions.size.candidates import Question, field_of
from o2sim.questions.size.one_batch import MEASURED
from o2sim.questions.size.search import by_search
from o2sim.runs.executors import Processes
from o2sim.scenario.changing.override import original

pytestmark = pytest.mark.benchmark
DOWN = "power.grid.down.median = 1 h..12 h step 1 h"
UP = "power.grid.up.mean = 12 h..78 h step 6 h"


def seconds(work):
    """Return the seconds of one core that some work takes, and what it gives."""
    begin = time.process_time()
    found = work()
    return time.process_time() - begin, found


def of_command(*words):
    """Return the wall-clock of a command: workers forked from a server are in no count of seconds of a core."""
    begin = time.perf_counter()
    _command(*words)
    return time.perf_counter() - begin


def test_one_batch_beside_a_search_and_beside_one_stock(capsys):
    """The 60-bed hospital to 5 %, the same values with the levels moving along, one worker each."""
    source, strategy, n = original(SCENARIOS / "district_hospital.yaml"), "mixed", 400
    run_study(source.scenario, strategies=[strategy], replications=2)
    batch_s, batch = seconds(lambda: size(source, strategy, replications=n))
    loading_s, over = seconds(lambda: field_of(source, strategy, ["cylinders.fleet"]))
    question = Question(source, strategy, 0.05, 0.95, (Cause.NO_CYLINDER,), n, 1, "kernel")
    search_s, search = seconds(lambda: by_search(question, over, Processes(1), lambda *_: None))
    one_s, _ = seconds(lambda: run_study(source.scenario, strategies=[strategy], replications=n + MEASURED))
    points, answer = len(over.candidates), search.answer
    rows = [
        ("one stock", f"{one_s:.2f}", "1", ""),
        (
            f"one batch, {points} stocks",
            f"{batch_s:.2f}",
            f"{batch_s / one_s:.2f}",
            batch.answer["cylinders.fleet"],
        ),
        (
            "search over the same",
            f"{search_s + loading_s:.2f}",
            f"{(search_s + loading_s) / one_s:.2f}",
            "none" if answer is None else answer.point.values["cylinders.fleet"],
        ),
        (f"each of the {points} stocks as often", f"{points * one_s:.0f}", f"{points}", "by multiplication"),
    ]
    show(
        capsys,
        "sizing",
        (f"60-bed hospital, {n} replications", "seconds of a core", "times one stock", "answer"),
        rows,
    )
    assert batch.result["method"]["name"] == "one batch"


def test_sizing_and_what_if_as_commands(capsys):
    """Wall-clock of what a planner and an analyst type, compiled before; the fastest of three, and of one."""
    sized = ("size", DISTRICT, "--strategy", "mixed", "--target", "5 %")
    asked = ("whatif", DISTRICT, "--vary", DOWN, "--vary", UP, "--replications", "200")
    runs = (
        ("`o2sim size --target 5%`, fleet", sized, 3),
        ("the same, concentrators (a search)", (*sized, "--vary", "concentrators.count"), 1),
        (
            "`o2sim whatif`, 12 x 12 points x 3 strategies x 200 replications, 2 workers",
            (*asked, "--workers", "2"),
            1,
        ),
    )
    rows = []
    for name, words, times in runs:
        rows.append((name, f"{min(of_command(*words) for _ in range(times)):.1f}"))
    show(capsys, "sizing commands", ("command, 60-bed hospital", "seconds"), rows)
    assert len(rows) == len(set(rows))
