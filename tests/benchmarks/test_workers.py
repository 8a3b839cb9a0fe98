"""Workers, stores and studies of many facilities: time as ratios in one run, and memory; reported, never asserted.

Run: pytest -m benchmark -s -n 0 tests/benchmarks/test_workers.py
"""

import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest
from table import show

from o2sim import load
from o2sim.runs.executors import Cluster, Processes
from o2sim.runs.study import run_study

pytestmark = pytest.mark.benchmark
SCENARIOS = Path(__file__).parents[2] / "scenarios"
MANY = 10_000
HOSPITAL = SCENARIOS / "district_hospital.yaml"
# A study whose engine gives one and the same outcome again and again: what is left is handing out and adding up.
CANNED = """
    import sys, tempfile, time
    from dataclasses import replace
    from pathlib import Path
    from o2sim.runs import study
    from o2sim.runs.executors import Processes
    from o2sim.questions.facilities.facility_study import Plan, run_facilities
    from o2sim.runs.store_file import open_store
    from o2sim.scenario.changing.facilities import Facility, _light
    from o2sim import load

    facilities, replications, keep = int(sys.argv[2]), int(sys.argv[3]), sys.argv[4] == "store"
    scenario = load(sys.argv[1])
    known = {name: many[0] for name, many in study.run_study(scenario, replications=1).outcomes.items()}
    study.simulate = lambda s, name, draws, engine: replace(known[name], replication=draws.replication)
    many = [Facility(str(k), _light(replace(scenario, name=str(k), hash=f"{k:016x}"))) for k in range(facilities)]
    plan = Plan(many, replications, 1, "reference")
    with tempfile.TemporaryDirectory() as folder, open_store(Path(folder) / "runs", "study") as store:
        began = time.perf_counter()
        for _ in run_facilities(plan, Processes(1), store if keep else None):
            pass
        each = (time.perf_counter() - began) / plan.total / len(known) * 1e6
        size = (Path(folder) / "runs").stat().st_size / plan.total / len(known)
    status = Path("/proc/self/status").read_text()
    memory = int(status.split("VmHWM:")[1].split()[0]) / 1024
    print(f"{each:.0f} us, {size:.0f} bytes of store a replication and strategy; {memory:.0f} MB at most", end="")
"""


def seconds(crew, replications):
    """Return how long a study takes, the start of workers included."""
    scenario = load(HOSPITAL)
    began = time.perf_counter()
    run_study(scenario, replications=replications, crew=crew)
    return time.perf_counter() - began


def test_two_workers_beside_one(capsys):
    """The same study in this process and in two others, their start included."""
    seconds(Processes(1), 1)  # compiled
    one, two = seconds(Processes(1), MANY), seconds(Processes(2), MANY)
    row = (f"{MANY:,}", f"{one:.1f}", f"{two:.1f}", f"{one / two:.2f}")
    show(capsys, "two workers", ("replications x 3", "1 worker, s", "2 workers, s", "times as fast"), [row])
    assert one > 0


def test_a_cluster_beside_processes(capsys):
    """Two workers of a local cluster, which is there already, beside two processes, their start included."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        theirs = seconds(Cluster(cluster.scheduler_address), MANY)
    ours = seconds(Processes(2), MANY)
    row = (f"{MANY:,}", f"{theirs:.1f}", f"{ours:.1f}", f"{theirs / ours:.2f}")
    show(capsys, "cluster", ("replications x 3", "dask, 2 workers, s", "2 processes, s", "ratio"), [row])
    assert ours > 0


@pytest.mark.parametrize(
    ("facilities", "replications", "keep"),
    [(1, 100, "none"), (1, 100_000, "none"), (1_000, 100, "none"), (1_000, 100, "store")],
)
def test_time_and_memory_of_a_study_without_its_engine(facilities, replications, keep, capsys):
    """Facilities x 3 strategies x replications of canned outcomes in a process of its own."""
    if not Path("/proc/self/status").exists():
        pytest.skip("no /proc")
    arguments = [str(HOSPITAL), str(facilities), str(replications), keep]
    shown = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", textwrap.dedent(CANNED), *arguments],
        capture_output=True,
        text=True,
        check=True,
    )
    with capsys.disabled():
        print(f"\n{facilities:,} facilities, {replications:,} replications, {keep}: {shown.stdout}", end="")
    assert shown.stdout
