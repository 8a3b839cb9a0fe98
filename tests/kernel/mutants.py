"""Plant one fault at a time in one engine and see whether the twins tell: `python tests/kernel/mutants.py`.

Each fault changes one rule in a copy of the package. The engines then run the same drawn hospitals one after
another until something differs, a balance breaks or an engine stops. What was seen, after how many hospitals, is
printed as a table; the exit code is 1 if a fault was not seen, or no longer fits the source.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import faults_units
from faults import KERNEL, REFERENCE, Fault

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
# Most faults show in a few hospitals, for which no compiling is worth while; the rest take many. How many, how
# many seconds of CPU one may take, compiling included, before an engine is said to hang, and the settings.
HUNTS = (
    (80, 60, {"NUMBA_DISABLE_JIT": "1"}),
    (4_000, 600, {"NUMBA_NUM_THREADS": "1"}),
)


@dataclass(frozen=True)
class Found:
    """What came of a fault: how it was seen, "" if it was not, and how many hospitals that took."""

    how: str
    hospitals: int


def plant(fault: Fault, package: Path) -> str:
    """Change the source in a copy of the package; return what is wrong if the fault does not fit."""
    path = package / "model" / fault.file
    source = path.read_text()
    times = source.count(fault.old)
    if times != 1:
        return f"found {times} times in {fault.file}"
    path.write_text(source.replace(fault.old, fault.new))
    return ""


def look(fault: Fault) -> Found:
    """Return whether the twins see one fault, in a copy of the package."""
    with tempfile.TemporaryDirectory() as folder:
        package = Path(folder) / "o2sim"
        shutil.copytree(ROOT / "o2sim", package, ignore=shutil.ignore_patterns("__pycache__"))
        wrong = plant(fault, package)
        if wrong:
            return Found(f"STALE: {wrong}", 0)
        return _hunted(Path(folder), fault.needs)


def _hunted(folder: Path, needs: str) -> Found:
    """Return what the hunts find there, few hospitals first."""
    found = Found("", 0)
    for most, longest_s, settings in HUNTS:
        found = _hunt(folder, (str(most), str(longest_s), needs), settings)
        if found.how:
            break
    return found


def _hunt(folder: Path, arguments: tuple[str, ...], settings: dict[str, str]) -> Found:
    """Return what a hunt in another process finds."""
    paths = os.pathsep.join(map(str, (folder, ROOT / "tests" / "model", HERE)))
    env = os.environ | settings | {"PYTHONPATH": paths, "PYTHONSAFEPATH": "1", "NUMBA_CACHE_DIR": str(folder)}
    command = [sys.executable, str(HERE / "hunt.py"), *arguments]
    done = subprocess.run(command, env=env, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode == -signal.SIGVTALRM:
        return Found("an engine hangs", 0)
    if done.returncode < 0:
        return Found("an engine crashes", 0)
    last = (done.stdout.splitlines() or [""])[-1]
    if done.returncode or "\t" not in last:
        return Found(f"BROKEN: {(done.stderr.splitlines() or ['nothing said'])[-1]}", 0)
    count, how = last.split("\t", 1)
    return Found(how, int(count))


def table(faults: Sequence[tuple[str, Fault]]) -> Iterator[tuple[str, bool]]:
    """Return the lines of the table, each with whether all is well with it."""
    yield "| engine | fault | file | seen by | hospitals | of those with |", True
    yield "|---|---|---|---|--:|---|", True
    for engine, fault in faults:
        found = look(fault)
        seen = found.how != "" and found.how.split(":")[0] not in ("STALE", "BROKEN")
        what = found.how or "NOT SEEN"
        yield f"| {engine} | {fault.name} | {fault.file} | {what} | {found.hospitals} | {fault.needs} |", seen


def main() -> int:
    """Print the table; faults may be picked by words of their names."""
    words = sys.argv[1:]
    faults = [("kernel", each) for each in (*KERNEL, *faults_units.KERNEL)]
    faults += [("reference", each) for each in (*REFERENCE, *faults_units.REFERENCE)]
    chosen = [(engine, each) for engine, each in faults if not words or any(word in each.name for word in words)]
    start_s, failed = time.time(), 0
    for line, seen in table(chosen):
        print(line, flush=True)
        failed += not seen
    print(f"\n{len(chosen)} faults, {len(chosen) - failed} seen, in {time.time() - start_s:.0f} s")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
