"""The stock card: fleet, use of cylinders, what is not accounted for, and what the patients' book leaves open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import plain
from o2sim.fits.found import ROWS, Curve, Panel, Part, Whole
from o2sim.fits.law_text import plain as figure
from o2sim.records.books import Records
from o2sim.records.rows import Stay
from o2sim.records.supply_rows import Stock
from o2sim.statistics.fitting.card import Loss, Use, implied_loss, used

SHEET, FLEET = "Stock card", "cylinders.fleet"
Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Card:
    """The lines of a card in order: their days from the first, arrays of shape (n,), nan for what is not written.

    mended: rows of the sheet with more full cylinders than were there and came; appeared: how many these are
    together, taken as receipts that were not written.
    """

    rows: tuple[Stock, ...]
    days: Values
    full: Values
    received: Values
    begun: Values
    written: Values
    mended: tuple[int, ...]
    appeared: int

    @property
    def use(self) -> Use:
        """Return the use between counts. Raises ValueError for fewer than two counts."""
        return used(self.days, self.full, self.received, self.begun, self.written)


def stock_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the stock card gives: the fleet, and in words use, losses and bare shelves. seed: not used."""
    del seed
    card = read_card(records)
    bare = _bare(records)
    if not card.rows:
        return () if not bare else (Part("bare shelf", "Month totals", ROWS, "", cautions=bare),)
    part = Part("stock of cylinders", SHEET, ROWS, "", rows=len(card.rows))
    whole, words = _fleet(card)
    notes = (*words, *_use_notes(records, card), *bare)
    newest = card.rows[-1].date if whole is None else _newest(card)[0]
    said = "" if newest is None else f"card of {newest.day} {newest:%b %Y}: full + part-used + on patients + empty"
    return (replace(part, said=said, wholes=() if whole is None else (whole,), cautions=notes,
                    panels=_panels(card), used=int((~np.isnan(card.full)).sum())),)  # fmt: skip


def read_card(records: Records) -> Card:
    """Return the card of all lines with a date, in order; a receipt that must have been forgotten is put in."""
    rows = tuple(
        sorted((row for row in records.stock if row.date is not None), key=lambda row: (_date(row), row.row))
    )
    received = np.nan_to_num(_column(rows, "received"))
    full = _column(rows, "full")
    mended, appeared = [], 0
    before, since = np.nan, 0.0
    for at, row in enumerate(rows):
        since += received[at]
        if np.isnan(full[at]):
            continue
        more = full[at] - before - since
        if more > 0:
            received[at] += more
            mended.append(row.row)
            appeared += int(more)
        before, since = full[at], 0.0
    begun = np.nan_to_num(_column(rows, "part_used")) + np.nan_to_num(_column(rows, "on_patients"))
    days = np.array([(_date(row) - _date(rows[0])).days for row in rows], np.float64)
    return Card(rows, days, full, received, begun, _column(rows, "emptied"), tuple(mended), appeared)


def register_litres(records: Records, first: dt.date, last: dt.date) -> tuple[float, float, float, int]:
    """Return patient-hours, their mean flow (L/min), their litres, and how many flows are not written.

    Of the patients' book, from the midnight that ends `first` to the one that ends `last`; days without a clock
    count as whole; flows that are not written as the mean of the others. A stay without an end and without x is
    left out.
    """
    begin, end = (dt.datetime.combine(day, dt.time()) + dt.timedelta(days=1) for day in (first, last))
    hours, flows = [], []
    for stay in records.once:
        span = _span(stay, end)
        if span is None:
            continue
        inside = (min(span[1], end) - max(span[0], begin)) / dt.timedelta(hours=1)
        if inside > 0:
            hours.append(inside)
            flows.append(np.nan if stay.flow_ml_min is None else stay.flow_ml_min / 1_000)
    lasted, flow = np.array(hours, np.float64), np.array(flows, np.float64)
    known = ~np.isnan(flow)
    if not known.any() or not lasted[known].sum() > 0:
        return float(lasted.sum()), float("nan"), float("nan"), int((~known).sum())
    mean = float(np.average(flow[known], weights=lasted[known]))
    return float(lasted.sum()), mean, float(lasted.sum()) * 60 * mean, int((~known).sum())


def loss(records: Records, usable_l: float) -> Loss | None:
    """Return the share of the gas that the patients' book does not account for; None where either book lacks.

    usable_l: litres of a full cylinder until it is taken off, which a base scenario has and no book. All oxygen is
    taken as from cylinders.
    """
    card = read_card(records)
    counted = [row for row in card.rows if row.full is not None]
    if len(counted) < 2:
        return None
    hours, flow, litres, _ = register_litres(records, _date(counted[0]), _date(counted[-1]))
    return (
        None
        if np.isnan(litres) or not card.use.emptied.sum() > 0
        else implied_loss(card.use, usable_l, hours, flow)
    )


def _fleet(card: Card) -> tuple[Whole | None, list[str]]:
    """Return the key of the fleet by the newest complete line, and what is doubtful of it."""
    complete = [row for row in card.rows if _total(row) is not None]
    if not complete:
        return None, [
            "stock card: no line has all of full, part-used, on patients and empty: the fleet is not known"
        ]
    totals = [_total(row) or 0 for row in complete]
    words = []
    if min(totals) != max(totals):
        first, last = complete[0], complete[-1]
        words.append(
            f"stock card: all cylinders together were {totals[0]} on {_said(first)} and {totals[-1]} on"
            f" {_said(last)} (from {min(totals)} to {max(totals)} in {len(totals)} lines); the newest counts;"
            " cylinders.loss is not written, as the card does not say where they went"
        )
    if complete[-1].date != card.rows[-1].date:
        words.append(f"stock card: the newest lines are not complete; the fleet is that of {_said(complete[-1])}")
    return Whole(FLEET, f"{totals[-1]}"), words


