"""How a notebook shows a scenario."""

from __future__ import annotations

from o2sim.looks.notebook import Block, page
from o2sim.planning.figures import planning_figures
from o2sim.questions.check import (
    rules_in_words as field,
)
from o2sim.questions.check import (
    text as planner,
)
from o2sim.scenario.types.hospital import Scenario
from o2sim.shown import html
from o2sim.version import __version__


@html.register
def _scenario_html(result: Scenario) -> str:
    figures = {name: planning_figures(hospital) for name, hospital in result.hospitals.items()}
    blocks: list[Block] = [result.about, *planner.sentences(figures), *field.sentences(result)]
    blocks += [*planner.need_tables(figures), *planner.supply_tables(figures), *planner.duration_tables(figures)]
    told = f"o2sim {__version__} | scenario {result.hash} | strategies: {', '.join(result.strategies)}"
    return page(result.name, blocks, told, strong=False)
