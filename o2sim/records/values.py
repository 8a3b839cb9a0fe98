"""Makes the records of a sheet from its cells: each by the kind of its column, all errors noted at their cells."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from o2sim.records.books import CLASSES, KEPT, Book
from o2sim.records.columns import Column, cell_at
from o2sim.records.dates import CellError, read_clock, read_date, read_instant, read_month, said
from o2sim.records.findings import Findings
from o2sim.records.heads import headed
from o2sim.records.numbers import read_amount, read_count, read_key, read_number, read_quantity
from o2sim.records.raw import Bad, Block, Cells, RawSheet, Value
from o2sim.scenario.building.persons import person_word
from o2sim.scenario.text.problems import listing

LONGEST_NAME = 30  # characters of a class
LONGEST_TEXT = 80


@dataclass
class Known:
    """What is known while a workbook is read: how dates are written by sheet, the classes, the units met.

    units: numbers by label; labels are not kept beyond the reading.
    """

    orders: dict[str | None, str] = field(default_factory=dict)
    classes: tuple[str, ...] = CLASSES
    units: dict[str, int] = field(default_factory=dict)

    def order(self, sheet: str) -> str:
        """Return how dates that are texts are written on a sheet, empty where nobody said."""
        return self.orders.get(sheet) or self.orders.get(None) or ""


@dataclass(frozen=True)
class Read:
    """The rows of a sheet, and where our columns stand on it."""

    book: Book
    rows: tuple[Any, ...] = ()
    places: Mapping[str, int] = field(default_factory=dict)

    def cell(self, row: Any, name: str) -> str:
        """Return the cell of a field."""
        return cell_at(self.places[name], row.row) if name in self.places else f"row {row.row}"

    def head(self, name: str) -> str:
        """Return the head of a field, for messages."""
        return next(column.short for column in self.book.columns if column.name == name)


def read_sheet(book: Book, raw: RawSheet, known: Known, findings: Findings) -> Read:
    """Return the rows of a sheet; what is wrong is noted, and such a row left out."""
    columns, below = headed(book, raw, findings)
    rows, first = [], 0
    for number, cells in below:
        first = first or number
        row = _row(
            book, number, {place: cells[place] for place in columns if place in cells}, columns, known, findings
        )
        if row is not None:
            rows.append(row)
            if book.most and len(rows) == book.most + 1:
                findings.wrong(
                    book.name, f"row {number}", "", "found one row more", f"{book.most} at most", "remove it"
                )
    _refuse_joined(book, raw.joined, first, columns, findings)
    return Read(book, tuple(rows), {column.name: place for place, column in columns.items()})


def _row(
    book: Book, number: int, cells: Cells, columns: Mapping[int, Column], known: Known, findings: Findings
) -> Any:
    """Return the record of a row; None where it is blank, or something is wrong with it."""
    if not cells:
        return None
    values: dict[str, Any] = {}
    for place, value in cells.items():
        column = columns[place]
        try:
            values[column.name] = _value(book, value, column, known, values)
        except CellError as error:
            findings.wrong(book.name, cell_at(place, number), column.short, *error.parts)
            values[column.name] = error
    for place, column in columns.items():
        if column.needed and column.name not in values:
            cell, hint = cell_at(place, number), "write it, or clear the row"
            findings.wrong(book.name, cell, column.short, "found nothing", _example(column), hint)
    refused = any(isinstance(value, CellError) for value in values.values())
    lacking = any(column.needed and column.name not in values for column in book.columns)
    return None if refused or lacking else book.record(row=number, **values)


def _example(column: Column) -> str:
    return f"such as {column.example if isinstance(column.example, str | int | float) else said(column.example)}"


def _value(book: Book, value: Value, column: Column, known: Known, row: Mapping[str, Any]) -> Any:
    """Return what a cell says. Raises CellError."""
    if isinstance(value, Bad):
        hint = (
            "open and save the workbook, or write the value"
            if "error" in value.holds
            else "write the value itself"
        )
        raise CellError(f"the cell holds {value.holds}", "a value", hint)
    match column.kind:
        case "date" | "moment":
            return read_date(value, known.order(book.name), clock=column.kind == "moment")
        case "month":
            return read_month(value, known.order(book.name))
        case "instant":
            return read_instant(value, known.order(book.name))
        case "clock":
            return read_clock(value)
        case "count":
            return read_count(value, column)
        case "number":
            return read_number(value, column)
        case "quantity":
            return read_quantity(value, column)
        case "key":
            return read_key(value)
        case "amount":
            return _amount(value, row)
        case _:
            return _word(value, column, known)


def _amount(value: Value, row: Mapping[str, Any]) -> str:
    """Return an amount for the key to its left; nothing where that key is wrong itself, which is said there."""
    key = row.get("number")
    if isinstance(key, CellError):
        return ""
    if key is None:
        raise CellError(
            f"found {said(value)}", "an amount for a key of the scenario", "write the key under Number"
        )
    return read_amount(value, key)[0]


def _word(value: Value, column: Column, known: Known) -> Any:
    """Return a word of a list, whether a mark is there, or the number of a unit. Raises CellError."""
    text = (
        value if isinstance(value, str) else ("yes" if value else "no") if isinstance(value, bool) else f"{value}"
    )
    if column.kind == "unit":
        return known.units.setdefault(text.casefold(), len(known.units) + 1)
    if column.kind == "text":
        return text[:LONGEST_TEXT]
    if column.kind == "class name":
        return _class_name(text)
    words = _words(column, known)
    by_plain = {word.casefold(): word for word in words}
    found = by_plain.get(text.casefold())
    if found is None:
        more = "add it to the sheet Lists if it is a class of patients" if column.kind == "class" else ""
        raise CellError(f"found {said(value)}", listing(words) if words else "no class", more)
    return {"yes": found == "yes", "mark": True}.get(column.kind, found)


def _words(column: Column, known: Known) -> tuple[str, ...]:
    kinds = {"yes": ("yes", "no"), "mark": ("x",), "class": known.classes, "sheet": KEPT}
    return kinds.get(column.kind, column.words)


def _class_name(text: str) -> str:
    allowed = f"one word or two for a class of patients, at most {LONGEST_NAME} letters, as children"
    plain = text.replace(" ", "").replace("-", "").replace("_", "")
    if len(text) > LONGEST_NAME or not plain.isalpha() or person_word(text):
        raise CellError(f"found a text of {len(text)} characters", allowed)
    return text


def _refuse_joined(
    book: Book, joined: list[Block], first: int, columns: Mapping[int, Column], findings: Findings
) -> None:
    """Note cells of ours that are joined with others below the heads: which of them is meant nobody can know."""
    for left, top, right, bottom in joined:
        ours = [place for place in columns if left <= place <= right]
        if not ours or not first or bottom < first:
            continue
        cell, column = cell_at(ours[0], max(top, 1)), columns[ours[0]]
        end = cell_at(right, bottom)
        both = "both" if (right - left + 1) * (bottom - top + 1) == 2 else "each"
        what = column.short[:1].lower() + column.short[1:]
        findings.wrong(
            book.name,
            cell,
            column.short,
            f"joined with {end}",
            "cells on their own",
            f"part them, and write the {what} in {both}",
        )
