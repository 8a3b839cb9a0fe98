"""`o2sim check`: mistakes in a scenario, and what it amounts to."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from o2sim.commands.batch import identity
from o2sim.commands.options import file_argument, json_option, load, print_json


@click.command(short_help="Find every mistake; what the scenario amounts to.")
@file_argument
@json_option
def check(file: Path, as_json: bool) -> None:
    """Look for mistakes in a scenario, and print what it amounts to."""
    from o2sim.planning.figures import planning_figures
    from o2sim.scenario import warnings

    scenario = load(file)
    figures = {name: planning_figures(hospital) for name, hospital in scenario.hospitals.items()}
    if as_json:
        doubts = [asdict(problem) for problem in warnings(scenario)]
        strategies = {name: asdict(item) for name, item in figures.items()}
        about = {**identity(scenario), "figures": scenario.figures}
        print_json({**about, "warnings": doubts, "strategies": strategies})
        return
    from o2sim.questions.check.content import print_check

    print_check(scenario, figures)
