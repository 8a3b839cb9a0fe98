"""The same as a command: the line for a terminal that gives the figures of an answer."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from o2sim.desk import work
from o2sim.desk.sent_books import NAME

FITTED = "fitted.yaml"


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


def books_command(file: str, base: str, *, is_drawn: bool) -> list[str]:
    """Return the lines that give the figures of the books, and answers over their joint draws.

    file: into which they are put, "" for none yet. base: that they were fitted over, "" for o2sim's own.
    """
    over = ["--base", base] if base else []
    whole = ["--replications", str(work.REPLICATIONS), "--seed", str(work.SEED)]
    lines = [_line("fit", NAME, *over, "-o", FITTED)]
    if is_drawn and file:
        lines.append(_line("compare", file, "--draws", draws_name(file), *whole))
    return [*lines, _line("hindcast", FITTED, NAME)]


def draws_name(file: str) -> str:
    """Return what the draws beside a file are called, as `o2sim fit` calls them."""
    return f"{PurePath(file or FITTED).stem}-draws.csv"


def _line(*words: str) -> str:
    return shlex.join(["o2sim", *words])
