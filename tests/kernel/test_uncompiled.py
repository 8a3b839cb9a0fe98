"""The kernel as plain Python, where every access to memory is looked at, and compiled with bounds checked."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from hunt import hunt

from o2sim.compiler import jit

HERE = Path(__file__).parent


def hunted(most: str, **settings: str) -> str:
    """A number of hospitals and environment variables in, what another process says of the twins out."""
    paths = (HERE.parents[1], HERE.parent / "model", HERE)
    env = os.environ | settings | {"PYTHONPATH": os.pathsep.join(map(str, paths))}
    command = [sys.executable, str(HERE / "hunt.py"), most, "600"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    return done.stdout.strip("\n") or done.stderr


@pytest.mark.slow  # .ci/run has the next test do so, with its lines traced
@pytest.mark.skipif(not jit.COMPILES, reason="the next test does so with its lines traced")
def test_the_kernel_as_plain_python_equals_the_reference() -> None:
    """Without the compiler 60 drawn hospitals give the same outcomes; no place lies outside its memory."""
    assert hunted("60", NUMBA_DISABLE_JIT="1") == "60\t"


@pytest.mark.skipif(jit.COMPILES, reason="only where the kernel runs as plain Python, as .ci/run has it")
@pytest.mark.parametrize("start", range(4))  # a process is given two at a time, so that two cores share them
def test_which_lines_of_the_kernel_are_covered(start: int) -> None:
    """As plain Python, with its lines traced, the kernel gives the outcomes of the reference."""
    assert hunt(25, 600, "", start) == (25, "")


@pytest.mark.slow  # the whole engine is compiled again for it
@pytest.mark.parametrize("most", ["60", "500"])
def test_the_kernel_with_bounds_checked_equals_the_reference(most: str) -> None:
    """Compiled with the index of every array checked, drawn hospitals give the same outcomes."""
    assert hunted(most, NUMBA_BOUNDSCHECK="1") == f"{most}\t"


# A place beyond the end may be one of an array within a record, or of a row of records.
BEYOND = """
import sys
import numpy as np
from o2sim.compiler import jit
ROW = np.dtype([("pair", "i8", (2,)), ("after", "i8")])
at = jit.records(ROW)

@jit.compiled
def value(where, row, place):
    return at(where, row).pair[place]

@jit.cached
def look(where, row, place):
    return value(where, row, place)

rows = jit.memory(ROW, 1)
try:
    look(jit.address(rows), int(sys.argv[1]), int(sys.argv[2]))
except IndexError:
    print("seen")
"""


@pytest.mark.parametrize(
    ("setting", "row", "place", "said"),
    [
        ("NUMBA_BOUNDSCHECK", "0", "1", ""),
        ("NUMBA_BOUNDSCHECK", "0", "2", "seen"),
        ("NUMBA_DISABLE_JIT", "0", "1", ""),
        ("NUMBA_DISABLE_JIT", "0", "2", "seen"),
        ("NUMBA_DISABLE_JIT", "1", "0", "seen"),
        ("NUMBA_DISABLE_JIT", "-1", "0", "seen"),  # NONE taken for a place
    ],
)
def test_what_the_checks_see(setting: str, row: str, place: str, said: str, tmp_path: Path) -> None:
    """Bounds checks see arrays within a record; without the compiler a place beyond its row is seen as well."""
    program = tmp_path / "beyond.py"
    program.write_text(BEYOND)
    env = os.environ | {setting: "1", "PYTHONPATH": str(HERE.parents[1]), "NUMBA_CACHE_DIR": str(tmp_path)}
    command = [sys.executable, str(program), row, place]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    assert (done.stdout.strip(), done.stderr) == (said, "")
