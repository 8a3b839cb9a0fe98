"""Tables with a column for each strategy, and what their cells share."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from o2sim.looks.blocks import Table
from o2sim.outcome import SUPPLY_CAUSES

COLUMNS_AT_ONCE = 3  # strategies side by side within 100 characters
SUPPLY_LABELS = frozenset(cause.label for cause in SUPPLY_CAUSES)
Row = tuple[str, Callable[[Any], str]]  # the heading, and the cell made from one strategy's item


def mean_of(value: Mapping[str, Any] | None) -> float:
    """Return the mean of a {mean, low, high}; 0 for None."""
    return float(value["mean"]) if value else 0.0


def split_hours(item: Mapping[str, Any]) -> tuple[float, float]:
    """Return the mean unserved patient-hours for want of supply, and those in handling."""
    by_cause = {name: mean_of(value) for name, value in item["unserved_hours_by_cause"].items()}
    supply = sum(value for name, value in by_cause.items() if name in SUPPLY_LABELS)
    return supply, sum(value for name, value in by_cause.items() if name not in SUPPLY_LABELS)


def by_strategy(title: str, items: Mapping[str, Any], rows: Sequence[Row], note: str = "") -> list[Table]:
    """Return tables with one column a strategy, so many at once as fit; the note stands under the last."""
    names = list(items)
    starts = range(0, len(names), COLUMNS_AT_ONCE)
    blocks = [names[start : start + COLUMNS_AT_ONCE] for start in starts]
    return [
        Table(
            (title, *block),
            tuple((head, *(cell(items[name]) for name in block)) for head, cell in rows),
            note if block is blocks[-1] else "",
        )
        for block in blocks
    ]
