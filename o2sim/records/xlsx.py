"""Opens a workbook that may be anybody's: nothing in it is run, fetched or unpacked without limit.

XML is read by openpyxl with defusedxml, which refuses entities. What either says of a broken file may quote its
cells, so it is never repeated, and their warnings are not shown.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from typing import Any

from o2sim.records.raw import ERRORS, FORMULA, MOST_COLUMNS, Bad, Cells, RawSheet, UnreadableError, Value, counted

MOST_BYTES = 20_000_000  # of the file
MOST_ENTRIES = 200  # of the archive
MOST_UNPACKED = 40_000_000  # bytes of all of them
MOST_RATIO = 100  # of unpacked to packed bytes; a real sheet has 5 to 20
MOST_TEXTS = 10_000_000  # bytes of the table of texts
MOST_PART = 1_000_000  # bytes of styles and other parts that are read whole
_SMALL = re.compile(r"\[Content_Types\]\.xml|xl/(workbook|styles)\.xml|docProps/.*|.*\.rels")
MOST_JOINED = 200  # areas of one sheet: after so many are refused nobody needs more
BATCH = 500  # rows
_OLE = b"\xd0\xcf\x11\xe0"  # how an old workbook begins, and one with a password
_AREA = re.compile(r"\$?([A-Z]{1,3})\$?(\d{1,7}):\$?([A-Z]{1,3})\$?(\d{1,7})")
AGAIN = "open it in a spreadsheet, and save it again as .xlsx"
DAMAGED = UnreadableError("is damaged, or no workbook", "a workbook as .xlsx", AGAIN)


def sheets(data: bytes, wanted: Sequence[str]) -> tuple[list[str], list[RawSheet]]:
    """Return the names of all sheets, in order, and those wanted, unread. Raises UnreadableError.

    wanted: names in small letters.
    """
    _check_archive(data)
    with _guarded():
        from openpyxl import DEFUSEDXML, load_workbook

        if not DEFUSEDXML:
            raise UnreadableError("cannot be read safely: defusedxml is missing", "", "pip install defusedxml")
        book = load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        found = [each for each in book.worksheets if hasattr(each, "_get_source")]
    names = [plain_name(each.title) for each in found]
    for name in wanted:
        if names.count(name) > 1:
            raise UnreadableError("found a sheet twice", "each sheet once", "remove one", name)
    return names, [_raw(each, book) for each, name in zip(found, names, strict=True) if name in wanted]


def plain_name(title: str) -> str:
    """Return the name of a sheet for comparison."""
    return " ".join(title.split()).casefold()


@contextmanager
def _guarded() -> Iterator[None]:
    """Turn whatever a broken file raises into one message that quotes none of it."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except UnreadableError:
        raise
    except Exception:  # openpyxl raises whatever comes
        raise UnreadableError(*DAMAGED.parts) from None


def _check_archive(data: bytes) -> None:
    """Raise UnreadableError for what is no archive, is protected, or would unpack to too much."""
    if data.startswith(_OLE):
        raise UnreadableError(
            "has a password, or is an old workbook (.xls)",
            "a workbook as .xlsx",
            "save it without a password, as .xlsx",
        )
    try:
        entries = zipfile.ZipFile(io.BytesIO(data)).infolist()
    except Exception:  # zipfile raises whatever comes
        raise UnreadableError(*DAMAGED.parts) from None
    if any(each.flag_bits & 1 for each in entries):
        raise UnreadableError("has a password", "a workbook without one", AGAIN)
    if len(entries) > MOST_ENTRIES:
        raise UnreadableError(f"holds {len(entries):,} parts", f"{MOST_ENTRIES} parts", AGAIN)
    if len({each.filename for each in entries}) < len(entries):
        raise UnreadableError(*DAMAGED.parts)
    _check_size(entries, len(data))


