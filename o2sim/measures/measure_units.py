"""The measures of a summary in, the unit of each out, so that nobody has to guess what a figure is in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

A_YEAR = "per 365 days"
OF_THEIR_OWN = {  # measures that no rule below tells
    "longest_gap_hours": "hours",
    "days_of_cover": "days",
    "hours_of_cover": "hours",
    "share_of_days_of_cover": "share of days, 0 to 1",
    "fill_rate": "share, 0 to 1",
    "days_with_unserved": f"days {A_YEAR}",
}


def measure_units(strategies: Mapping[str, Mapping[str, Any]], currency: str | None) -> dict[str, str]:
    """Return the unit of every measure of every strategy, those by class, cause or item included."""
    names = dict.fromkeys(name for each in strategies.values() for name in each if name != "by_class")
    return {name: unit_of(name, currency or "money") for name in (*names, *_by_class(strategies.values()))}


def _by_class(strategies: Iterable[Mapping[str, Any]]) -> dict[str, None]:
    found = (m for each in strategies for measures in each["by_class"].values() for m in measures)
    return dict.fromkeys(f"by_class.{measure}" for measure in found)


def unit_of(measure: str, currency: str) -> str:
    """Return the unit of a measure by its name."""
    name = measure.removeprefix("by_class.")
    if name in OF_THEIR_OWN:
        return OF_THEIR_OWN[name]
    if "probability" in name:
        return "share of replications, 0 to 1"
    if "cost" in name:
        per = {"cost_per_patient": "per patient treated", "cost_per_1000_l": "per 1,000 L delivered"}
        return f"{currency} {per.get(name, A_YEAR)}"
    if "patient_hours" in name or name == "unserved_hours_by_cause":
        return f"patient-hours {A_YEAR}"
    for part, unit in (("hours", "hours"), ("litres", "litres"), ("patients", "patients")):
        if part in name.split("_"):
            return f"{unit} {A_YEAR}"
    return f"number {A_YEAR}"
