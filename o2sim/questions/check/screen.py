"""What `o2sim check` prints."""

from __future__ import annotations

import shlex
from collections.abc import Mapping

from o2sim.looks import cautions
from o2sim.looks.screen import Screen
from o2sim.planning.figures import PlanningFigures
from o2sim.questions.check.content import content, provenance
from o2sim.scenario.types.hospital import Scenario


def print_check(scenario: Scenario, figures: Mapping[str, PlanningFigures]) -> None:
    """Print what a scenario amounts to, what to do next, a caution and which scenario it is."""
    screen = Screen()
    screen.paragraph(f"{scenario.name}: the file is in order.")
    screen.show(content(scenario, figures))
    screen.next([f"How often someone goes without, and at what cost: o2sim compare {shlex.quote(scenario.file)}"])
    screen.paragraph(*cautions.SHORT[:1])
    screen.paragraph(provenance(scenario))