def _check_size(entries: list[zipfile.ZipInfo], size: int) -> None:
    """Raise UnreadableError where an archive of so many bytes says that it unpacks to too many.

    What it says is a bound: no more than that is ever unpacked, and a part that has more is damaged.
    """
    unpacked = sum(each.file_size for each in entries)
    packed = max(1, min(size, sum(each.compress_size for each in entries)))
    if unpacked > MOST_UNPACKED or unpacked > MOST_RATIO * packed or any(map(_too_large, entries)):
        raise UnreadableError(
            f"unpacks to {unpacked / 1e6:,.0f} MB, {unpacked / packed:,.0f} times its size",
            f"{MOST_UNPACKED / 1e6:.0f} MB, {MOST_RATIO} times, large sheets only",
            "copy the cells into a new template",
        )  # fmt: skip


def _too_large(entry: zipfile.ZipInfo) -> bool:
    """Return True for a part that is read whole, and too large for it."""
    name = entry.filename
    most = MOST_PART if _SMALL.fullmatch(name) else MOST_TEXTS
    return entry.file_size > most and not name.startswith("xl/worksheets/")


def _raw(sheet: Any, book: Any) -> RawSheet:
    raw = RawSheet(plain_name(sheet.title), iter(()))
    raw.rows = counted(_rows(sheet, book, raw), raw.name)
    return raw


def _rows(sheet: Any, book: Any, raw: RawSheet) -> Iterator[tuple[int, Cells]]:
    """Yield the rows that are not blank, and gather which cells are joined.

    Only rows and joined cells are looked at: of what else stands in a sheet a hostile one may hold a million.
    """
    steps = _steps(sheet, book, raw)
    while True:
        with _guarded():  # not while the rows are used: what goes wrong there is ours
            batch = list(islice(steps, BATCH))
        if not batch:
            return
        yield from (step for step in batch if step[1])


def _steps(sheet: Any, book: Any, raw: RawSheet) -> Iterator[tuple[int, Cells]]:
    from openpyxl.worksheet._reader import FORMULA_TAG, ROW_TAG, WorkSheetParser
    from openpyxl.xml.constants import SHEET_MAIN_NS
    from openpyxl.xml.functions import iterparse

    with sheet._get_source() as source:
        parser = WorkSheetParser(
            source, sheet._shared_strings, data_only=True, epoch=book.epoch, date_formats=book._date_formats,
            timedelta_formats=book._timedelta_formats,
        )  # fmt: skip
        for _, element in iterparse(source):
            if element.tag == ROW_TAG:
                formulas = {place for place, cell in enumerate(element) if cell.find(FORMULA_TAG) is not None}
                number, cells = parser.parse_row(element)
                yield number, _kept(cells, formulas)
                element.clear()
            elif element.tag == f"{{{SHEET_MAIN_NS}}}mergeCell":
                if len(raw.joined) < MOST_JOINED:
                    raw.joined += _area(element.get("ref") or "")
                element.clear()


def _kept(cells: list[dict[str, Any]], formulas: set[int]) -> Cells:
    return {
        cell["column"]: FORMULA if place in formulas else _value(cell)
        for place, cell in enumerate(cells)
        if cell["column"] <= MOST_COLUMNS and (place in formulas or _written(cell["value"]))
    }


def _written(value: Any) -> bool:
    return value is not None and not (isinstance(value, str) and not value.strip())


def _value(cell: dict[str, Any]) -> Value:
    value = cell["value"]
    if cell["data_type"] == "e":
        return Bad(f"the error {value}" if value in ERRORS else "an error")
    if isinstance(value, str):
        return FORMULA if value.lstrip().startswith("=") else " ".join(value.split())
    return value  # type: ignore[no-any-return]


def _area(text: str) -> list[tuple[int, int, int, int]]:
    found = _AREA.fullmatch(text)
    if not found:
        return []
    return [(_place(found[1]), int(found[2]), _place(found[3]), int(found[4]))]


def _place(letters: str) -> int:
    place = 0
    for letter in letters:
        place = 26 * place + ord(letter) - ord("A") + 1
    return place
