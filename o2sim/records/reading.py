"""Reads a workbook of records, or a folder of CSV files of the same names: all that is wrong at once."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

from o2sim.records import across, doubts, folder, xlsx
from o2sim.records.books import BOOKS, BY_NAME, CLASSES, KEPT, LISTS, PLACE, Records
from o2sim.records.findings import Finding, Findings, RecordsError
from o2sim.records.heads import almost
from o2sim.records.raw import RawSheet, UnreadableError
from o2sim.records.values import Known, Read, read_sheet
from o2sim.records.xlsx import MOST_BYTES, plain_name

WANTED = tuple(plain_name(book.name) for book in BOOKS)
NEW = "o2sim records new FILE.xlsx"
OTHERS = ("help",)  # a sheet of the template that holds no records


@dataclass(frozen=True)
class Survey:
    """What a reading found: the rows of each sheet by its name, what is wrong, and what is doubtful.

    rows: counts of the rows that could be read. records: None where anything is wrong.
    """

    file: PurePath
    hash: str
    rows: dict[str, int]
    errors: tuple[Finding, ...]
    cautions: tuple[Finding, ...]
    records: Records | None


def read_records(path: str | Path) -> Records:
    """Return what the books say: a workbook (.xlsx), or a folder of CSV files named as its sheets.

    Times are local datetimes, or dates where no clock is written; units stand in the names of the fields. Raises
    RecordsError with all that is wrong, each at its cell, and O2simError where there is no such file.
    """
    found = survey(path)
    if found.records is None:
        raise RecordsError(found.errors, found.cautions)
    return found.records


def survey(path: str | Path) -> Survey:
    """Return all that is in the records, right or wrong. Raises RecordsError for what is no workbook at all."""
    place = Path(path)
    findings = Findings(place.name or str(place))
    try:
        names, raws, digest = _opened(place)
        _look_alike(names, findings)
        _require_any(raws, findings)
        reads, known = _read(raws, findings)
    except UnreadableError as error:
        sheet = BY_NAME_PLAIN.get(error.sheet, "")
        findings.wrong(sheet, "", "", *error.parts)
        raise RecordsError(findings.errors) from None
    across.check(reads, findings)
    doubts.note(reads, findings)
    records = None
    if not findings.errors:
        rows: dict[str, Any] = {read.book.field: read.rows for read in reads.values() if read.book is not LISTS}
        records = Records(PurePath(place.name), digest, known.classes, cautions=findings.cautions, **rows)
    counts = {name: len(read.rows) for name, read in reads.items() if read.book is not LISTS}
    return Survey(PurePath(place.name), digest, counts, findings.errors, findings.cautions, records)


BY_NAME_PLAIN = {plain_name(name): name for name in BY_NAME}


def _opened(place: Path) -> tuple[list[str], list[RawSheet], str]:
    """Return the names of all sheets, those of ours, unread, and the hash. Raises UnreadableError."""
    if place.is_dir():
        names, raws, data = folder.sheets(place, WANTED)
        return names, raws, _hash(data)
    try:
        if not place.is_file():
            raise UnreadableError(
                "found no such file",
                "a workbook as .xlsx, or a folder of CSV files",
                f"a template: {NEW}",
            )
        if place.stat().st_size > MOST_BYTES:
            raise UnreadableError(
                f"has {place.stat().st_size / 1e6:,.0f} MB",
                f"{MOST_BYTES / 1e6:.0f} MB",
                "copy the cells into a new template",
            )
        data = place.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise UnreadableError(
            f"cannot be read ({getattr(error, 'strerror', None) or 'no name of a file'})"
        ) from None
    names, raws = xlsx.sheets(data, WANTED)
    return names, raws, _hash(data)


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _require_any(raws: Sequence[RawSheet], findings: Findings) -> None:
    """Raise UnreadableError where there is no sheet of ours, RecordsError where one has almost its name."""
    if not raws:
        findings.stop()
        allowed = f"sheets, or CSV files, named {', '.join(KEPT[:3])} and so on"
        raise UnreadableError("found no sheet of the template", allowed, f"a template: {NEW}")


def _look_alike(names: Sequence[str], findings: Findings) -> None:
    """Note sheets whose names are almost ours; of others only how many there are."""
    lacking = [name for name in WANTED if name not in names]
    passed = 0
    for number, name in enumerate(names, 1):
        if name in WANTED or name in OTHERS:
            continue
        near = almost(name, lacking)
        if near:
            findings.wrong(
                "",
                f"sheet {number}",
                "",
                "its name is almost that of a sheet of the template",
                BY_NAME_PLAIN[near],
                "write the name so, or remove the sheet",
            )
        else:
            passed += 1
    if passed:
        findings.doubt(
            "",
            "",
            "",
            f"{passed} sheet{'s are' if passed > 1 else ' is'} not of the template: not read and not kept",
        )


def _read(raws: Sequence[RawSheet], findings: Findings) -> tuple[dict[str, Read], Known]:
    """Return the rows of all sheets by name, empty where one is not there; Place and Lists are read first."""
    by_name, known = {raw.name: raw for raw in raws}, Known()
    reads: dict[str, Read] = {}
    for book in (PLACE, LISTS, *BOOKS):
        raw = by_name.get(plain_name(book.name))
        if book.name in reads:
            continue
        reads[book.name] = read_sheet(book, raw, known, findings) if raw is not None else Read(book)
        if book is PLACE:
            known.orders = {row.sheet: row.dates for row in reversed(reads[book.name].rows) if row.dates}
        elif book is LISTS:
            known.classes = tuple(dict.fromkeys(row.name for row in reads[book.name].rows if row.name)) or CLASSES
    return {book.name: reads[book.name] for book in BOOKS}, known
