"""The equipment object in, tables for the terminal, rows for a CSV to buy from and the cautions out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from o2sim.looks import cautions
from o2sim.looks.blocks import Row, Table, by_strategy
from o2sim.looks.screen import Screen
from o2sim.looks.words import Summary, number, runs

CSV_COLUMNS = (
    "strategy",
    "list",
    "item",
    "quantity",
    "unit",
    "highest_seen",
    "limited",
    "basis",
    "why",
    "whose_figures",
)
LISTS = ("equipment", "workshop")
NOT_KNOWN = "not known"
LIMITED = "* all that the scenario has were in use for over 1 % of the time: with more, more would be used."


def print_equipment(result: Summary, provenance: str) -> None:
    """Print the lists with strategies side by side, where the numbers come from, and the cautions."""
    screen = Screen()
    years = runs(result["replications"], result["horizon_days"])
    screen.paragraph(
        f"What each strategy of {result['scenario']} needs. Numbers at once are enough for "
        f"{100 * result['share_of_time']:g} % of the time, simulated over {years}; in brackets the highest seen: "
        "what to buy where nobody may go without."
    )
    screen.paragraph(cautions.whose_figures(result["figures"]))
    screen.tables(equipment_tables(result))
    screen.paragraph(*running_hours(result))
    screen.paragraph("Where the numbers come from:", *(f"  - {line}" for line in sources(result)))
    screen.paragraph(*cautions_for(result))
    screen.paragraph(provenance)


def equipment_tables(result: Summary) -> list[Table]:
    """Return a table for each group of the lists, strategies as columns."""
    tables: list[Table] = []
    for group, lines in _lines(result).items():
        items = {name: _by_item(strategy, group) for name, strategy in result["strategies"].items()}
        rows: list[Row] = [(_label(entries[0]), _cell(item)) for item, entries in lines.items()]
        limited = any(entry["limited"] for found in items.values() for entry in found.values())
        tables += by_strategy(group, items, rows, LIMITED if limited else "")
    return tables


def csv_rows(result: Summary) -> Iterator[tuple[str | int | float, ...]]:
    """Yield one row a strategy and item, columns as in CSV_COLUMNS; empty where a number is not known."""
    for strategy, _, entry in _entries(result):
        yield (
            strategy,
            entry["group"],
            entry["item"].strip(),
            _rounded(entry["quantity"]),
            entry["unit"],
            _rounded(entry["highest"]),
            "yes" if entry["limited"] else "",
            entry["basis"],
            "; ".join(text for text in (entry["rule"], entry["figures"]) if text),
            result["figures"],
        )


def running_hours(result: Summary) -> list[str]:
    """Return the running hours of each unit, a line a strategy with units."""
    said = {name: strategy["running_hours_by_unit"] for name, strategy in result["strategies"].items()}
    lines = [
        f"  - {name}: {', '.join(number(hours) for hours in by_unit)}" for name, by_unit in said.items() if by_unit
    ]
    return ["Running hours a year by unit, from the first on:", *lines] if lines else []


def sources(result: Summary) -> list[str]:
    """Return where the numbers come from: the items that share a rule, the rule, its basis."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for lines in _lines(result).values():
        for item, entries in lines.items():
            for entry in entries:
                found.setdefault((entry["basis"], entry["rule"]), {})[item.strip()] = None
    return [f"{_shortened(list(items))}: {rule} ({basis})" for (basis, rule), items in found.items()]


def cautions_for(result: Summary) -> list[str]:
    """Return the cautions that belong to what is on the lists."""
    items = " ".join(entry["item"] for _, _, entry in _entries(result)).lower()
    beside = (
        ("cylinders", cautions.FITTING),
        ("concentrators", cautions.AS_SPECIFIED),
        ("flow splitters", cautions.SPLITTER),
        ("generator", cautions.GENERATOR),
        ("humidifiers", cautions.HUMIDIFY),
        ("humidifiers", cautions.BUBBLE),
    )
    return [*cautions.SHORT, *(told for word, told in beside if word in items)]


def _entries(result: Summary) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    """Yield (strategy, list, entry) of all lists."""
    for listed in LISTS:
        for name, strategy in result["strategies"].items():
            for entry in strategy[listed]:
                yield name, listed, entry


def _lines(result: Summary) -> dict[str, dict[str, list[Mapping[str, Any]]]]:
    """Return by group and item the entries of all strategies, in the order in which they are read."""
    by_strategy: dict[str, list[tuple[str, str]]] = {}
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for strategy, _, entry in _entries(result):
        key = entry["group"], entry["item"]
        by_strategy.setdefault(strategy, []).append(key)
        found.setdefault(key, []).append(entry)
    lines: dict[str, dict[str, list[Mapping[str, Any]]]] = {}
    for group, item in _union(by_strategy.values()):
        lines.setdefault(group, {})[item] = found[group, item]
    return lines


def _union(lists: Iterable[list[tuple[str, str]]]) -> list[tuple[str, str]]:
    """Return all items, each after those that stand before it in its own list; the longest list leads."""
    merged: list[tuple[str, str]] = []
    for items in sorted(lists, key=len, reverse=True):
        place = 0
        for item in items:
            if item in merged:
                place = merged.index(item) + 1
            else:
                merged.insert(place, item)
                place += 1
    return merged


def _by_item(strategy: Mapping[str, Any], group: str) -> dict[str, Mapping[str, Any]]:
    entries = [entry for listed in LISTS for entry in strategy[listed]]
    return {entry["item"]: entry for entry in entries if entry["group"] == group}


def _label(entry: Mapping[str, Any]) -> str:
    """Return the item with its unit, but for what is counted and what the heading says."""
    unit = str(entry["unit"])
    if "year" in entry["group"]:
        unit = unit.removesuffix(" a year")
    unit = unit.removeprefix("each").strip()
    return f"{entry['item']}, {unit}" if unit else str(entry["item"])


def _cell(item: str) -> Callable[[Any], str]:
    def cell(found: Mapping[str, Mapping[str, Any]]) -> str:
        if item not in found:
            return "-"
        entry = found[item]
        if entry["quantity"] is None:
            return NOT_KNOWN
        told = number(entry["quantity"]) + ("*" if entry["limited"] else "")
        highest = entry["highest"]
        return told if highest in (None, entry["quantity"]) else f"{told} ({number(highest)})"

    return cell


def _rounded(value: float | None) -> int | float | str:
    if value is None:
        return ""
    return int(value) if value == int(value) else round(value, 2)


def _shortened(items: list[str]) -> str:
    """Return "a; b; c", or the first and how many more."""
    return "; ".join(items) if len(items) <= 3 else f"{items[0]} and {len(items) - 1} more"
