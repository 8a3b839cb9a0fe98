"""What several cells of a row, or several rows of a sheet, say together: errors that no single cell has."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from o2sim.records.books import kept
from o2sim.records.dates import MONTHS, in_words, iso
from o2sim.records.findings import Findings
from o2sim.records.numbers import read_amount
from o2sim.records.rows import NOT_TWICE, TWICE, When
from o2sim.records.values import Read

SPANS = (  # sheet, field that comes first, field that comes after it, and what they do
    ("Place", "kept_from", "kept_to", "ends", "it begins"),
    ("Place", "missing_from", "missing_to", "ends", "it begins"),
    ("Patients on oxygen", "came_on", "begun", "oxygen is begun", "the patient came"),
    ("Patients on oxygen", "begun", "ended", "ends", "it begins"),
    ("Patients on oxygen", "came_on", "ended", "ends", "the patient came"),
    ("Power cuts", "off_at", "on_at", "power returns", "it fails"),
    ("Orders", "ordered", "came", "the order came", "it was made"),
    ("Road shut", "begin", "end", "ends", "it begins"),
    ("Job cards", "down", "back", "the unit is back", "it went down"),
)
NOT_ABOVE = (  # sheet, field that may not be above another
    ("All admissions", "spo2_written", "admitted"),
    ("All admissions", "below_90", "spo2_written"),
    ("Counts at midnight", "on_cylinders", "on_oxygen"),
    ("Units", "meter_then_h", "meter_now_h"),
)
NOT_BOTH = (  # sheet, two fields of which one must be empty
    ("Patients on oxygen", "ended", "still_on"),
    ("Job cards", "back", "written_off"),
)
ONCE = (  # sheet, fields that together may stand once
    ("Place", ("sheet", "kept_from")),
    ("All admissions", ("month", "class_")),
    ("Month totals", ("month", "class_")),
    ("Counts at midnight", ("date",)),
    ("Power hours", ("date",)),
    ("Stock card", ("date",)),
    ("Units", ("unit",)),
    ("Units today", ("unit",)),
)
Sheets = Mapping[str, Read]


def check(sheets: Sheets, findings: Findings) -> None:
    """Note what does not agree; sheets by name, rows that are wrong themselves left out."""
    _spans(sheets, findings)
    _not_above(sheets, findings)
    _not_both(sheets, findings)
    _both_ends(sheets["Place"], findings)
    for name, fields in ONCE:
        _once(sheets[name], fields, findings)
    _inside_the_book(sheets, findings)
    _same_patient(sheets["Patients on oxygen"], findings)
    _one_cut_at_a_time(sheets["Power cuts"], findings)
    _known_units(sheets, findings)
    _in_order(sheets["What we think"], findings)


def before(one: When, other: When) -> bool:
    """Return True where one time is before another; by their days where either has no clock."""
    if isinstance(one, dt.datetime) and isinstance(other, dt.datetime):
        return one < other
    return day(one) < day(other)


def day(when: When) -> dt.date:
    """Return the day of a time."""
    return when.date() if isinstance(when, dt.datetime) else when


def _spans(sheets: Sheets, findings: Findings) -> None:
    noted = set()
    for name, first, last, ends, begins in SPANS:
        read = sheets[name]
        for row in read.rows:
            begin, end = getattr(row, first), getattr(row, last)
            if begin is None or end is None or not before(end, begin) or (name, row.row) in noted:
                continue
            noted.add((name, row.row))
            then = f"before {begins} on {_short(begin, end)} ({read.cell(row, first)})"
            findings.wrong(name, read.cell(row, last), "", f"{ends} on {_short(end, begin)}, {then}")


def _short(when: When, other: When) -> str:
    """Return a time in words, the year and the clock only where another differs by them alone."""
    if day(when) == day(other):
        return iso(when)
    return f"{when.day} {MONTHS[when.month - 1]}" if when.year == other.year else in_words(when)


def _not_above(sheets: Sheets, findings: Findings) -> None:
    for name, less, more in NOT_ABOVE:
        read = sheets[name]
        for row in read.rows:
            low, high = getattr(row, less), getattr(row, more)
            if low is not None and high is not None and low > high:
                allowed = f"at most {high:g}, the {read.head(more)} ({read.cell(row, more)})"
                findings.wrong(name, read.cell(row, less), read.head(less), f"found {low:g}", allowed)


def _not_both(sheets: Sheets, findings: Findings) -> None:
    for name, one, other in NOT_BOTH:
        read = sheets[name]
        for row in read.rows:
            if getattr(row, one) is not None and getattr(row, other):
                both = f"both {read.head(one)} and {read.head(other)} ({read.cell(row, other)}) are written"
                findings.wrong(name, read.cell(row, one), "", both, "one of them", "empty the other")
    read = sheets["Units today"]
    for row in read.rows:
        if row.working and row.down_since is not None:
            findings.wrong(
                read.book.name, read.cell(row, "down_since"), "", "the unit works, and is down since then",
                "one of them", "write no under Working, or empty this cell",
            )  # fmt: skip


def _both_ends(read: Read, findings: Findings) -> None:
    """Note missing pages of which only the first or the last day is written."""
    for row in read.rows:
        if (row.missing_from is None) == (row.missing_to is None):
            continue
        ends = ("missing_from", "missing_to")
        there, lacking = ends if row.missing_to is None else ends[::-1]
        allowed = f"a date beside {read.head(there)} ({read.cell(row, there)})"
        findings.wrong(read.book.name, read.cell(row, lacking), read.head(lacking), "found nothing", allowed)


def _once(read: Read, fields: tuple[str, ...], findings: Findings) -> None:
    """Note rows of which only one may be: two counts of one day cannot both be right."""
    met: dict[tuple[Any, ...], Any] = {}
    for row in read.rows:
        key = tuple(getattr(row, name) for name in fields)
        if fields[-1] == "kept_from":
            if row.kept_from is None:
                continue
            key = key[:1]
        if key in met:
            heads = " and ".join(read.head(name) for name in fields)
            findings.wrong(read.book.name, f"rows {met[key]} and {row.row}", heads, "found the same in both",
                           "one row for each", "remove one, or mend it")  # fmt: skip
        else:
            met[key] = row.row


def _inside_the_book(sheets: Sheets, findings: Findings) -> None:
    """Note what lies after the last day of a book: either is a slip of the pen."""
    for read in sheets.values():
        place = kept(sheets["Place"].rows, read.book.name, "kept_to")
        if place is None or place.kept_to is None:
            continue
        for row in read.rows:
            for name in read.book.dated:
                when = getattr(row, name)
                if when is not None and day(when) > place.kept_to:
                    findings.wrong(
                        read.book.name, read.cell(row, name), read.head(name), f"found {iso(when)}",
                        f"days up to {place.kept_to}, the last that the book covers (Place, row {place.row})",
                        "mend the date, or Book kept to",
                    )  # fmt: skip


def _same_patient(read: Read, findings: Findings) -> None:
    """Note rows that agree in all that is written: an error where a clock is among it, else a caution."""
    met: dict[tuple[Any, ...], Any] = {}
    for row in read.rows:
        if row.twice in (TWICE, NOT_TWICE):
            continue
        key = (row.arrived, row.class_, row.begun, row.flow_ml_min, row.ended, row.spo2_percent)
        if key not in met:
            met[key] = row.row
            continue
        where = f"rows {met[key]} and {row.row}"
        if any(isinstance(when, dt.datetime) for when in key):
            findings.wrong(
                read.book.name, where, "", "are the same patient, time and flow: counted once?", "",
                "mark one with x under Twice, or with no where they are two patients",
            )  # fmt: skip
        elif row.flow_ml_min is not None and row.ended is not None:
            findings.doubt(read.book.name, where, "", "agree in all that is written: taken as two patients",
                           "mark one with x under Twice where it repeats the other")  # fmt: skip


def _one_cut_at_a_time(read: Read, findings: Findings) -> None:
    rows = sorted((row for row in read.rows), key=lambda row: row.off_at)
    last = None
    for row in rows:
        if last is not None and (last.on_at is None or row.off_at < last.on_at):
            until = f"lasts until {iso(last.on_at)}" if last.on_at else "has no end"
            findings.wrong(read.book.name, read.cell(row, "off_at"), "Off at", f"found {iso(row.off_at)}",
                           f"a time after the cut of row {last.row}, which {until}")  # fmt: skip
        else:
            last = row


def _known_units(sheets: Sheets, findings: Findings) -> None:
    """Note units that failed and are not on the list: then those that never failed are not there either."""
    listed = {row.unit for row in sheets["Units"].rows}
    for name, what in (("Job cards", "on job cards"), ("Units today", "of today")):
        read = sheets[name]
        missing = {row.unit: row for row in reversed(read.rows) if row.unit not in listed}
        if not missing or (name == "Units today" and not listed):
            continue
        count = len(missing)
        are = f"{count} units {what} are" if count > 1 else f"1 unit {what} is"
        first = min(row.row for row in missing.values())
        findings.wrong(
            "Units", "", "", f"{are} not on the list of units (see {name}, row {first})",
            "", "list all units; those that never failed must be there too",
        )  # fmt: skip


def _in_order(read: Read, findings: Findings) -> None:
    for row in read.rows:
        amounts = [
            (name, read_amount(getattr(row, name), row.number)[1]) for name in ("lowest", "likely", "highest")
        ]
        for (low, less), (high, more) in pairwise(amounts):
            if less > more:
                allowed = f"at least {getattr(row, low)}, the {read.head(low)} ({read.cell(row, low)})"
                found = f"found {getattr(row, high)}"
                findings.wrong(read.book.name, read.cell(row, high), read.head(high), found, allowed)
