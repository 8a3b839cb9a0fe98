"""What is doubtful in records and read as it stands: gaps, cylinders not accounted for, stays without an end."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from itertools import pairwise
from statistics import median_low

from o2sim.records.across import Sheets, day
from o2sim.records.books import BOOKS, LISTS, PLACE, kept
from o2sim.records.dates import MONTHS
from o2sim.records.findings import FEW, Findings, few
from o2sim.records.rows import DATES_ONLY, TWICE, Stay, When
from o2sim.records.supply_rows import Stock
from o2sim.records.values import Read

ENOUGH = 20  # stays: a share of fewer says little
OFTEN_WHOLE = 0.1  # of stays that are whole days to the minute; by chance it would be 1 in 1,440
BY_CHANCE = 0.01  # the chance that a book is empty for so long at its end, by a Poisson law
LONG_GAP = 2  # times the usual step between counts
SHORT_GAP_DAYS = 3  # never called a gap: a week-end
NOTHING_WRONG = "taken as not known, not as no use"


def note(sheets: Sheets, findings: Findings) -> None:
    """Note all cautions."""
    _without_place(sheets, findings)
    _stays(sheets, findings)
    _stock(sheets["Stock card"], findings)


def _without_place(sheets: Sheets, findings: Findings) -> None:
    """Note books with dates of which nobody says when they were kept."""
    stated = {row.sheet for row in sheets["Place"].rows if row.kept_from and row.kept_to}
    for book in BOOKS:
        if book in (PLACE, LISTS) or not book.dated or not sheets[book.name].rows or stated & {None, book.name}:
            continue
        findings.doubt(
            book.name, "", "", "Place does not say from when to when this book was kept",
            "write Book kept from and Book kept to: without them only the days between its rows are known",
        )  # fmt: skip


def _stays(sheets: Sheets, findings: Findings) -> None:
    read = sheets["Patients on oxygen"]
    stays = [row for row in read.rows if row.twice != TWICE]
    if not stays:
        return
    open_ = sum(row.ended is None and not row.still_on for row in stays)
    if open_:
        how_many = f"{few(open_)} of {len(stays)}" if len(stays) >= FEW else few(open_)
        findings.doubt(read.book.name, "", "", f"{how_many} without an end and without x under Still on")
    _whole_days(stays, sheets, findings)
    _empty_end(sheets, findings)


def _whole_days(stays: Sequence[Stay], sheets: Sheets, findings: Findings) -> None:
    """Note a book in which more stays than by chance last whole days to the minute: clocks filled in later."""
    read = sheets["Patients on oxygen"]
    place = kept(sheets["Place"].rows, read.book.name, "clock")
    if place is not None and place.clock == DATES_ONLY:
        return
    spans = [
        row.ended - row.begun
        for row in stays
        if isinstance(row.ended, dt.datetime) and isinstance(row.begun, dt.datetime)
    ]
    whole = sum(span % dt.timedelta(days=1) == dt.timedelta() for span in spans)
    if len(spans) >= ENOUGH and whole >= OFTEN_WHOLE * len(spans):
        findings.doubt(
            read.book.name, "", "",
            f"{100 * whole / len(spans):.0f} % of stays with times are whole multiples of 24 h",
            "if times were filled in later: on Place, write dates only under Clock or dates only",
        )  # fmt: skip


def _empty_end(sheets: Sheets, findings: Findings) -> None:
    """Note a book whose last days are empty for longer than chance would have it."""
    read = sheets["Patients on oxygen"]
    place = next(
        (row for row in sheets["Place"].rows if row.sheet in (None, read.book.name) and row.kept_to), None
    )
    days = sorted(day(row.begun or row.came_on) for row in read.rows if row.begun or row.came_on)
    if place is None or len(days) < ENOUGH:
        return
    empty = (place.kept_to - days[-1]).days
    rate = (len(days) - 1) / max(1, (days[-1] - days[0]).days)
    if empty > -math.log(BY_CHANCE) / rate:
        findings.doubt(read.book.name, "", "", f"the last {empty} days of the book are empty",
                       "mend Book kept to where it ended earlier")  # fmt: skip


def _stock(read: Read, findings: Findings) -> None:
    """Note counts that are far apart, and lines whose cylinders do not add up."""
    rows: list[Stock] = sorted(read.rows, key=_date)
    steps = [(_date(after) - _date(one)).days for one, after in pairwise(rows)]
    usual = median_low(steps) if steps else 0
    for one, after, step in zip(rows, rows[1:], steps, strict=False):
        if step > max(LONG_GAP * usual, SHORT_GAP_DAYS):
            span = f"from {_between(_date(one), _date(after))}: {step} days {NOTHING_WRONG}"
            findings.doubt(read.book.name, f"row {after.row}", "", f"no count {span}")
        else:
            _adds_up(read, one, after, findings)


def _date(row: Stock) -> dt.date:
    assert row.date is not None  # no row is without
    return row.date


def _between(one: When, other: When) -> str:
    """Return two days in words: 4 to 19 June."""
    if (one.year, one.month) == (other.year, other.month):
        return f"{one.day} to {other.day} {MONTHS[other.month - 1]} {other.year}"
    return f"{one.day} {MONTHS[one.month - 1]} to {other.day} {MONTHS[other.month - 1]} {other.year}"


def _adds_up(read: Read, one: Stock, after: Stock, findings: Findings) -> None:
    """Note a line where full before + received - full now is not what was emptied."""
    if one.full is None or after.full is None or after.emptied is None:
        return
    received = after.received or 0
    begun = [each.part_used is not None and each.on_patients is not None for each in (one, after)]
    change = _begun(after) - _begun(one) if all(begun) else 0
    used = one.full + received - after.full - change
    off = used - after.emptied
    if not off:
        return
    moved = (
        f" {'-' if change > 0 else '+'} {abs(change)} {'more' if change > 0 else 'fewer'} part-used or on patients"
    )
    sum_ = f"{one.full} full + {received} received - {after.full} full{moved if change else ''} = {used} emptied"
    left = f"{abs(off)} {'not accounted for' if off > 0 else 'more than there were'}"
    unknown = "" if all(begun) else ", or the change of part-used and on-patient cylinders, which are not written"
    findings.doubt(
        read.book.name, f"row {after.row}", "", f"{sum_}, but {after.emptied} are written ({left}{unknown})"
    )


def _begun(row: Stock) -> int:
    return (row.part_used or 0) + (row.on_patients or 0)
