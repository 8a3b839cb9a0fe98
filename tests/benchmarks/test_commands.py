"""Whole commands as a user types them: start-up, a comparison, a national study; seconds and memory."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from table import show

pytestmark = pytest.mark.benchmark
SCENARIOS = Path(__file__).parents[2] / "scenarios"
DISTRICT = str(SCENARIOS / "district_hospital.yaml")
FACILITIES, REPLICATIONS = 1_000, 100


def _resident_kb(pid: int) -> int:
    """Return the memory a process and those it started hold now, in kB; 0 where that cannot be told."""
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="utf-8").split()
    except OSError:
        return 0
    own = next((int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")), 0)
    return own + sum(_resident_kb(int(child)) for child in children)


def _command(*words: str) -> tuple[float, float]:
    """Run a command in a process of its own; return seconds, and MB of it and its workers together at most."""
    environment = {**os.environ, "NUMBA_NUM_THREADS": "1"}
    began, most = time.perf_counter(), 0
    with subprocess.Popen(
        [sys.executable, "-m", "o2sim", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=environment,
    ) as done:
        while done.poll() is None:
            most = max(most, _resident_kb(done.pid))
            time.sleep(0.02)
    assert done.returncode == 0
    return time.perf_counter() - began, most / 1024


def test_start_up_and_comparisons(capsys):
    """The fastest of three, compiled before."""
    cases = {
        "`o2sim --help`": ("--help",),
        "`o2sim check`": ("check", DISTRICT),
        "`o2sim compare`, 1 replication": ("compare", DISTRICT, "--replications", "1"),
        "`o2sim compare`, 1,000 replications, 1 worker": (
            "compare", DISTRICT, "--replications", "1000", "--workers", "1",
        ),
        "`o2sim compare`, 1,000 replications, 2 workers": (
            "compare", DISTRICT, "--replications", "1000", "--workers", "2",
        ),
        "`o2sim compare`, 10,000 replications, 1 worker": (
            "compare", DISTRICT, "--replications", "10000", "--workers", "1",
        ),
        "`o2sim compare`, 10,000 replications, 2 workers": (
            "compare", DISTRICT, "--replications", "10000", "--workers", "2",
        ),
    }  # fmt: skip
    rows = []
    for name, words in cases.items():
        times = 1 if "10,000" in name else 3
        rows.append((name, f"{min(_command(*words)[0] for _ in range(times)):.2f}"))
    show(capsys, "commands", ("command, 60-bed hospital, 3 strategies", "seconds"), rows)
    assert len(rows) == len(cases)


def test_a_national_study(capsys, tmp_path):
    """1,000 facilities of different sizes and grids over the health centre, 3 strategies, 100 replications."""
    table = tmp_path / "country.csv"
    with table.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(
            ("name", "patients.children.admissions", "power.grid.up", "strategies.mixed.cylinders.fleet")
        )
        for k in range(FACILITIES):
            up = f"{{exponential: {{mean: {6 + k % 67} h}}}}"
            writer.writerow((f"facility {k:04}", f"{1 + k % 40 / 10} / day", up, 8 + k % 13))
    base, out = str(SCENARIOS / "health_centre.yaml"), tmp_path / "found.csv"
    words = ("study", str(table), "--base", base, "--replications", str(REPLICATIONS), "--csv", str(out))
    rows = []
    for workers in ("2",):
        seconds, megabytes = _command(*words, "--workers", workers, "--force")
        runs = FACILITIES * 3 * REPLICATIONS
        rows.append((workers, f"{seconds:.0f}", f"{seconds / runs * 1e3:.2f}", f"{megabytes:.0f}"))
    show(capsys, "national study", ("workers", "seconds", "ms a run", "MB at most, all processes"), rows)
    assert len(out.read_text(encoding="utf-8").splitlines()) > FACILITIES


def test_memory_of_many_replications(capsys, tmp_path):
    """One facility run for real, 3 strategies, one process: 100 replications and 100,000."""
    base, table, out = str(SCENARIOS / "health_centre.yaml"), tmp_path / "one.csv", tmp_path / "found.csv"
    table.write_text("name,patients.adults.admissions\nLower Reed post,0.3 / day\n", encoding="utf-8")
    rows = []
    for replications in ("100", "100000"):
        words = ("study", str(table), "--base", base, "--replications", replications, "--csv", str(out), "--force")
        seconds, megabytes = _command(*words, "--workers", "1")
        rows.append((f"{int(replications):,}", f"{seconds:.0f}", f"{megabytes:.0f}"))
    show(capsys, "memory", ("replications of `o2sim study`, one facility", "seconds", "MB at most"), rows)
    assert out.read_text(encoding="utf-8").count("100000") == 3
