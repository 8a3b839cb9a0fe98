"""How a notebook and a data frame show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.notebook import page
from o2sim.questions.drivers.content import content, provenance
from o2sim.questions.drivers.drivers import Drivers
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd


@frame.register(Drivers)
def _drivers_frame(result: Drivers) -> pd.DataFrame:
    return tabular.data_frame(result.columns, result.rows())


@html.register
def _drivers_html(result: Drivers) -> str:
    said = result.answers
    return page(f"{said.of.scenario}: what drives the answer?", content(said), provenance(said))
