"""How a notebook and a data frame show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.notebook import page
from o2sim.questions.facilities import tables
from o2sim.questions.facilities.many_facilities import FacilityStudy
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd


@frame.register(FacilityStudy)
def _facilities_frame(result: FacilityStudy) -> pd.DataFrame:
    return tabular.data_frame(tables.csv_columns(result.result), tables.csv_rows(result.result))


@html.register
def _facilities_html(result: FacilityStudy) -> str:
    return page("Facilities", tables.content(result.result, result.left_out), tables.provenance(result.result))
