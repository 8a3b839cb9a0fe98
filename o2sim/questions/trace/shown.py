"""How a notebook and a data frame show one replication."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.notebook import page
from o2sim.looks.screen import provenance
from o2sim.questions.trace import timeline
from o2sim.questions.trace.tracing import Trace
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd


@frame.register(Trace)
def _trace_frame(result: Trace) -> pd.DataFrame:
    hospital = result.scenario.hospitals[result.strategy]
    return tabular.data_frame(timeline.CSV_COLUMNS, timeline.csv_rows(hospital, result.outcome.log))


@html.register
def _trace_html(result: Trace) -> str:
    blocks = timeline.content(result.scenario.hospitals[result.strategy], result.outcome.log)
    what = f"{result.strategy}, replication {result.replication}"
    said = provenance(result.scenario, result.seed, what, result.engine)
    return page(f"{result.scenario.name}: why someone went without", blocks, said, strong=False)
