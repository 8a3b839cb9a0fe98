"""A workbook of Records, as somebody would have filled in the template: the way back from reading."""

from __future__ import annotations

from typing import Any

from made_books import book

from o2sim.records.books import BOOKS, LISTS, Records
from o2sim.records.columns import Column

HEAD_ROW = 3


def workbook(records: Records) -> bytes:
    """Return the bytes of a workbook (.xlsx) from which reading gives the same rows; empty books are left out."""
    sheets: dict[str, list[dict[str, Any]]] = {}
    for each in BOOKS:
        rows = [] if each is LISTS else getattr(records, each.field)
        lines = [_cells(row, each.columns) for row in rows]
        if each is LISTS:
            lines = [{"Class": name} for name in records.classes]
        if lines:
            sheets[each.name] = lines
    return book(sheets, head=HEAD_ROW)


def _cells(row: Any, columns: tuple[Column, ...]) -> dict[str, Any]:
    values = ((column, getattr(row, column.name)) for column in columns)
    return {column.head: _cell(column, value) for column, value in values if value is not None}


def _cell(column: Column, value: Any) -> Any:
    """Return what stands in a cell for a value."""
    if column.kind in ("yes", "mark"):
        return ("x" if column.kind == "mark" else "yes") if value else "no"
    if column.kind == "unit":
        return f"C{value}"
    if column.kind == "quantity":
        return f"{value / 100:g} bar" if column.of == "pressure" else value / 1_000
    return value
