"""The kernel as plain Python, where every access to memory is looked at, and compiled with bounds checked."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from hunt import hunt

from o2sim import jit

HERE = Path(__file__).parent


def hunted(most: str, **settings: str) -> str:
    """A number of hospitals and environment variables in, what another process says of the twins out."""
    paths = (HERE.parents[1], HERE.parent / "model", HERE)
    env = os.environ | settings | {"PYTHONPATH": os.pathsep.join(map(str, paths))}
    command = [sys.executable, str(HERE / "hunt.py"), most, "600"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    return done.stdout.strip("\n") or done.stderr


def test_the_kernel_as_plain_python_equals_the_reference() -> None:
    """Without the compiler 60 drawn hospitals give the same outcomes; no place lies outside its memory."""
    if jit.COMPILES:
        assert hunted("60", NUMBA_DISABLE_JIT="1") == "60\t"
    else:  # as .ci/run has it, to see which lines of the kernel are covered
        assert hunt(200, 600, "") == (200, "")


@pytest.mark.slow
def test_the_kernel_with_bounds_checked_equals_the_reference() -> None:
    """Compiled with every index checked, 500 drawn hospitals give the same outcomes."""
    assert hunted("500", NUMBA_BOUNDSCHECK="1") == "500\t"
