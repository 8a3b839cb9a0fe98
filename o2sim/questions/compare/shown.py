"""How a notebook and a data frame show it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from o2sim import tabular
from o2sim.looks.frames import ENDS, chosen
from o2sim.measures import result_rows
from o2sim.measures.measures import summarise
from o2sim.money.cost import FUEL_PER_LITRE
from o2sim.runs.convergence import convergence
from o2sim.runs.study import Study
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

from o2sim.looks.notebook import page, run_line
from o2sim.questions.compare.content import content
from o2sim.shown import html


@frame.register(Study)
def _study_frame(result: Study, of: str = "measures") -> pd.DataFrame:
    return chosen(of, {
        "measures": lambda: _measures(summarise(result)),
        "replications": lambda: _replications(result),
        "convergence": lambda: _convergence(result),
        "days": lambda: tabular.data_frame(result_rows.DAILY_HEADS, result_rows.daily_rows(result)),
    })  # fmt: skip


def _convergence(study: Study) -> pd.DataFrame:
    columns = ("replications", "estimate", *ENDS)
    found = convergence(study)["strategies"]
    rows = [(name, *(each[column] for column in columns)) for name, many in found.items() for each in many]
    return tabular.data_frame(("strategy", *columns), rows)


def _replications(study: Study) -> pd.DataFrame:
    """Return the totals of each replication; fuel and energy, counted finely inside, in litres and kWh."""
    frame = tabular.data_frame(result_rows.replication_columns(study), result_rows.replication_rows(study))
    fine = {"grid_charging_ws": ("grid_charging_kwh", 3_600_000)}
    fine |= {
        name: (f"{name}_litres", FUEL_PER_LITRE) for name in ("fuel_used", "fuel_for_oxygen", "fuel_received")
    }
    for name, (_, one) in fine.items():
        frame[name] = frame[name] / one
    money = currency_of(study)
    cost = {"cost_per_year": f"cost_per_year ({money})"} if money else {}
    return frame.rename(columns={**cost, **{name: told for name, (told, _) in fine.items()}})


def currency_of(study: Study) -> str:
    """Return the currency of a study's prices, "" without prices."""
    hospitals = (study.scenario.hospitals[name] for name in study.outcomes)
    return next((each.costs.currency for each in hospitals if each.costs is not None), "")


def _measures(summary: Mapping[str, Any]) -> pd.DataFrame:
    units = summary["units"]
    rows = [
        (*row, units.get(str(row[1]).removeprefix("difference in "), ""))
        for row in result_rows.summary_rows(summary)
    ]
    return tabular.data_frame(("strategy", "measure", "part", "estimate", "low", "high", "note", "unit"), rows)


@html.register
def _study_html(result: Study) -> str:
    summary = summarise(result)
    return page(f"{result.scenario.name}: what happened", content(result, summary), run_line(result))
