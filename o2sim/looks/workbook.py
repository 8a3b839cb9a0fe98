"""The bytes of a workbook (Office Open XML) from sheets of typed cells; the same sheets give the same bytes.

Written by hand with the standard library: a workbook of plain cells is five small XML files in an archive, and so
there is no way for a formula to get in: a text is always an inline string, marked as a text where it begins like a
formula. Source of the format: ECMA-376, part 1, sections 12 and 18 (element names from memory, checked by reading
the workbook back with another library).
"""

from __future__ import annotations

import io
import math
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from xml.sax.saxutils import escape as _escape

from o2sim.looks.files import FORMULA_STARTS

Cell = str | int | float | None
LONGEST_CELL = 32_767  # characters
MOST_ROWS = 1_048_576
WHEN = (1980, 1, 1, 0, 0, 0)  # the earliest time an archive can hold; no clock is read
# Styles: a number, a head of a column, a text that begins like a formula, any other text.
PLAIN, HEAD, QUOTED, TEXT = 0, 1, 2, 3
WIDTH = 12  # characters, of a column that states none
WIDEST_PRINT = 260  # characters across a landscape page: more could not be read on paper
MOST_PAGES, LONG = 4, 400  # a sheet is printed on at most so many pages, unless it has more rows than that
XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
CONTENT = "application/vnd.openxmlformats-officedocument.spreadsheetml"
STYLES = (
    f'{XML}<styleSheet xmlns="{MAIN}"><fonts count="2"><font><sz val="11"/><name val="Calibri"/></font>'
    '<font><b/><sz val="11"/><name val="Calibri"/></font></fonts><fills count="2"><fill><patternFill '
    'patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills><borders count="1">'
    '<border><left/><right/><top/><bottom/><diagonal/></border></borders><cellStyleXfs count="1"><xf numFmtId="0" '
    'fontId="0" fillId="0" borderId="0"/></cellStyleXfs><cellXfs count="4"><xf numFmtId="0" fontId="0" fillId="0" '
    'borderId="0" xfId="0" applyAlignment="1"><alignment vertical="top"/></xf>'
    '<xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1" applyAlignment="1">'
    '<alignment vertical="bottom" wrapText="1"/></xf>'
    '<xf numFmtId="49" fontId="0" fillId="0" borderId="0" xfId="0" quotePrefix="1" applyNumberFormat="1" '
    'applyAlignment="1"><alignment vertical="top" wrapText="1"/></xf>'
    '<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0" applyAlignment="1">'
    '<alignment vertical="top" wrapText="1"/></xf>'
    '</cellXfs><cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
)
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class Sheet:
    """A sheet: a name of at most 31 letters, the heads of its columns, its rows, and widths in characters.

    printed: how many rows go onto paper, None for all; the rest is for the screen.
    """

    name: str
    heads: Sequence[str]
    rows: Iterable[Sequence[Cell]]
    widths: Sequence[int] = ()
    printed: int | None = None


def workbook(sheets: Sequence[Sheet]) -> bytes:
    """Return the workbook; a number stays a number, anything else is a text, None and nan are empty cells."""
    numbered = [(n, replace(each, rows=list(each.rows)[: MOST_ROWS - 1])) for n, each in enumerate(sheets, 1)]
    kinds = "".join(
        f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{CONTENT}.worksheet+xml"/>'
        for n, _ in numbered
    )
    names = "".join(f'<sheet name="{_attribute(s.name)}" sheetId="{n}" r:id="rId{n}"/>' for n, s in numbered)
    links = "".join(
        f'<Relationship Id="rId{n}" Type="{OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>'
        for n, _ in numbered
    )
    last = len(sheets) + 1
    files = {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" ContentType='
        '"application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType='
        f'"application/xml"/><Override PartName="/xl/workbook.xml" ContentType="{CONTENT}.sheet.main+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{CONTENT}.styles+xml"/>{kinds}</Types>',
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>{names}</sheets>'
        f"<definedNames>{''.join(_print_names(n - 1, sheet) for n, sheet in numbered)}</definedNames></workbook>",
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE}/relationships">{links}<Relationship '
        f'Id="rId{last}" Type="{OFFICE}/styles" Target="styles.xml"/></Relationships>',
    }
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            _put(archive, name, XML + text)
        _put(archive, "xl/styles.xml", STYLES)
        for number, sheet in numbered:
            _put(archive, f"xl/worksheets/sheet{number}.xml", _sheet(sheet))
    return packed.getvalue()


