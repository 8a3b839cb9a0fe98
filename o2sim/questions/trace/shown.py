"""How a notebook and a data frame show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.questions.trace import timeline
from o2sim.questions.trace.tracing import Trace
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

from o2sim.looks.notebook import Block, page
from o2sim.looks.screen import provenance
from o2sim.shown import html


@frame.register(Trace)
def _trace_frame(result: Trace) -> pd.DataFrame:
    hospital = result.scenario.hospitals[result.strategy]
    return tabular.data_frame(timeline.CSV_COLUMNS, timeline.csv_rows(hospital, result.outcome.log))


@html.register
def _trace_html(result: Trace) -> str:
    story = timeline.story(result.scenario.hospitals[result.strategy], result.outcome.log)
    episodes: list[list[str]] = [[]]
    for line in story:
        if line.strip():
            episodes[-1].append(line.strip())
        elif episodes[-1]:
            episodes.append([])
    blocks: list[Block] = []
    for head, *steps in filter(None, episodes):
        blocks += [head, steps] if steps else [head]
    what = f"{result.strategy}, replication {result.replication}"
    told = provenance(result.scenario, result.seed, what, result.engine)
    return page(f"{result.scenario.name}: why somebody went without", blocks, told, strong=False)
