"""Draw hospitals until the engines differ; print how many it took and what was seen, with a tab between."""

from __future__ import annotations

import signal
import sys
from contextlib import suppress

from counted import counted_hospitals
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.errors import Flaky
from twins import differences, twin_hospitals

from o2sim.draws import Draws
from o2sim.errors import InvariantError, O2simError
from o2sim.scenario.types.hospital import Hospital


class SeenError(Exception):
    """Something differs, or did in an earlier hospital."""


def hunt(most: int, longest_s: float, needs: str, start: int = 0) -> tuple[int, str]:
    """Return after how many hospitals something was seen, and what; "" for nothing in as many as `most`.

    Hospitals without the part that `needs` names are passed over, `now` draws counts; another start draws others.

    The process is ended by SIGVTALRM where one hospital takes more than longest_s of CPU: an engine hangs.
    """
    tried, seen = 0, ""
    drawn = counted_hospitals() if needs.split(".")[0] == "now" else twin_hospitals()

    @seed(start)
    @settings(
        max_examples=20 * most,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        report_multiple_bugs=False,
        suppress_health_check=list(HealthCheck),
    )
    @given(rules=drawn)
    def look(rules: Hospital) -> None:
        nonlocal tried, seen
        if not seen and (tried == most or not _has(rules, needs)):
            return
        if not seen:
            tried += 1
            signal.setitimer(signal.ITIMER_VIRTUAL, longest_s)  # ends the process, in compiled code too
            seen = _found(rules, tried)
        if seen:
            raise SeenError

    with suppress(SeenError, Flaky):
        look()
    signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    return tried, seen


def _has(part: object, needs: str) -> bool:
    """Return True if a hospital has some parts, by their dotted names with blanks between; "" is any."""
    return all(_is_there(part, path) for path in needs.split())


def _is_there(part: object, path: str) -> bool:
    for name in path.split("."):
        part = getattr(part, name, None)
    return part is not None and part is not False and part not in (0, ())


def _found(rules: Hospital, replication: int) -> str:
    try:
        found = differences(rules, Draws(1, replication), states=False)
    except InvariantError:
        return "a broken balance"
    except O2simError:
        return "an error of the engine"
    except (ArithmeticError, AssertionError, AttributeError, LookupError, RuntimeError, ValueError) as error:
        return f"an error ({type(error).__name__})"
    if not found:
        return ""
    return "the event log" if found[0].startswith("event ") else f"the outcome ({found[0].split(':')[0]})"


if __name__ == "__main__":
    print("\t".join(map(str, hunt(int(sys.argv[1]), int(sys.argv[2]), "".join(sys.argv[3:])))))
