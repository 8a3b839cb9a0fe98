"""A workbook of Records, as somebody would have filled in the template: the way back from reading."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

from made_books import book
from openpyxl import load_workbook

from o2sim.records.books import BOOKS, LISTS, Records
from o2sim.records.columns import Column
from o2sim.records.template import FORMATS, HEAD_ROW, _without_clock, template


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


def filled_template(records: Records) -> bytes:
    """Return the template with the rows of the books under its heads: the same records, the same bytes."""
    made = load_workbook(io.BytesIO(template()))
    for each in BOOKS:
        rows = [] if each is LISTS else getattr(records, each.field)
        heads = {column.head: place for place, column in enumerate(each.columns, 1)}
        kinds = {column.head: column.kind for column in each.columns}
        for number, row in enumerate(rows, HEAD_ROW + 1):
            for head, value in _cells(row, each.columns).items():
                cell = made[each.name].cell(number, heads[head], value)
                cell.number_format = _format(kinds[head], value)
    out = io.BytesIO()
    made.save(out)
    return _without_clock(out.getvalue())


def _format(kind: str, value: Any) -> str:
    """Return how a spreadsheet shows a value; a date without a clock shows none."""
    is_day = isinstance(value, dt.date) and not isinstance(value, dt.datetime) and kind != "month"
    return FORMATS["date"] if is_day else FORMATS.get(kind, "General")


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
