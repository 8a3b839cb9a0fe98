"""How a notebook shows a scenario."""

from __future__ import annotations

from o2sim.looks.notebook import page
from o2sim.planning.figures import planning_figures
from o2sim.questions.check.content import content, provenance
from o2sim.scenario.types.hospital import Scenario
from o2sim.shown import html


@html.register
def _scenario_html(result: Scenario) -> str:
    figures = {name: planning_figures(hospital) for name, hospital in result.hospitals.items()}
    return page(result.name, content(result, figures), provenance(result), strong=False)
