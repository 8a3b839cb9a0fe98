"""What is printed where the engines differ: the first event, and what both hold there."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from faults import Fault
from mutants import plant
from twins import LINES_BEFORE

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
# A fault that the next event shows, and one that no event shows.
PRIORITY = Fault("", "kernel/queues.py", "return (p.priority << 32) + p.number", "return p.number")
LOSSES = Fault(
    "",
    "kernel/chain.py",
    "-(-load_w * 1_000 * MW_S_PER_W_S // r.power_battery_inverter_permille)",
    "load_w * 1_000 * MW_S_PER_W_S // r.power_battery_inverter_permille",
)
FOUR_WEEKS = """
    import sys
    from dataclasses import replace
    from o2sim import load
    from o2sim.draws import Draws
    from twins import differences
    rules = load(sys.argv[1]).hospitals[sys.argv[2]]
    print(*differences(replace(rules, warm_up_s=0, horizon_s=28 * 86_400), Draws(1, 0)), sep="\\n")
"""
# Drawn hospitals, each stopped in the middle: what the engines hold is the same, and more than a clock.
IN_THE_MIDDLE = """
    import random, sys
    from hypothesis import HealthCheck, Phase, given, seed, settings
    from o2sim.draws import Draws
    from states import NEVER, kernel_at, reference_at
    from twins import twin_hospitals
    held = []

    @seed(0)
    @settings(max_examples=int(sys.argv[1]), deadline=None, database=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))
    @given(rules=twin_hospitals())
    def look(rules):
        draws = Draws(1, len(held))
        last = reference_at(rules, draws, NEVER).steps
        steps = random.Random(len(held)).randrange(last + 1)
        state = reference_at(rules, draws, steps)
        assert (state, state.steps) == (kernel_at(rules, draws, steps), steps)
        held.append({name.rstrip("0123456789") for name in state.of})

    look()
    print(*sorted(set.union(*held)), sep="\\n")
"""


def printed(script: str, *arguments: str, package: Path = ROOT) -> list[str]:
    """A program in, the lines it prints out; the kernel runs as plain Python, for nothing is worth compiling."""
    paths = os.pathsep.join(map(str, (package, HERE.parent / "model", HERE)))
    env = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": paths, "PYTHONSAFEPATH": "1"}
    command = [sys.executable, "-c", textwrap.dedent(script), *arguments]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@pytest.fixture
def package(tmp_path: Path) -> Path:
    """Return a folder with a copy of the package, to plant faults in."""
    shutil.copytree(ROOT / "o2sim", tmp_path / "o2sim", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def test_the_first_event_that_differs_is_printed_with_both_states(package: Path) -> None:
    """Staff of the faulty kernel come by arrival, not by priority: the event, the stock, who is served by what."""
    assert plant(PRIORITY, package / "o2sim") == ""
    text = (ROOT / "scenarios" / "night_shift.yaml").read_text(encoding="utf-8")
    busy = (
        package / "busy_nights.yaml"
    )  # so many patients that within four weeks an adult and a child wait at once
    busy.write_text(text.replace("3.5 / day", "10 / day").replace("2.3 / day", "7 / day"), encoding="utf-8")
    lines = printed(FOUR_WEEKS, str(busy), "change at residual", package=package)
    found = "\n".join(lines)
    number = int(lines[0].removeprefix("event ").removesuffix(" differs"))
    assert number > 0
    assert [line.rsplit(" ", 1)[-1] for line in lines[1 + LINES_BEFORE : 3 + LINES_BEFORE]] == [
        "reference",
        "kernel",
    ]
    same = {line.split(":")[0].rstrip("0123456789") for line in lines if line.startswith("  ")}
    assert {"  clock", "  stock of size ", "  unit ", "  patient ", "  staff"} <= same
    apart = [line for line in lines if line.startswith("! ")]
    assert apart[0::2] == [line for line in apart if line.endswith(" - by the reference")]
    assert apart[1::2] == [line for line in apart if line.endswith(" - by the kernel")]
    served, waits = ("flowing, has_delivery", "responding, has_delivery")
    patients = [line for line in apart if line.startswith("! patient ")]
    assert [served in line for line in patients] == [False, True, True, False]
    assert [waits in line for line in patients] == [True, False, False, True]
    assert "already after step" not in found  # nothing differed before


def test_what_no_event_shows_is_traced_to_where_the_states_part(package: Path) -> None:
    """Losses of the faulty kernel's inverter are rounded down: the battery is fuller, long before anybody sees."""
    assert plant(LOSSES, package / "o2sim") == ""
    lines = printed(FOUR_WEEKS, str(ROOT / "scenarios" / "hill_clinic_power.yaml"), "battery", package=package)
    assert lines[0].startswith("grid_charging_ws: ")
    assert lines[-3].startswith("already after step ")
    levels = [int(line.split("battery ")[1].split()[0]) for line in lines[-2:]]
    assert lines[-2].startswith("! power: ")
    assert levels[0] < levels[1]


def test_states_in_the_middle_of_a_run_are_equal() -> None:
    """What the engines hold at an instant drawn at random is the same, line by line, in drawn hospitals."""
    about = {"clock", "stock of size ", "ward ", "unit ", "patient ", "power", "staff", "waiting", "counted"}
    assert about <= set(printed(IN_THE_MIDDLE, "16"))
