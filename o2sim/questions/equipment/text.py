"""Say what each strategy needs: blocks for terminal and notebook, rows for a CSV to buy from, the cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from o2sim.looks import cautions, unbought
from o2sim.looks.blocks import Block, Lines, Points, Row, Table, by_strategy
from o2sim.looks.screen import Screen
from o2sim.looks.words import number, runs
from o2sim.questions.equipment import buying
from o2sim.questions.equipment.result import Entry, Lists, Needed

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
LACKING = (
    "Money was lacking, so fewer cylinders were in use at once than were needed; the numbers below are of what "
    "could be paid for:"
)
NOT_KNOWN = "not known"
LIMITED = "* all that the scenario has were in use for over 1 % of the time: with more, more would be used."
BESIDE = (  # what is on the lists, and the caution that belongs to it
    ("cylinders", cautions.FITTING),
    ("concentrators", cautions.AS_SPECIFIED),
    ("flow splitters", cautions.SPLITTER),
    ("generator", cautions.GENERATOR),
    ("humidifiers", cautions.HUMIDIFY),
    ("humidifiers", cautions.BUBBLE),
)


def print_equipment(needed: Needed, provenance: str) -> None:
    """Print the lists with strategies side by side, where the numbers come from, and the cautions."""
    said, *rest = content(needed)
    Screen().show([said, cautions.whose_figures(needed.figures), *rest, provenance])


def content(needed: Needed) -> list[Block]:
    """Return what is to be said of the lists, as blocks: what they are, the tables, hours, sources, cautions."""
    years = runs(needed.where_from.ran.replications, needed.where_from.horizon_days)
    said_hours = {name: hours_by_unit(lists) for name, lists in needed.strategies.items()}
    running = tuple(f"{name}: {hours}" for name, hours in said_hours.items() if hours)
    return [
        f"What each strategy of {needed.where_from.of.scenario} needs. Numbers at once are enough for "
        f"{100 * needed.share_of_time:g} % of the time, simulated over {years}; in brackets the highest seen: "
        "what to buy where nobody may go without.",
        *buying.tables(needed),
        *_of_money(needed),
        *equipment_tables(needed),
        *([Points(running, "Running hours a year by unit, from the first on:")] if running else []),
        Points(tuple(sources(needed)), "Where the numbers come from:"),
        Lines(tuple(cautions_for(needed))),
    ]


def hours_by_unit(lists: Lists) -> str:
    """Return the running hours of units, those of one model in a row behind its name: `five 900, 700; ten 40`."""
    models = lists.model_by_unit or ("",) * len(lists.running_hours_by_unit)
    found: list[tuple[str, list[str]]] = []
    for model, hours in zip(models, lists.running_hours_by_unit, strict=True):
        if not found or found[-1][0] != model:
            found.append((model, []))
        found[-1][1].append(number(hours))
    return "; ".join(f"{model} {', '.join(hours)}".strip() for model, hours in found)


def _of_money(needed: Needed) -> list[Block]:
    """Return that numbers at once are too low where money was lacking; nothing where every cylinder was bought."""
    found = {name: lists.unbought for name, lists in needed.strategies.items()}
    said = tuple(f"{name}: {unbought.clause(each)}" for name, each in found.items() if each and each.not_bought)
    return [Points(said, LACKING)] if said else []


def equipment_tables(needed: Needed) -> list[Table]:
    """Return a table for each group of the lists, strategies as columns, without what is on the list to buy."""
    tables: list[Table] = []
    counted = {each.item for lists in needed.strategies.values() for each in lists.to_buy}
    for group, found_lines in _lines(needed).items():
        lines = {item: entries for item, entries in found_lines.items() if item not in counted}
        if not lines:
            continue
        items = {
            name: {entry.item: entry for of, _, entry in needed.entries() if (of, entry.group) == (name, group)}
            for name in needed.strategies
        }
        rows: list[Row] = [(_label(entries[0]), _cell(item)) for item, entries in lines.items()]
        limited = any(entry.limited for found in items.values() for entry in found.values())
        tables += by_strategy(group, items, rows, LIMITED if limited else "")
    return tables


def csv_rows(needed: Needed) -> Iterator[tuple[str | int | float, ...]]:
    """Yield one row a strategy and item, columns as in CSV_COLUMNS; empty where a number is not known."""
    for strategy, _, entry in needed.entries():
        yield (
            strategy,
            entry.group,
            entry.item.strip(),
            _rounded(entry.quantity),
            entry.unit,
            _rounded(entry.highest),
            "yes" if entry.limited else "",
            entry.basis,
            entry.why,
            needed.figures,
        )


def sources(needed: Needed) -> list[str]:
    """Return where the numbers come from: the items that share a rule, the rule, its basis."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for lines in _lines(needed).values():
        for item, entries in lines.items():
            for entry in entries:
                found.setdefault((entry.basis, entry.rule), {})[item.strip()] = None
    return [f"{_shortened(list(items))}: {rule} ({basis})" for (basis, rule), items in found.items()]


def cautions_for(needed: Needed) -> tuple[str, ...]:
    """Return the cautions that belong to what is on the lists."""
    items = " ".join(entry.item for _, _, entry in needed.entries()).lower()
    return (*cautions.SHORT, *(caution for word, caution in BESIDE if word in items))


def _lines(needed: Needed) -> dict[str, dict[str, list[Entry]]]:
    """Return by group and item the entries of all strategies, in the order in which they are read."""
    by_strategy: dict[str, list[tuple[str, str]]] = {}
    found: dict[tuple[str, str], list[Entry]] = {}
    for strategy, _, entry in needed.entries():
        key = entry.group, entry.item
        by_strategy.setdefault(strategy, []).append(key)
        found.setdefault(key, []).append(entry)
    lines: dict[str, dict[str, list[Entry]]] = {}
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


def _label(entry: Entry) -> str:
    """Return the item with its unit, but for what is counted and what the heading says."""
    unit = entry.unit.removesuffix(" a year") if "year" in entry.group else entry.unit
    unit = unit.removeprefix("each").strip()
    return f"{entry.item}, {unit}" if unit else entry.item


def _cell(item: str) -> Callable[[Any], str]:
    def cell(found: Mapping[str, Entry]) -> str:
        if item not in found:
            return "-"
        entry = found[item]
        if entry.quantity is None:
            return NOT_KNOWN
        said = number(entry.quantity) + ("*" if entry.limited else "")
        return said if entry.highest in (None, entry.quantity) else f"{said} ({number(entry.highest or 0)})"

    return cell


def _rounded(value: float | None) -> int | float | str:
    if value is None:
        return ""
    return int(value) if value == int(value) else round(value, 2)


def _shortened(items: list[str]) -> str:
    """Return "a; b; c", or the first and how many more."""
    return "; ".join(items) if len(items) <= 3 else f"{items[0]} and {len(items) - 1} more"
