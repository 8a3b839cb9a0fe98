"""How a notebook and a data frame show it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from o2sim import tabular
from o2sim.looks.frames import ENDS, chosen
from o2sim.looks.notebook import page, run_line
from o2sim.measures import costing, result_rows
from o2sim.measures.measures import summarise
from o2sim.money.cost import FUEL_PER_LITRE
from o2sim.questions.compare.screen import content
from o2sim.runs.convergence import convergence
from o2sim.runs.study import Study
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd

FINE = {  # totals counted finely inside: the column to show, and how many make one of its unit
    "grid_charging_ws": ("grid_charging_kwh", 3_600_000),
    "battery_faded_mws": ("battery_faded_kwh", 3_600_000_000),
    "battery_usable_ws": ("battery_usable_kwh", 3_600_000),
    "battery_new_ws": ("battery_new_kwh", 3_600_000),
    "fuel_used": ("fuel_used_litres", FUEL_PER_LITRE),
    "fuel_for_oxygen": ("fuel_for_oxygen_litres", FUEL_PER_LITRE),
    "fuel_received": ("fuel_received_litres", FUEL_PER_LITRE),
}


@frame.register(Study)
def _study_frame(result: Study, of: str = "measures") -> pd.DataFrame:
    return chosen(of, {
        "measures": lambda: _measures(summarise(result)),
        "replications": lambda: _replications(result),
        "convergence": lambda: _convergence(result),
        "costing": lambda: _costing(summarise(result)),
        "cost lines": lambda: _cost_lines(summarise(result)),
        "days": lambda: tabular.data_frame(result_rows.DAILY_HEADS, result_rows.daily_rows(result)),
    })  # fmt: skip


def _convergence(study: Study) -> pd.DataFrame:
    columns = ("replications", "estimate", *ENDS)
    found = convergence(study)["strategies"]
    rows = [(name, *(each[column] for column in columns)) for name, many in found.items() for each in many]
    return tabular.data_frame(("strategy", *columns), rows)


def _costing(summary: Mapping[str, Any]) -> pd.DataFrame:
    """Return the totals of the costing as a long table; no rows without prices."""
    heads = (*costing.TOTAL_HEADS[:-1], f"amount ({summary['currency'] or 'money'}, or h)")
    return tabular.data_frame(heads, costing.total_rows(summary["costing"]))


def _cost_lines(summary: Mapping[str, Any]) -> pd.DataFrame:
    """Return every line of the costing, economic and in cash; no rows without prices."""
    money = f" ({summary['currency'] or 'money'})"
    heads = (*costing.HEADS[:-1], f"{costing.HEADS[-1]}{money}", *(f"{year}{money}" for year in costing.YEARS))
    return tabular.data_frame(heads, costing.line_rows(summary["costing"]))


def _replications(study: Study) -> pd.DataFrame:
    """Return the totals of each replication; fuel and energy in litres and kWh."""
    frame = tabular.data_frame(result_rows.replication_columns(study), result_rows.replication_rows(study))
    for name, (_, one) in FINE.items():
        frame[name] = frame[name] / one
    hospitals = (study.scenario.hospitals[name] for name in study.outcomes)
    money = next((each.costs.currency for each in hospitals if each.costs is not None), "")
    cost = {"cost_per_year": f"cost_per_year ({money})"} if money else {}
    return frame.rename(columns={**cost, **{name: shown for name, (shown, _) in FINE.items()}})


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
