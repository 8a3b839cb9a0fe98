"""What a scenario amounts to, as blocks: whose the figures are, sentences, need, supply, durations."""

from __future__ import annotations

import shlex
from collections.abc import Mapping

from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Lines
from o2sim.looks.screen import Screen
from o2sim.planning.figures import PlanningFigures
from o2sim.questions.check import rules_in_words as field
from o2sim.questions.check import text as planner
from o2sim.scenario.types.hospital import Scenario
from o2sim.version import __version__


def content(scenario: Scenario, figures: Mapping[str, PlanningFigures]) -> list[Block]:
    """Return what is to be said of a scenario."""
    return [
        scenario.about,
        cautions.figures_checked(scenario.figures),
        Lines(tuple(planner.sentences(figures))),
        Lines(tuple(field.sentences(scenario))),
        *planner.need_tables(figures),
        *planner.supply_tables(figures),
        *planner.duration_tables(figures),
    ]


def provenance(scenario: Scenario) -> str:
    """Return the line that says which scenario it is."""
    return f"o2sim {__version__} | scenario {scenario.hash} | strategies: {', '.join(scenario.strategies)}"


def print_check(scenario: Scenario, figures: Mapping[str, PlanningFigures]) -> None:
    """Print what a scenario amounts to, what to do next, a caution and which scenario it is."""
    screen = Screen()
    screen.paragraph(f"{scenario.name}: the file is in order.")
    screen.show(content(scenario, figures))
    screen.next([f"How often someone goes without, and at what cost: o2sim compare {shlex.quote(scenario.file)}"])
    screen.paragraph(cautions.SHORT[0])
    screen.paragraph(provenance(scenario))
