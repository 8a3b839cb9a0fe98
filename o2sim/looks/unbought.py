"""The words for what was needed and not bought for want of money, wherever a cost is shown.

A hospital that cannot pay spends little: without these words the poorest strategy would look like the cheapest.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from o2sim.looks.blocks import Row
from o2sim.looks.words import Summary, joined, number
from o2sim.measures.names import BROKEN, NEEDED, NOT_BOUGHT
from o2sim.money.unbought import Unbought

COLUMNS = {NEEDED: "needed", NOT_BOUGHT: "not_bought", BROKEN: "broken_hours"}  # of files: measure, part
ROWS = {
    "not_bought": "  cylinders not bought, of those needed",
    "broken_hours": "  units broken, no repair begun, h",
}
HEAD = "what was not bought"
NOTE = (
    "Not bought: cylinders a year whose gas was needed, and there was no money for them. Broken: unit-hours a "
    "year out of order with no repair under way, services and units written off included. Fuel that waited for "
    "money is in neither. What could not be paid for costs nothing here, so a low cost may be poverty."
)


def of_item(item: Mapping[str, Any]) -> Unbought | None:
    """Return what was not bought under one strategy of a summary; None where nobody counts money."""
    parts = [item.get(name) for name in COLUMNS]
    return None if parts.count(None) == len(parts) else Unbought(*(each and each["mean"] for each in parts))


def of_json(item: Mapping[str, Any]) -> Unbought | None:
    """Return what was not bought under a strategy, by its part `unbought` or measures; None without funds."""
    found = item.get("unbought")
    return of_item(item) if found is None else Unbought(**found)


def any_in(summary: Summary) -> bool:
    """Return True where money is counted under any strategy."""
    return any(of_item(item) is not None for item in summary["strategies"].values())


def note(summary: Summary) -> str:
    """Return what stands below a table of costs, to follow a sentence; "" where nobody counts money."""
    return f" {NOTE}" if any_in(summary) else ""


def note_of_points(points: Iterable[Mapping[str, Any]]) -> str:
    """Return what stands below costs at points, each with its strategies; "" where nobody counts money."""
    known = (of_json(item) for point in points for item in point["strategies"].values())
    return f" {NOTE}" if any(found is not None for found in known) else ""


def rows(summary: Summary) -> list[Row]:
    """Return the rows that stand below a cost, for tables with strategies as columns."""
    found = [each for item in summary["strategies"].values() if (each := of_item(item)) is not None]
    cells = {
        "not_bought": lambda item: cell(of_item(item)),
        "broken_hours": lambda item: broken(of_item(item)),
    }
    return [(ROWS[part], cells[part]) for part in ROWS if any(getattr(each, part) is not None for each in found)]


def cell(found: Unbought | None) -> str:
    """Return "120 of 720"; "-" without cylinders that are paid from a purse."""
    if found is None or found.needed is None:
        return "-"
    return f"{number(found.not_bought or 0.0)} of {number(found.needed)}"


def broken(found: Unbought | None) -> str:
    """Return the unit-hours that were broken; "-" where the purse pays for no parts."""
    return "-" if found is None or found.broken_hours is None else number(found.broken_hours)


def clause(found: Unbought | None) -> str:
    """Return "of 720 cylinders needed a year 120 were not bought for want of money"; "" where none was needed."""
    if found is None:
        return ""
    said = []
    if found.needed and found.not_bought:
        count, needed = number(found.not_bought), number(found.needed)
        said.append(f"of {needed} cylinders needed a year {count} were not bought for want of money")
    elif found.needed:
        said.append("every cylinder needed was bought")
    if found.broken_hours:
        said.append(f"units stood broken for {number(found.broken_hours)} hours a year with no repair under way")
    return joined(said)


def behind(found: Unbought | None) -> str:
    """Return the clause in brackets, to follow a cost; "" without such a count."""
    said = clause(found)
    return f" ({said})" if said else ""


def shortly(found: Unbought | None) -> str:
    """Return what was not bought in a few words, to follow a cost; "" where all that was needed was bought."""
    if found is None or not found.lacks:
        return ""
    said = [f"{cell(found)} cylinders not bought for want of money"] if found.not_bought else []
    said += [f"units broken and not repaired for {number(found.broken_hours)} hours"] if found.broken_hours else []
    return f", with {joined(said)}"


def tightly(found: Unbought) -> str:
    """Return the same in the fewest words, where anything was not bought."""
    lacking = [f", {cell(found)} cylinders not bought"] if found.not_bought else []
    lacking += [f", units broken {number(found.broken_hours)} h"] if found.broken_hours else []
    return "".join(lacking)


def below(found: Unbought | None) -> str:
    """Return lines for the cell of a cost: "120 of 720 not bought"; "" without such a count."""
    if found is None:
        return ""
    lines = [f"{cell(found)} not bought"] if found.needed else []
    lines += [f"{number(found.broken_hours)} h broken"] if found.broken_hours else []
    return "".join(f"\n{line}" for line in lines)


def differ(one: Unbought | None, other: Unbought | None) -> str:
    """Return what was not bought on both sides of a difference in cost; "" where all was bought."""
    if not any(each is not None and each.lacks for each in (one, other)):
        return ""
    before, after = (below(each).strip().replace("\n", ", ") or "-" for each in (one, other))
    return f"what money lacked: {before}, then {after}"


def columns(found: Iterable[Unbought | None]) -> dict[str, str]:
    """Return the columns of a table in a file, with the parts that they show; none where nobody counts money."""
    return dict(COLUMNS) if any(each is not None for each in found) else {}
