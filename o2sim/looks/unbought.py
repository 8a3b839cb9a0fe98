"""The words for what was needed and not bought for want of money, wherever a cost is shown.

A hospital that cannot pay spends little: without these words the poorest strategy would look like the cheapest.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from o2sim.looks.blocks import Row
from o2sim.looks.words import Summary, number
from o2sim.measures.names import NEEDED, NOT_BOUGHT
from o2sim.money.unbought import Unbought

ROW = "  cylinders not bought, of those needed"
HEAD = "cylinders not bought, of those needed"
COLUMNS = ("cylinders needed a year", "of these not bought, for want of money")
CHEAP = "What could not be paid for costs nothing here: see what was not bought before calling anything cheap."
NOTE = (
    "Not bought: cylinders a year whose gas was needed and for which there was no money; repairs and fuel that "
    f"waited for money are in no such count. {CHEAP}"
)


def of_item(item: Mapping[str, Any]) -> Unbought | None:
    """Return what was not bought under one strategy of a summary; None where nobody counts money."""
    needed, lacking = item.get(NEEDED), item.get(NOT_BOUGHT)
    return None if needed is None or lacking is None else Unbought(needed["mean"], lacking["mean"])


def of_json(item: Mapping[str, Any]) -> Unbought | None:
    """Return what was not bought of a strategy that has it as a part `unbought`; None where nobody counts money."""
    found = item.get("unbought")
    return None if found is None else Unbought(**found)


def note_of_points(points: Iterable[Mapping[str, Any]]) -> str:
    """Return what stands below costs at points, each with its strategies; "" where nobody counts money."""
    known = (of_json(item) for point in points for item in point["strategies"].values())
    return f" {NOTE}" if any(found is not None for found in known) else ""


def any_in(summary: Summary) -> bool:
    """Return True where money is counted under any strategy."""
    return any(of_item(item) is not None for item in summary["strategies"].values())


def note(summary: Summary) -> str:
    """Return what stands below a table of costs, to follow a sentence; "" where nobody counts money."""
    return f" {NOTE}" if any_in(summary) else ""


def rows(summary: Summary) -> list[Row]:
    """Return the row that stands below a cost, for tables with strategies as columns."""
    return [(ROW, lambda item: cell(of_item(item)))] if any_in(summary) else []


def cell(found: Unbought | None) -> str:
    """Return "120 of 720"; "-" where nobody counts money."""
    return "-" if found is None else f"{number(found.not_bought)} of {number(found.needed)}"


def clause(found: Unbought | None) -> str:
    """Return "of 720 cylinders needed a year 120 were not bought for want of money"; "" without such a count."""
    if found is None or not found.needed:
        return ""
    if not found.not_bought:
        return f"all {number(found.needed)} cylinders needed a year were bought"
    return (
        f"of {number(found.needed)} cylinders needed a year {number(found.not_bought)} were not bought for want "
        "of money"
    )


def behind(found: Unbought | None) -> str:
    """Return the clause in brackets, to follow a cost; "" without such a count."""
    said = clause(found)
    return f" ({said})" if said else ""


def shortly(found: Unbought | None) -> str:
    """Return what was not bought in a few words, to follow a cost; "" where all that was needed was bought."""
    if found is None or not found.not_bought:
        return ""
    return f", with {number(found.not_bought)} of {number(found.needed)} cylinders not bought for want of money"


def below(found: Unbought | None) -> str:
    """Return a line for the cell of a cost: "120 of 720 not bought"; "" without such a count."""
    return "" if found is None else f"\n{cell(found)} not bought"
