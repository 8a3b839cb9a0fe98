"""The same as a command: the line for a terminal that gives the figures of an answer."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from o2sim.desk import work
from o2sim.desk.sent_books import NAME
from o2sim.errors import CountError
from o2sim.scenario.changing.count import SECTION, node_of
from o2sim.scenario.changing.count_text import count_of_text
from o2sim.scenario.changing.splice import flow

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
    if name == "today":
        return _today_line(file, result)
    return _line("compare", file, "--options", *whole) if name == "buy" and options else ""


def _today_line(file: str, result: Mapping[str, Any]) -> str:
    """Return the line of today's count; "" where a class has a name that the text of a count cannot hold."""
    count = count_words(result["values"])
    if not _reads_back(count, result["values"]):
        return ""
    asked = ["--count", count, "--on", result["on"], "--strategy", result["strategy"]]
    return _line("today", file, *asked, "--seed", str(work.SEED))


def count_words(values: Mapping[str, Any]) -> str:
    """Return a count as the text that `o2sim today --count` reads."""
    stock = values["cylinders"]
    said = [f"counted {values['counted']}", f"full {stock['full']}", f"empty {stock['empty']}"]
    if "part_used" in stock:
        said.append(f"part-used {' '.join(stock['part_used'])}")
    for each in values.get("on_order", ()):
        since = "" if each["ordered"] == "unknown" else f" since {each['ordered']}"
        said.append(f"on order {each['count']}{since}")
    if "on_oxygen" in values:
        there = [f"{each['class']} {each['count']}{_by(each)}" for each in values["on_oxygen"]]
        said += [f"on oxygen {each}" for each in there or ["nobody"]]
    if "concentrators" in values:
        said.append(f"concentrators {values['concentrators']['working']} working")
    if "grid" in values:
        said.append(f"grid {'on' if values['grid']['up'] else 'off'}")
    return ", ".join([*said, *(f"{name} {values[name]}" for name in ("battery", "fuel") if name in values)])


def _by(patients: Mapping[str, Any]) -> str:
    """Return from where patients have their oxygen, "" where nobody has counted that."""
    source = patients.get("source", "")
    return {"": "", "none": " waits"}.get(source, f" by {source}")


def _reads_back(count: str, values: Mapping[str, Any]) -> bool:
    """Return whether the text of a count is read as what it was made of."""
    try:
        found = count_of_text(count)
    except CountError:
        return False
    return flow(node_of(found.values, SECTION)) == flow(node_of(values, SECTION))


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
