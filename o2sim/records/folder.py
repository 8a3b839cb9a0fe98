"""The same sheets as CSV files of the same names in a folder; every cell is a text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from o2sim.records.raw import ERRORS, FORMULA, MOST_COLUMNS, Bad, Cells, RawSheet, UnreadableError, Value, counted
from o2sim.records.xlsx import MOST_ENTRIES, MOST_UNPACKED, plain_name
from o2sim.scenario.building.sheet import SheetError, rows_of, table_text
from o2sim.scenario.types.tables import SEPARATORS

UTF8 = "a CSV file in UTF-8"


def sheets(folder: Path, wanted: Sequence[str]) -> tuple[list[str], list[RawSheet], bytes]:
    """Return the names of all CSV files, those wanted, unread, and the bytes of these. Raises UnreadableError.

    wanted: names in small letters.
    """
    try:
        files = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".csv" and path.is_file())
        if len(files) > MOST_ENTRIES:
            raise UnreadableError(
                f"holds {len(files):,} CSV files", f"{MOST_ENTRIES}", "name a folder of records alone"
            )
        names = [plain_name(path.stem) for path in files]
        ours = [(name, path) for name, path in zip(names, files, strict=True) if name in wanted]
        if sum(path.stat().st_size for _, path in ours) > MOST_UNPACKED:
            raise UnreadableError("is too large", f"{MOST_UNPACKED / 1e6:.0f} MB", "take fewer years at once")
        read = [(name, path.read_bytes()) for name, path in ours]
    except OSError as error:
        raise UnreadableError(f"cannot be read ({error.strerror or 'no such folder'})") from None
    for name, _ in read:
        if names.count(name) > 1:
            raise UnreadableError("found a sheet twice", "each sheet once", "remove one", name)
    return names, [_raw(name, data) for name, data in read], b"\0".join(data for _, data in read)


def _raw(name: str, data: bytes) -> RawSheet:
    return RawSheet(name, counted(_rows(name, data), name))


def _rows(name: str, data: bytes) -> Iterator[tuple[int, Cells]]:
    try:
        text = table_text(data)
        for line, cells in rows_of(text, _separator(text)):
            yield line, {place: _value(cell) for place, cell in enumerate(cells[:MOST_COLUMNS], 1) if cell}
    except SheetError as error:
        where = f"line {error.line} " if error.line else ""
        raise UnreadableError(f"{where}{_safe(error.found)}", UTF8, error.hint, name) from None


def _safe(found: str) -> str:
    """Return what is wrong with a file, without what the reader of CSV quotes of it."""
    return found.partition(":")[0]


def _separator(text: str) -> str:
    """Return the separator that the head has most of."""
    head = text.lstrip().split("\n", 1)[0]
    return max(SEPARATORS, key=lambda name: head.count(SEPARATORS[name]))


def _value(cell: str) -> Value:
    if cell in ERRORS:
        return Bad(f"the error {cell}")
    return FORMULA if cell.startswith("=") else " ".join(cell.split())
