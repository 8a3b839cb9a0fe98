"""Put into tables who leads at each point of a what-if, and which values luck alone may separate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from o2sim.looks import unbought
from o2sim.looks.blocks import Table
from o2sim.looks.words import joined, percent
from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS

Result = Mapping[str, Any]
BY = {
    CHANCE: "by chance of a\nsupply shortfall",
    SUPPLY_HOURS: "by hours unserved\nfor lack of supply",
    COST: "by cost",
}
MOST_NAMED = 6  # points or settings in one row, beyond which the first three are
NO_DIFFERENCE = "no clear difference"


def tables(result: Result) -> list[Table]:
    """Return both tables: the first of several strategies, the second where a field has several values."""
    found = result["clear"]
    return [
        *([_leaders(result, found)] if found["leaders"] else []),
        *([_joined(found)] if found["joined"] else []),
    ]


def _leaders(result: Result, found: Result) -> Table:
    measures = list(found["leaders"][0]["by"])
    rows: dict[tuple[str, ...], list[str]] = {}
    for point in found["leaders"]:
        cells = tuple(_leader(point["by"][measure]) for measure in measures)
        rows.setdefault(cells, []).append(" / ".join(point["values"].values()))
    heads = "Least at\n" + " /\n".join(each["field"] for each in result["vary"])
    note = (
        "Named together: luck alone may be the difference, or they are equal. Compared replication by "
        f"replication; with {percent(found['confidence'])} confidence no better one is left out in any of "
        f"{found['strategy_comparisons']:,} comparisons (Bonferroni), chance in the simulation only."
        f"{unbought.note_of_points(result['points'])}"
    )
    return Table(
        (heads, *(BY[each] for each in measures)),
        tuple((_places(labels, len(found["leaders"]), "points"), *cells) for cells, labels in rows.items()),
        note,
    )


def _leader(by: Result) -> str:
    names = [by["strategy"], *by["no_clear_difference"]]
    return names[0] if len(names) == 1 else f"{NO_DIFFERENCE}: {joined(names)}"


def _places(labels: Sequence[str], of: int, what: str) -> str:
    """Return points, or settings of other fields, in one cell."""
    if len(labels) == of > 1:
        return f"all {of:,} {what}"
    if len(labels) <= MOST_NAMED:
        return "\n".join(labels)
    return "\n".join([*labels[:3], f"and {len(labels) - 3:,} more {what}"])


def _joined(found: Result) -> Table:
    measures = [each for each in BY if any(one["measure"] == each for one in found["joined"])]
    lines: dict[tuple[str, str], dict[str, dict[str, str]]] = {}
    for each in found["joined"]:
        at = " / ".join(each["at"].values())
        lines.setdefault((each["field"], each["strategy"]), {}).setdefault(at, {})[each["measure"]] = _groups(each)
    rows = []
    for (field, strategy), settings in lines.items():
        alike: dict[tuple[str, ...], list[str]] = {}
        for at, cells in settings.items():
            alike.setdefault(tuple(cells[measure] for measure in measures), []).append(at)
        for groups, ats in alike.items():
            where = "" if len(alike) == 1 else f"\n  with {_places(ats, len(settings), 'settings')}"
            rows.append((f"{strategy}, by {field}{where}", *groups))
    note = (
        "Between bars the values differ clearly; those that stand together do not, so luck alone may be what "
        "separates them. Compared replication by replication, all under the same luck; with "
        f"{percent(found['confidence'])} confidence all of {found['value_comparisons']:,} comparisons hold "
        "(Bonferroni; McNemar's exact test, Student's t), chance in the simulation only."
    )
    return Table(("Does the value matter?", *(BY[each] for each in measures)), tuple(rows), note)


def _groups(each: Result) -> str:
    """Return values in groups: "1 h, 2 h | 4 h"; in words where all differ or none does."""
    groups = each["groups"]
    if len(groups) == 1:
        return NO_DIFFERENCE
    if all(len(group) == 1 for group in groups):
        return "all differ clearly"
    return " | ".join(", ".join(group) if len(group) < 4 else f"{group[0]} to {group[-1]}" for group in groups)