def _put(archive: zipfile.ZipFile, name: str, text: str) -> None:
    entry = zipfile.ZipInfo(name, WHEN)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 0  # the same on every system
    archive.writestr(entry, text.encode("utf-8"))


def _sheet(sheet: Sheet) -> str:
    widths = "".join(
        f'<col min="{n}" max="{n}" width="{width}" customWidth="1"/>' for n, width in enumerate(sheet.widths, 1)
    )
    rows = [_row(1, sheet.heads, head=True), *(_row(n, row, head=False) for n, row in enumerate(sheet.rows, 2))]
    return (
        f'{XML}<worksheet xmlns="{MAIN}"><sheetPr><pageSetUpPr fitToPage="1"/></sheetPr><sheetViews><sheetView '
        'workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView>'
        f'</sheetViews><sheetFormatPr defaultColWidth="{WIDTH}" defaultRowHeight="15"/>'
        f"{f'<cols>{widths}</cols>' if widths else ''}<sheetData>{''.join(rows)}</sheetData>"
        f"{_paper(sheet)}</worksheet>"
    )


def _printed(sheet: Sheet) -> tuple[int, int]:
    """Return how many rows, and how many columns, go onto paper: as many columns as can be read side by side."""
    widths = [*sheet.widths, *[WIDTH] * (len(sheet.heads) - len(sheet.widths))][: len(sheet.heads)]
    columns = sum(across <= WIDEST_PRINT for across in accumulate(widths))
    every = len(list(sheet.rows))
    return every if sheet.printed is None else min(every, sheet.printed), max(1, columns)


def _print_names(place: int, sheet: Sheet) -> str:
    """Return what of a sheet is printed, and that its heads stand on every page."""
    rows, columns = _printed(sheet)
    name = _text(f"'{sheet.name.replace(chr(39), 2 * chr(39))}'")
    area = f"{name}!$A$1:${_letters(columns - 1)}${rows + 1}"
    return (
        f'<definedName name="_xlnm.Print_Area" localSheetId="{place}">{area}'
        f'</definedName><definedName name="_xlnm.Print_Titles" localSheetId="{place}">{name}!$1:$1</definedName>'
    )


def _paper(sheet: Sheet) -> str:
    """Return how a sheet is printed: A4 across, as wide as the paper, on few pages; what is left out is said."""
    (rows, columns), every, heads = _printed(sheet), len(list(sheet.rows)), len(sheet.heads)
    left = ""
    if rows < every or columns < heads:
        left = f": {rows:,} of {every:,} rows and {columns} of {heads} columns are printed, the file has all"
    footer = _text(f"&L{sheet.name.replace('&', '&&')}{left}&R&P of &N")
    return (
        '<pageMargins left="0.4" right="0.4" top="0.5" bottom="0.6" header="0.3" footer="0.3"/><pageSetup '
        f'paperSize="9" fitToWidth="1" fitToHeight="{MOST_PAGES if rows <= LONG else 0}" orientation="landscape"/>'
        f"<headerFooter><oddFooter>{footer}</oddFooter></headerFooter>"
    )


def _row(number: int, cells: Sequence[Cell], *, head: bool) -> str:
    inside = "".join(_cell(f"{_letters(place)}{number}", cell, head=head) for place, cell in enumerate(cells))
    return f'<row r="{number}">{inside}</row>'


def _cell(place: str, cell: Cell, *, head: bool) -> str:
    if cell is None or cell == "" or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return f'<c r="{place}"><v>{cell!r}</v></c>'
    text = _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", str(cell))[:LONGEST_CELL]
    style = HEAD if head else QUOTED if text.startswith(FORMULA_STARTS) else TEXT
    return f'<c r="{place}" s="{style}" t="inlineStr"><is><t xml:space="preserve">{_text(text)}</t></is></c>'


def _text(text: str) -> str:
    """Return a text as XML; what looks like the format's own escape of a character is escaped itself."""
    return _escape(re.sub("_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text)).replace("\r", "&#13;")


def _attribute(text: str) -> str:
    return _escape(text, {'"': "&quot;"})


def _letters(place: int) -> str:
    """Return the letters of a column, counted from 0: A, B ... Z, AA."""
    above, here = divmod(place, 26)
    return (_letters(above - 1) if above else "") + chr(ord("A") + here)
