"""Power cuts with clocks: how long the power stays on and off, and windows of cuts that keep to a time of day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from o2sim.fits.covered import Covered, covered
from o2sim.fits.found import ROWS, Part
from o2sim.fits.law_panels import law_panels
from o2sim.fits.law_text import fitted_or_none, law_cautions, law_said, law_whole, own_seed, plain, some
from o2sim.fits.supply.clock import hours_since, rounded_to_h, stretches
from o2sim.fits.supply.shedding import Shedding, shedding
from o2sim.records.books import Records
from o2sim.records.rows import Cut
from o2sim.statistics.fitting.spells import Spells, between, in_steps, joined

SHEET = "Power cuts"
UP, DOWN = "power.grid.up", "power.grid.down"
SHORTEST_H = 1 / 60
_FEW = 5  # cuts, below which only a mean is fitted, to which the first time with power counts too


@dataclass(frozen=True)
class Times:
    """Times with and without power in hours, and how many cuts have no end without being the last."""

    up: Spells
    down: Spells
    unknown: int


def cut_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the power cuts give: times on and off in one part, and windows of planned cuts in another."""
    rows = sorted(
        (row for row in records.cuts if row.off_at is not None), key=lambda row: row.off_at or dt.datetime.min
    )
    book = covered(records, SHEET, [when for row in rows for when in (row.off_at, row.on_at)])
    if book is None:
        return ()
    if not rows:
        return (_none(book),) if book.is_stated else ()
    planned = shedding(rows, book)
    parts = () if planned.part is None else (planned.part,)
    return (*parts, _grid(rows, book, planned, seed))


def times(cuts: Sequence[Cut], book: Covered) -> Times:
    """Return the times with and without power by the cuts, in order, of the days that a book covers.

    The cut that is still on as the book ends, and the power that is, are not over. A time with power that began
    before the book or within missing pages has nobody who knows when: it is left out, but with under 5 cuts, where
    the law that is fitted has no memory and it counts as any other. A cut begun before the book counts as met.
    """
    first, runs = book.first, stretches(book)
    spans = [(hours_since(first, row.off_at), _end(row, first)) for row in cuts if row.off_at is not None]
    unit = rounded_to_h([when for row in cuts for when in (row.off_at, row.on_at) if when is not None])
    down = [_down(off, on, runs, unit) for off, on in spans if on is not None or off == spans[-1][0]]
    up: list[Spells] = []
    for begin, end in runs:
        inside = [(off, on) for off, on in spans if off < end and (on is None or on > begin)]
        up += _up(inside, begin, end, len(cuts) < _FEW)
    return Times(joined(*up) if up else in_steps([]), joined(*down), len(spans) - len(down))


def _end(row: Cut, first: dt.date) -> float | None:
    return None if row.on_at is None else hours_since(first, row.on_at)


def _down(off: float, on: float | None, runs: Sequence[tuple[float, float]], unit: float) -> Spells:
    """Return one time without power; on None: still off as the book ends."""
    begin, end = runs[0][0], runs[-1][1]
    entry, limit, lasted = max(begin - off, 0.0), max(end - off, SHORTEST_H), (end if on is None else on) - off
    if unit and np.allclose(np.array([off, lasted]) / unit, np.rint(np.array([off, lasted]) / unit)):
        steps = np.rint(np.array([lasted, entry, limit]) / unit)
        return in_steps([steps[0]], unit, on is not None, min(steps[1], steps[0]), steps[2])
    lasted = max(lasted, SHORTEST_H)
    return between([lasted], [np.inf if on is None else lasted], min(entry, lasted * 0.999), limit)


def _up(inside: Sequence[tuple[float, float | None]], begin: float, end: float, keep_first: bool) -> list[Spells]:
    """Return the times with power of one run of days, in which these cuts fall."""
    found, on = [], begin if keep_first else None
    for off, again in inside:
        if on is not None and off > on:
            found.append(between([off - on], [off - on], limit=max(end - on, off - on)))
        on = again
    if on is not None and on < end:
        found.append(between([end - on], [np.inf], limit=end - on))
    return found


def _none(book: Covered) -> Part:
    """Return what a book without a single cut gives: a caution."""
    return Part(
        "power cuts", SHEET, ROWS, "", cautions=(
            f"no power cut in {book.days} days ({book.said()}): with 95 % certainty there is less than one in"
            f" {plain(book.days / 3, 2)} days; how long cuts last is not known",
        ),
    )  # fmt: skip


def _grid(rows: Sequence[Cut], book: Covered, planned: Shedding, seed: int) -> Part:
    """Return the part about the grid, with the cuts that keep to no window."""
    cuts = planned.others
    part = Part("power cuts", SHEET, ROWS, "", cautions=planned.cautions, rows=len(rows), used=len(cuts))
    if not cuts:
        return part
    seen = times(cuts, book)
    up, down = fitted_or_none(seen.up, own_seed(seed, UP)), fitted_or_none(seen.down, own_seed(seed, DOWN))
    if up is None or down is None:
        return replace(part, cautions=(*part.cautions, _too_few(len(cuts), book)), used=0)
    said = (
        f"{int(seen.down.is_over.sum())} of {len(cuts)} cuts with an end, {book.said()}, {book.days} days; on:"
        f" {law_said(up)}, off: {law_said(down)}, 90 % range"
    )
    counted = f"{len(cuts)} cuts, {book.said()}"
    return replace(
        part, said=said,
        brief={UP: f"{counted}, {law_said(up)}, 90 % range", DOWN: f"{counted}, {law_said(down)}, 90 % range"},
        wholes=(law_whole(UP, up, "h"), law_whole(DOWN, down, "h")),
        cautions=(*part.cautions, *_doubts(cuts, book, seen),
                  *law_cautions("times with power", up, _ended(seen.up)),
                  *law_cautions("lengths of cuts", down, _ended(seen.down))),
        panels=(*law_panels("Length of a power cut", "h", seen.down, down),
                *law_panels("Time with power", "h", seen.up, up)),
        test_p=down.test.chance if down.test is not None else None,
    )  # fmt: skip


def _ended(spells: Spells) -> int:
    return int(spells.is_over.sum())


def _too_few(cuts: int, book: Covered) -> str:
    return (
        f"{some(cuts, 'power cut')} in {book.days} days ({book.said()}), too few of them with both"
        " ends for a range of how long power stays on and off"
    )


def _doubts(cuts: Sequence[Cut], book: Covered, seen: Times) -> list[str]:
    """Return what is doubtful of the cuts in plain sentences."""
    found = []
    if not book.is_stated:
        found.append(
            "Place does not say from when to when power cuts were written down: the days from the first to the"
            " last row are taken, so that they look a little more frequent than they are"
        )
    if seen.unknown:
        found.append(f"{seen.unknown} of {len(cuts)} power cuts have no end and are not the last: how long they"
                     " lasted is left out")  # fmt: skip
    if cuts[-1].on_at is None:
        found.append("the last power cut is still on as the book ends, and counts as no shorter than that")
    unit = rounded_to_h([when for row in cuts for when in (row.off_at, row.on_at) if when is not None])
    if unit >= 0.25:
        found.append(
            f"nearly all times of power cuts are written to {plain(unit * 60)} minutes, and are taken as rounded;"
            " shorter cuts may not have been written down"
        )
    return found
