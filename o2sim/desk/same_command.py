"""The same as a command: the line for a terminal that gives the figures of an answer."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from typing import Any

from o2sim.desk import work


def command_for(name: str, file: str, result: Mapping[str, Any], *, options: bool) -> str:
    """Return the line, to be typed in the folder of the file; "" where no command has the same figures.

    options: whether the file itself says what may be bought.
    """
    at_ends = ["--replications", str(work.AT_EACH_END), "--seed", str(work.SEED)]
    whole = ["--replications", str(work.REPLICATIONS), "--seed", str(work.SEED)]
    if name == "answer":
        return _line("compare", file, *whole)
    if name == "matters":
        return _line("drivers", file, *at_ends)
    if name == "power" and result["field"]:
        values = ", ".join(point["value"] for point in result["points"])
        return _line("whatif", file, "--vary", f"{result['field']} = {values}", *at_ends)
    if name == "keep":
        asked = ["--strategy", result["strategy"], "--target", result["target"]]
        return _line("size", file, *asked, "--seed", str(work.SEED))
    return _line("compare", file, "--options", *whole) if name == "buy" and options else ""


def _line(*words: str) -> str:
    return shlex.join(["o2sim", *words])
