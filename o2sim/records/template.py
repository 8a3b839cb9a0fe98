"""Writes the template: an empty sheet for each book, with examples above the heads, lists to choose from, help.

The same version gives the same bytes: no clock is read.
"""

from __future__ import annotations

import datetime as dt
import io
import math
import re
import zipfile
from typing import Any

from o2sim.records.books import BOOKS, CLASSES, KEPT, LISTS, Book
from o2sim.records.columns import DATES, Column, letters
from o2sim.records.help_text import HELP
from o2sim.version import __version__

HELP_ROW, EXAMPLE_ROW, HEAD_ROW = 1, 2, 3
LAST_ROW = 20_000  # to which cells have lists to choose from
FORMATS = {
    "date": "yyyy-mm-dd", "month": "yyyy-mm", "moment": "yyyy-mm-dd hh:mm", "instant": "yyyy-mm-dd hh:mm",
    "clock": "hh:mm", "unit": "@",
}  # fmt: skip
FIRST_DAY, LAST_DAY = "36526", "73050"  # 2000-01-01 and 2099-12-31, as a spreadsheet counts days
SHEETS_FROM = len(HELP) + 4  # row of the sheet Help where the names of the sheets begin
WHEN = (1980, 1, 1, 0, 0, 0)  # of the parts of the archive
STAMP = dt.datetime(2000, 1, 1)
LINE_PT = 12  # of a letter of 9 points
BLUE, GREY = "FF1F4E79", "FFEDEDED"


def template() -> bytes:
    """Return the template as the bytes of a workbook (.xlsx)."""
    from openpyxl import Workbook

    workbook = Workbook()
    workbook.properties.creator = f"o2sim {__version__}"
    workbook.properties.created = STAMP
    _help(workbook.active)
    for book in BOOKS:
        _sheet(workbook.create_sheet(book.name), book)
    out = io.BytesIO()
    workbook.save(out)
    return _without_clock(out.getvalue())


def _help(sheet: Any) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.title = "Help"
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 28, 90
    for number, (what, text) in enumerate(HELP, 1):
        sheet.cell(number, 1, what).font = Font(bold=True)
        sheet.cell(number, 2, text)
    sheet.cell(SHEETS_FROM - 1, 1, "Sheet").font = Font(bold=True)
    sheet.cell(SHEETS_FROM - 1, 2, "What it gives").font = Font(bold=True)
    gives = {book.name: book.gives for book in BOOKS}
    for number, name in enumerate([*KEPT, *(name for name in gives if name not in KEPT)], SHEETS_FROM):
        sheet.cell(number, 1, name)
        sheet.cell(number, 2, f"{gives[name][0].upper()}{gives[name][1:]}.")
    for row in sheet.iter_rows():
        for cell in row:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
    _paper(sheet)


def _sheet(sheet: Any, book: Book) -> None:
    """Write the three rows at the top of a sheet, and how the cells below are shown and checked."""
    from openpyxl.styles import Alignment, Font, PatternFill

    for place, column in enumerate(book.columns, 1):
        top, example, head = (sheet.cell(row, place) for row in (HELP_ROW, EXAMPLE_ROW, HEAD_ROW))
        top.value, example.value, head.value = _help_of(column), column.example, column.head
        top.font, example.font = Font(size=9, color=BLUE), Font(italic=True)
        top.alignment = head.alignment = Alignment(wrap_text=True, vertical="top")
        example.alignment = Alignment(horizontal="left")
        example.fill = PatternFill("solid", fgColor=GREY)
        head.font = Font(bold=True)
        shown = FORMATS.get(column.kind)
        if shown:
            sheet.column_dimensions[letters(place)].number_format = shown
            example.number_format = shown if column.kind != "month" else "@"
        sheet.column_dimensions[letters(place)].width = max(
            18, len(column.head) + 2, len(str(column.example)) + 2 if column.kind == "key" else 0
        )
        _checked(sheet, place, column)
    sheet.cell(EXAMPLE_ROW, len(book.columns) + 1, "<- examples: not read").font = Font(italic=True, size=9)
    sheet.column_dimensions[letters(len(book.columns) + 1)].width = 20
    lines = [
        math.ceil(len(_help_of(column)) / sheet.column_dimensions[letters(place)].width) + 1
        for place, column in enumerate(book.columns, 1)
    ]  # one more than letters alone would take, since words are not broken
    sheet.row_dimensions[HELP_ROW].height = LINE_PT * max(lines)
    sheet.freeze_panes = sheet.cell(HEAD_ROW + 1, 1)
    if book is LISTS:
        for number, name in enumerate(CLASSES, HEAD_ROW + 1):
            sheet.cell(number, 1, name)
    _paper(sheet)


def _paper(sheet: Any) -> None:
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", 9
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _help_of(column: Column) -> str:
    first = column.help[0] if column.help.startswith(("x ", "x:")) else column.help[0].upper()
    said = f"{first}{column.help[1:]}{'' if column.help.endswith('?') else '.'}"
    words = f" One of: {', '.join(column.words)}." if column.words and column.kind == "word" else ""
    yes = " Yes or no." if column.kind == "yes" else ""
    return f"{said}{words}{yes}{' Needed.' if column.needed else ''}"


def _checked(sheet: Any, place: int, column: Column) -> None:
    """Let the spreadsheet offer the words of a list, and refuse what the reading would refuse."""
    from openpyxl.worksheet.datavalidation import DataValidation

    rule = _rule(column)
    if not rule:
        return
    check = DataValidation(allow_blank=True, showErrorMessage=True, errorTitle=column.head[:30], **rule)
    check.error = _help_of(column)[:250]
    sheet.add_data_validation(check)
    check.add(f"{letters(place)}{HEAD_ROW + 1}:{letters(place)}{LAST_ROW}")


def _rule(column: Column) -> dict[str, str]:
    lists = {
        "yes": '"yes,no"', "mark": '"x"', "word": f'"{",".join(column.words)}"',
        "class": f"Lists!$A${HEAD_ROW + 1}:$A${HEAD_ROW + LISTS.most}",
        "sheet": f"Help!$A${SHEETS_FROM}:$A${SHEETS_FROM + len(KEPT) - 1}",
    }  # fmt: skip
    if column.kind in lists:
        return {"type": "list", "formula1": lists[column.kind]}
    if column.kind in DATES:
        return {"type": "date", "operator": "between", "formula1": FIRST_DAY, "formula2": LAST_DAY}
    if column.kind in ("count", "number"):
        high = f"{min(column.high, 1e9):.0f}"
        kind = "whole" if column.kind == "count" else "decimal"
        return {"type": kind, "operator": "between", "formula1": f"{column.low:g}", "formula2": high}
    return {}


def _without_clock(data: bytes) -> bytes:
    """Return a workbook without the times at which its parts were written."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            entry = zipfile.ZipInfo(name, WHEN)
            entry.compress_type, entry.create_system = zipfile.ZIP_DEFLATED, 0
            part = old.read(name)
            if name == "docProps/core.xml":
                stamp = f"{STAMP:%Y-%m-%dT%H:%M:%SZ}".encode()
                part = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + stamp, part)
            new.writestr(entry, part)
    return out.getvalue()
