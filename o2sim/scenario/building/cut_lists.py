"""A CSV file of recorded power cuts in, spells in seconds from the start date out."""

from __future__ import annotations

import csv
import datetime as dt
import io

from o2sim.scenario.building.law_reader import read_beside
from o2sim.scenario.building.reader import Reader
from o2sim.scenario.text.nodes import Node
from o2sim.scenario.types.spells import Spell, merged

MOST_CUTS = 20_000
FORM = "columns start,end or start,hours, as 2027-03-01 18:30,2.5"


def read_cuts(reader: Reader, node: Node, file: str, start: dt.date) -> tuple[Spell, ...]:
    """Return recorded cuts [start, end) in s from midnight of the start date, joined where they meet.

    Raises RefusedError; the message names the line of the file.
    """
    text = read_beside(reader.problems, reader.folder, node, file)
    try:
        rows = csv.DictReader(io.StringIO(text.decode("utf-8-sig"), newline=""), strict=True)
        listed = [(rows.line_num, row) for row in rows]
    except (UnicodeDecodeError, csv.Error) as error:
        raise reader.problems.add(node, f"{file} cannot be read: {error}", FORM) from None
    names = set(rows.fieldnames or ())
    if "start" not in names or not names & {"end", "hours"} or not 1 <= len(listed) <= MOST_CUTS:
        found = f"{file} has {len(listed)} rows under {', '.join(rows.fieldnames or ()) or 'nothing'}"
        raise reader.problems.add(node, found, f"1 to {MOST_CUTS} rows under {FORM}")
    zero = dt.datetime.combine(start, dt.time())
    spells = []
    for line, row in listed:
        try:
            spells.append(_spell(row, zero))
        except (ValueError, OverflowError, TypeError):
            stated = ",".join(str(cell) for cell in row.values())
            raise reader.problems.add(node, f"{file}:{line}: found {stated[:60]!r}", FORM) from None
    return merged(spells)


def _spell(row: dict[str, str], zero: dt.datetime) -> Spell:
    begin = _second(row["start"], zero)
    length_s = round(float(row["hours"]) * 3_600) if not row.get("end") else None
    finish = _second(row["end"], zero) if length_s is None else begin + length_s
    if finish <= begin:
        raise ValueError
    return begin, finish


def _second(text: str, zero: dt.datetime) -> int:
    return round((dt.datetime.fromisoformat(text.strip()).replace(tzinfo=None) - zero).total_seconds())
