"""Small scenarios with one table beside each, and how a table is written out in another way."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from o2sim.errors import ScenarioError
from o2sim.scenario import load
from o2sim.scenario.types.hospital import Hospital

STOCK = "cylinders: {content: 6800 L, fleet: 4}\nstrategies: {only: {sources: [cylinder]}}\n"
UNITS = "concentrators: {count: 1, rated_flow: 5 L/min}\nstrategies: {only: {sources: [concentrator]}}\n"
DRAWN = "{all: {admissions: 1 / day, flow: 1 L/min, duration: %s}}"
KEPT = "from: 2026-12-25, to: 2030-12-31"  # before and after all dates of the tables
TEXTS = {  # the word KEYS is where the keys of the table's writing go
    "register": f"start: 2027-01-01\npatients: {{all: {{register: {{file: t.csv, {KEPT}KEYS}}}}}}\n{STOCK}",
    "cuts": f"start: 2027-01-01\npatients: {DRAWN % '1 h'}\npower: {{grid: {{file: t.csv, {KEPT}KEYS}}}}\n{UNITS}",
    "law": f"patients: {DRAWN % '{empirical: {file: t.csv, column: hours, unit: hKEYS}}'}\n{STOCK}",
}
ORDERS = {"year first": "%Y-%m-%d", "day first": "%d.%m.%Y", "month first": "%m/%d/%Y"}
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}


def hospital(folder: Path, kind: str, table: str | bytes, *keys: str) -> Hospital:
    """Return the hospital of a scenario with a table beside it, whose writing is stated by some keys."""
    (folder / "t.csv").write_bytes(table if isinstance(table, bytes) else table.encode())
    (folder / "s.yaml").write_text(TEXTS[kind].replace("KEYS", "".join(f", {key}" for key in keys)))
    return load(folder / "s.yaml").hospitals["only"]


def refused(folder: Path, kind: str, table: str | bytes, *keys: str) -> list[str]:
    """Return the problems of such a scenario, from what was found on; none where it loads."""
    try:
        hospital(folder, kind, table, *keys)
    except ScenarioError as error:
        return [str(problem).split(".file: ")[-1] for problem in error.problems]
    return []


def number(value: float, decimal: str) -> str:
    """Return a number with the decimal mark of a way of writing."""
    return f"{value:g}".replace(".", "," if decimal == "comma" else ".")


def time(value: dt.datetime, dates: str, zone: str = "") -> list[str]:
    """Return a date and a time of day as two texts."""
    return [value.strftime(ORDERS[dates]), f"{value:%H:%M:%S}{zone}"]


def rows(table: list[list[str]], separator: str) -> str:
    """Return cells as rows; one that holds the separator stands between quotes."""
    mark = SEPARATORS[separator]
    return "".join(mark.join(f'"{c}"' if mark in c else c for c in row) + "\n" for row in table)
