"""The commands whose output the digests keep, and a way to run one within this process and make it comparable."""

from __future__ import annotations

import json
import os
import platform
import re
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from click.testing import CliRunner
from digest_runs import SCENARIOS, names

import o2sim
from o2sim.cli import main

DIGITS = 10  # of a number in JSON that are compared: the last ones hang on the version of a library
KEPT_APART = ("version", "python", "numpy")  # keys of JSON that differ without any change
SYSTEM = re.compile(r"(\| (?:platform|pint|simpy) \| )[^|\n]+(?= \|)")  # the kernel's release is in it
CLOCK = re.compile(r"\d{4}-\d\d-\d\d.\d\d:\d\d(:\d\d[+:\d]*)?")  # when a run was finished
RUN = ("--replications", "2", "--seed", "1")
FOLDER = "FOLDER"  # stands in commands and texts for a folder that is new each time
CENTRE, DISTRICT = "scenarios/health_centre.yaml", "scenarios/district_hospital.yaml"
TO_BUY, VALLEY = "scenarios/what_to_buy.yaml", "scenarios/uncertain_valley.yaml"
LAST = "scenarios/last_cylinders.yaml"
MIXED = ("--strategy", "mixed")
SIZES = ("--replications", "40", "--seed", "1", "--target", "30 %")

Command = tuple[str, ...]


def of_every_scenario() -> list[Command]:
    """Return the commands that are asked of every shipped scenario."""
    files = [f"scenarios/{name}" for name in names()]
    return [
        command
        for file in files
        for command in (("check", file), ("compare", file, *RUN), ("equipment", file, *RUN))
    ]


def of_some() -> list[Command]:
    """Return commands that ask each question in its several ways, small."""
    two = ("--vary", "cylinders.fleet = 8, 12", "--vary", "resupply.vehicle_capacity = 2, 4")
    cuts = ("--vary", "power.grid.down.median = 1 h, 4 h")
    few = ("--samples", "4", *MIXED, *RUN)
    return [
        ("run", CENTRE, *MIXED, *RUN),
        ("run", DISTRICT, *MIXED, "--precision", "20 %", "--replications", "40", "--seed", "2"),
        ("run", CENTRE, *MIXED, *RUN, "--store", f"{FOLDER}/runs.store"),
        ("runs", f"{FOLDER}/runs.store"),
        ("compare", TO_BUY, "--options", "--target", "40 %", *RUN),
        ("compare", TO_BUY, "--options", "--budget", "20000 USD/year", "--capital", "60000 USD", *RUN),
        ("size", CENTRE, *MIXED, "--range", "6..14 step 2", *SIZES),
        ("size", CENTRE, *MIXED, *two, *SIZES),
        ("size", LAST, "--strategy", "reserve", "--range", "12, 24", "--causes", "any", "--hold-levels", *SIZES),
        ("whatif", CENTRE, "--vary", "resupply.vehicle_capacity = 2, 4", *RUN),
        ("whatif", DISTRICT, *cuts, "--vary", "cylinders.fleet = 20, 40", *RUN),
        ("whatif", TO_BUY, "--vary", "concentrators.count = 1..3", "--budget", "20000", "--target", "20 %", *RUN),
        ("drivers", VALLEY, *RUN),
        ("drivers", CENTRE, "--vary", "power.grid.down.median = 1 h, 2 h, 6 h", *MIXED, *RUN),
        ("drivers", VALLEY, "--method", "nested", "--budget", "20000", "--worth", "500", *few),
        ("drivers", VALLEY, "--method", "morris", *few),
        ("drivers", VALLEY, "--method", "sobol", *few),
        ("study", "scenarios/province.csv", "--base", CENTRE, *RUN),
        ("trace", CENTRE, *MIXED, "--replication", "1", "--seed", "1"),
        ("trace", DISTRICT, "--strategy", "cylinders only", "--worst", *RUN),
        ("cylinder", "12 MPa", "--water-capacity", "47 L", "--flow", "5 L/min"),
        ("cylinder", "--table", "--content", "6800 L", "--filling-pressure", "13.7 MPa"),
    ]


def printed(commands: Sequence[Command], *more: str) -> Iterator[tuple[str, str]]:
    """Yield each command with more, and what it printed, made comparable; what one leaves, those after it find."""
    with new_folder() as folder:
        for command in commands:
            yield shown(command + more), run((*command, *more), folder)


def run(command: Command, folder: Path) -> str:
    """Return what a command prints for its reader, made comparable, and why where it could not finish."""
    asked = [part.replace(FOLDER, str(folder)) for part in command]
    found = CliRunner().invoke(main, asked, env={"COLUMNS": "100"}, catch_exceptions=False)
    why = f"exit code {found.exit_code}\n{found.stderr}" if found.exit_code else ""
    said = CLOCK.sub("<finished>", found.stdout) if command[0] == "runs" else found.stdout
    return plain(_rounded(said) + why, folder)


@contextmanager
def new_folder() -> Iterator[Path]:
    """Stand where scenarios have short names, with a folder to write in that goes at the end."""
    place, arguments = Path.cwd(), sys.argv
    os.chdir(SCENARIOS.parent)
    sys.argv = ["o2sim"]  # a manifest says by which command it was made
    try:
        with tempfile.TemporaryDirectory() as folder:
            yield Path(folder)
    finally:
        os.chdir(place)
        sys.argv = arguments


def plain(text: str, folder: Path) -> str:
    """Return a text without what differs from machine to machine: folders, its system and versions."""
    text = text.replace(str(folder), FOLDER).replace(str(SCENARIOS.parent), "ROOT")
    text = SYSTEM.sub(r"\1<system>", text)
    versions = {"o2sim": o2sim.__version__, "Python": platform.python_version(), "NumPy": np.__version__}
    for name, version in versions.items():
        text = re.sub(rf"(?<![\d.]){re.escape(version)}(?!\d|\.\d)", f"<{name}>", text)
    return text


def shown(command: Command) -> str:
    """Return a command as it is typed."""
    return " ".join(f'"{part}"' if " " in part else part for part in command)


def _rounded(text: str) -> str:
    """Return JSON with rounded numbers and without versions and times; any other text as it is."""
    try:
        return json.dumps(_without(json.loads(text)), indent=1, ensure_ascii=False)
    except ValueError:
        return text


def _without(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: f"<{key}>" if key in KEPT_APART else _without(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_without(each) for each in value]
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value
