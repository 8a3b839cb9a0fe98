"""How a notebook and a data frame show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.frames import ENDS, asked_lever, value_of
from o2sim.measures.names import COST
from o2sim.questions.size.sizing import Sizing
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

from o2sim.looks.notebook import page, result_line
from o2sim.questions.size.content import content, done
from o2sim.shown import html


@frame.register(Sizing)
def _sizing_frame(result: Sizing) -> pd.DataFrame:
    said = result.result
    levers = [asked_lever(each) for each in said["vary"]]
    money = said["currency"] if any(point.get("annual_cost") is not None for point in said["curve"]) else None
    columns = ("replications", "failures", "estimate", *ENDS, "status")
    heads = [*(each.heading for each in levers), *columns, "enough"]
    rows = []
    for point in said["curve"]:
        cells = [value_of(each, point["values"][each.path]) for each in levers]
        cells += [*(point[column] for column in columns), point["values"] == result.answer]
        rows.append(cells if money is None else [*cells, point.get("annual_cost")])
    return tabular.data_frame(heads if money is None else [*heads, f"{COST} ({money}/year)"], rows)


@html.register
def _sizing_html(result: Sizing) -> str:
    said = result.result
    return page(f"{said['scenario']}: how much is enough?", content(said), result_line(said, done(said)))
