"""A dask.distributed cluster as the crew: the same results, and its faults stated in one line."""

from __future__ import annotations

import json
import os
import signal
import socket
import sys

import pytest
from test_executors import WANTED, alone
from test_study import SCENARIO

from o2sim.measures.measures import summarise
from o2sim.runs import executors
from o2sim.runs.executors import Cluster, WorkerError
from o2sim.runs.study import run_study


def test_without_dask_the_extra_is_named(monkeypatch):
    """Where a cluster is asked for without the extra, the message says how to install it."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(WorkerError, match=r"dask.distributed, which is not installed: pip install distributed"):
        Cluster("tcp://127.0.0.1:1")


@pytest.fixture
def distributed():
    """Return the library, or skip; its own warnings as it closes are not ours."""
    return pytest.importorskip("distributed")


@pytest.fixture
def cluster(distributed):
    """Return a cluster of two workers in this process."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp"
    ) as started:
        yield started


@pytest.mark.filterwarnings("ignore")
def test_a_cluster_gives_the_same_study(cluster):
    """Chunks run by a scheduler's workers make the same study, to the last digit."""
    found = run_study(SCENARIO, replications=WANTED, seed=4, crew=Cluster(cluster.scheduler_address), chunk_size=2)
    assert json.dumps(summarise(found)) == alone()


@pytest.mark.filterwarnings("ignore")
def test_faults_of_a_cluster(cluster, distributed, monkeypatch):
    """Nobody at the address, an address that is none, no workers, another version: each its reason."""
    monkeypatch.setattr(executors, "CONNECT_S", 1)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        nobody = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    for address in (nobody, "nonsense://x"):
        with pytest.raises(WorkerError, match="no scheduler answers there"):
            Cluster(address)
    address = cluster.scheduler_address
    monkeypatch.setattr(executors, "version_here", lambda: "0.0.9")
    with pytest.raises(WorkerError, match=r"its workers have o2sim 0\.0\.9, this is"):
        Cluster(address)
    monkeypatch.setattr(executors, "version_here", lambda: 1 / 0)
    with pytest.raises(WorkerError, match="its workers cannot load o2sim"):
        Cluster(address)
    monkeypatch.undo()
    cluster.scale(0)
    with distributed.Client(address) as client:
        client.retire_workers(list(client.scheduler_info()["workers"]))
    with pytest.raises(WorkerError, match="has no workers; start some with `dask worker"):
        Cluster(address)


def test_the_library_is_loaded_for_a_cluster_alone():
    """Nothing of dask is imported by an ordinary run."""
    if "distributed" in sys.modules:
        pytest.skip("another test has loaded it")
    run_study(SCENARIO, replications=1)
    assert "distributed" not in sys.modules


@pytest.mark.filterwarnings("ignore")
def test_a_killed_worker_of_a_cluster_loses_nothing(distributed):
    """One of two worker processes is killed at work: the study is whole, to the last digit."""
    killed = []
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, protocol="tcp"
    ) as cluster:
        workers = [worker.pid for worker in cluster.workers.values()]

        def kill_once(done):
            if not killed and done < WANTED:
                killed.append(workers[0])
                os.kill(workers[0], signal.SIGKILL)

        crew = Cluster(cluster.scheduler_address)
        found = run_study(SCENARIO, replications=WANTED, seed=4, crew=crew, chunk_size=1, progress=kill_once)
    assert killed
    assert json.dumps(summarise(found)) == alone()
