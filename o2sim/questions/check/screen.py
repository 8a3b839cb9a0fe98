"""What `o2sim check` prints."""

from __future__ import annotations

import shlex
from collections.abc import Mapping

from o2sim.looks import (
    cautions,
    own_figures,
)
from o2sim.looks.screen import Screen
from o2sim.planning.figures import PlanningFigures
from o2sim.questions.check import (
    rules_in_words as field,
)
from o2sim.questions.check import (
    text as planner,
)
from o2sim.scenario.types.hospital import Scenario
from o2sim.version import __version__


def print_check(scenario: Scenario, figures: Mapping[str, PlanningFigures]) -> None:
    """Print what a scenario amounts to: sentences, need, supply, durations."""
    screen = Screen()
    screen.paragraph(f"{scenario.name}: the file is in order.")
    screen.paragraph(scenario.about)
    screen.paragraph(own_figures.checked(scenario.figures))
    screen.paragraph(*planner.sentences(figures))
    screen.paragraph(*field.sentences(scenario))
    screen.tables(planner.need_tables(figures))
    screen.tables(planner.supply_tables(figures))
    screen.tables(planner.duration_tables(figures))
    screen.next([f"How often someone goes without, and at what cost: o2sim compare {shlex.quote(scenario.file)}"])
    screen.paragraph(*cautions.SHORT[:1])
    screen.paragraph(
        f"o2sim {__version__} | scenario {scenario.hash} | strategies: {', '.join(scenario.strategies)}"
    )
