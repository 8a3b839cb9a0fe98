"""Memory of many replications: all processes of a command together at most; reported, never asserted.

Run: pytest -m benchmark -s -n 0 tests/benchmarks/test_memory.py
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest
from table import show

pytestmark = pytest.mark.benchmark
DISTRICT = str(Path(__file__).parents[2] / "scenarios" / "district_hospital.yaml")
HEADS = (
    "command, 60-bed hospital",
    "replications",
    "workers",
    "seconds",
    "MB, a shared page once",
    "MB, for each",
)


def _held_kb(pid: int) -> tuple[int, int]:
    """Return the memory that a process and those it started hold now, in kB: shared pages once, and for each."""
    try:
        rollup = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="utf-8").splitlines()[1:]
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="utf-8").split()
    except OSError:
        return 0, 0
    kb = {name: int(size.split()[0]) for name, size in (line.split(":") for line in rollup)}
    parts = [(kb.get("Pss", 0), kb.get("Rss", 0)), *(_held_kb(int(child)) for child in children)]
    once, each = zip(*parts, strict=True)
    return sum(once), sum(each)


def test_memory_of_many_replications(capsys, tmp_path):
    """What 200 and 10,000 replications of three strategies take, with one worker and two."""
    if not Path("/proc/self/smaps_rollup").exists():
        pytest.skip("no /proc")
    cases = {
        "compare": ("compare", DISTRICT, "--json"),
        "run": ("run", DISTRICT, "--strategy", "mixed", "--json"),
        "report": ("report", DISTRICT, "--force", "--out", str(tmp_path / "report.html")),
    }
    rows = []
    for name, words in cases.items():
        for replications, workers in ((200, 1), (200, 2), (10_000, 1), (10_000, 2)):
            more = ("--replications", str(replications), "--workers", str(workers))
            began, once, each = time.perf_counter(), 0, 0
            with subprocess.Popen(
                [sys.executable, "-W", "ignore", "-m", "o2sim", *words, *more],
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            ) as done:  # fmt: skip
                while done.poll() is None:
                    now = _held_kb(done.pid)
                    once, each = max(once, now[0]), max(each, now[1])
                    time.sleep(0.05)
            assert done.returncode == 0
            seconds = f"{time.perf_counter() - began:.0f}"
            rows.append((f"`o2sim {name}`", f"{replications:,}", workers, seconds, once // 1024, each // 1024))
    show(capsys, "many replications", HEADS, rows)
