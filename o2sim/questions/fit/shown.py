"""How a notebook and a data frame show a fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.notebook import page
from o2sim.questions.fit.content import content, provenance
from o2sim.questions.fit.fitting import Fit
from o2sim.questions.fit.result import result
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("key", "value", "likely", "low", "high", "unit", "sheet", "tier", "rows", "used", "said")


@frame.register(Fit)
def _fit_frame(found: Fit) -> pd.DataFrame:
    rows: list[tuple[object, ...]] = []
    for each in result(found).keys:
        source = (each.sheet, each.tier, each.rows, each.used, each.said)
        for one in each.numbers:
            rows.append((one.key, each.value, one.likely, one.low, one.high, one.unit, *source))
        if not each.numbers:
            rows.append((each.key, each.value, None, None, None, "", *source))
    return tabular.data_frame(COLUMNS, rows)


@html.register
def _fit_html(found: Fit) -> str:
    title = f"{found.records}: what the records give"
    return page(title, content(found), provenance(found), strong=False)