def _newest(card: Card) -> tuple[dt.date, int]:
    row = [row for row in card.rows if _total(row) is not None][-1]
    return _date(row), _total(row) or 0


def _use_notes(records: Records, card: Card) -> list[str]:
    """Return use, what is not accounted for, and what the register leaves open, in plain sentences."""
    notes = []
    if card.mended:
        notes.append(
            f"stock card: {len(card.mended)} line{'' if len(card.mended) == 1 else 's'} with more full cylinders"
            f" than were there and came ({card.appeared} in all): taken as receipts that were not written"
        )
    try:
        use = card.use
    except ValueError:
        return [*notes, "stock card: fewer than two counts of full cylinders, so that use is not known"]
    emptied, days = float(use.emptied.sum()), float(use.days.sum())
    if not days > 0:
        return notes
    notes.append(
        f"stock card: {figure(emptied)} cylinders emptied in {figure(days)} days, {figure(emptied / days * 7, 3)}"
        " a week; no key holds it: compare with the use that a run shows"
    )
    return [*notes, *_jumps(use), *_beside_register(records, card, use)]


def unexplained(use: Use) -> npt.NDArray[np.bool_]:
    """Return between which counts more or fewer were emptied than is written and begun cylinders could explain."""
    noted = use.emptied - use.unaccounted
    return np.asarray(~np.isnan(use.unaccounted) & ((noted < use.low) | (noted > use.high)), np.bool_)


def _jumps(use: Use) -> list[str]:
    known = ~np.isnan(use.unaccounted)
    if not known.any():
        return []
    off, wide = float(use.unaccounted[known].sum()), int(unexplained(use).sum())
    if off == 0 and not wide:
        return []
    way = "more gone than written as emptied" if off > 0 else "fewer gone than written as emptied"
    return [
        f"stock card: {figure(abs(off))} cylinders {way} in {int(known.sum())} lines; in {wide} of them cylinders"
        " part used or on patients, which may hold any part of their gas, cannot explain it"
    ]


def _beside_register(records: Records, card: Card, use: Use) -> list[str]:
    """Return what the register says patients had beside what was emptied: litres of a cylinder, no key."""
    counted = [row for row in card.rows if row.full is not None]
    hours, flow, litres, blank = register_litres(records, _date(counted[0]), _date(counted[-1]))
    emptied = float(use.emptied.sum())
    if np.isnan(litres) or not emptied > 0:
        return []
    missing = f" ({blank} flows are not written)" if blank else ""
    each = litres / emptied
    return [
        f"stock card beside the register: {figure(hours)} patient-hours at {figure(flow, 3)} L/min are"
        f" {litres:,.0f} L{missing}, {each:,.0f} L for each of {figure(emptied)} cylinders emptied; what a full"
        " one holds beyond that is leak, residue or not written, if all oxygen came from cylinders. The books do"
        " not say which: cylinders.leak, unusable and underfilled are those of the base scenario"
    ]


def _bare(records: Records) -> tuple[str, ...]:
    """Return how often the shelf was bare, by the card and by month totals."""
    counted = [row for row in records.stock if row.full is not None]
    bare = sum(row.full == 0 for row in counted)
    months = [row for row in records.months if row.days_shelf_bare is not None]
    found = []
    if counted and bare:
        found.append(f"stock card: no full cylinder on {bare} of {len(counted)} counts; patients may have gone"
                     " without, so that use is less than need")  # fmt: skip
    if months and (days := sum(row.days_shelf_bare or 0 for row in months)):
        found.append(
            f"month totals: the shelf was bare on {days} days of {len({row.month for row in months})} months"
        )
    return tuple(found)


def _panels(card: Card) -> tuple[Panel, ...]:
    """Return full cylinders over time, with lines whose cylinders are not accounted for."""
    known = ~np.isnan(card.full)
    if known.sum() < 2:
        return ()
    first = _date(card.rows[0])
    curves = [Curve(card.days[known], card.full[known], "full cylinders", "steps")]
    off = unexplained(card.use)
    if off.any():
        after = np.flatnonzero(known)[1:][off]
        curves.append(Curve(card.days[after], card.full[after], "not accounted for", "points"))
    return (
        Panel("Stock card", f"days since {first.day} {first:%b %Y}", "full cylinders on the shelf", tuple(curves)),
    )


def _span(stay: Stay, past: dt.datetime) -> tuple[dt.datetime, dt.datetime] | None:
    begun = stay.begun or stay.came_on
    if begun is None or (stay.ended is None and not stay.still_on):
        return None
    return _clock(begun), past if stay.ended is None else _clock(stay.ended)


def _clock(when: dt.date) -> dt.datetime:
    """Return a time; noon of a day without a clock, so that differences of dates are whole days."""
    return when if isinstance(when, dt.datetime) else dt.datetime.combine(when, dt.time(12))


def _column(rows: Sequence[Stock], name: str) -> Values:
    return np.array([np.nan if getattr(row, name) is None else getattr(row, name) for row in rows], np.float64)


def _total(row: Stock) -> int | None:
    parts = (row.full, row.part_used, row.on_patients, row.empty)
    return None if any(part is None for part in parts) else sum(part or 0 for part in parts)


def _date(row: Stock) -> dt.date:
    assert row.date is not None
    return plain(row.date)


def _said(row: Stock) -> str:
    day = _date(row)
    return f"{day.day} {day:%b %Y}"
