"""How a notebook and a data frame show a sizing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.frames import ENDS, asked_lever, value_of
from o2sim.looks.notebook import page, result_line
from o2sim.measures.names import COST
from o2sim.questions.size.content import content, done
from o2sim.questions.size.sizing import Sizing
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("replications", "failures", "estimate", *ENDS, "status")


@frame.register(Sizing)
def _sizing_frame(result: Sizing) -> pd.DataFrame:
    said = result.record
    levers = [asked_lever(each) for each in result.result["vary"]]
    priced = any(point.annual_cost is not None for point in said.curve)
    money = [f"{COST} ({said.currency}/year)"] if priced else []
    heads = [*(each.heading for each in levers), *COLUMNS, "enough", *money]
    rows = [
        [
            *(value_of(each, point.values[each.path]) for each in levers),
            *(getattr(point, column) for column in COLUMNS),
            point.values == said.chosen,
            *([point.annual_cost] if priced else []),
        ]
        for point in said.curve
    ]
    return tabular.data_frame(heads, rows)


@html.register
def _sizing_html(result: Sizing) -> str:
    title = f"{result.record.of.scenario}: how much is enough?"
    return page(title, content(result.record), result_line(result.result, done(result.record)))
