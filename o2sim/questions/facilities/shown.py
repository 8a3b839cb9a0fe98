"""How a notebook and a data frame show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.questions.facilities import tables as facility_table
from o2sim.questions.facilities.many_facilities import FacilityStudy
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

from o2sim.looks.notebook import Block, page
from o2sim.shown import html


@frame.register(FacilityStudy)
def _facilities_frame(result: FacilityStudy) -> pd.DataFrame:
    return tabular.data_frame(facility_table.CSV_COLUMNS, facility_table.csv_rows(result.result))


@html.register
def _facilities_html(result: FacilityStudy) -> str:
    said = result.result
    found = said["facilities"]
    first = (
        f"{len(found):,} of {said['facilities_requested']:,} facilities, {said['replications']:,} replications "
        "each; all strategies of a facility meet the same patients, power cuts and roads."
    )
    blocks: list[Block] = [first]
    if result.left_out:
        blocks += ["Left out:", [str(problem) for problem in result.left_out[:20]]]
    blocks += [*facility_table.band_tables(found), *facility_table.total_tables(found)]
    blocks.append(facility_table.facility_table(found))
    return page("Facilities", blocks, facility_table.provenance(said))
