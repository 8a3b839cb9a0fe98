"""A summary in, who went without by class of patients and by ward out: rules help some and harm others."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from o2sim.looks.blocks import Row, Table, by_strategy, mean_of
from o2sim.looks.words import Summary, number


def class_tables(summary: Summary) -> list[Table]:
    """Return unserved patient-hours of each class with its interruptions and transfers; nothing for one class."""
    strategies = summary["strategies"]
    classes = list(dict.fromkeys(name for item in strategies.values() for name in item.get("by_class") or {}))
    if len(classes) < 2:
        return []
    rows: list[Row] = [(name, _cell(name)) for name in classes]
    moved = any(mean_of(item["transferred_patients"]) > 0 for item in strategies.values())
    note = "Patient-hours unserved in 365 days; in brackets the number of interruptions"
    note += ", then of patients transferred." if moved else "."
    return by_strategy("Who went without", strategies, rows, note)


def ward_tables(summary: Summary) -> list[Table]:
    """Return unserved patient-hours of each ward with its stock-outs and interruptions; nothing without wards."""
    strategies = summary["strategies"]
    wards = list(dict.fromkeys(name for item in strategies.values() for name in item.get("by_ward") or {}))
    rows: list[Row] = [(name, _ward_cell(name)) for name in wards]
    note = "Patient-hours unserved in 365 days; in brackets the number of stock-outs, then of interruptions."
    return by_strategy("Where they went without", strategies, rows, note) if rows else []


def _ward_cell(name: str) -> Callable[[Any], str]:
    def cell(item: Mapping[str, Any]) -> str:
        found = (item["by_ward"] or {}).get(name)
        if found is None:  # this strategy names no wards
            return "-"
        measures = ("unserved_patient_hours", "stock_outs_per_year", "interruptions_per_year")
        hours, stock_outs, count = (number(mean_of(found[measure])) for measure in measures)
        return f"{hours} h ({stock_outs}, {count})"

    return cell


def _cell(name: str) -> Callable[[Any], str]:
    def cell(item: Mapping[str, Any]) -> str:
        found = item["by_class"].get(name)
        if found is None:
            return "-"
        hours, count, moved = (
            mean_of(found[measure])
            for measure in ("unserved_patient_hours", "interruptions_per_year", "transferred_patients")
        )
        return f"{number(hours)} h ({number(count)}{f', {number(moved)}' if moved else ''})"

    return cell
