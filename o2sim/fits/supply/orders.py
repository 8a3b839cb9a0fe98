"""Orders: lead times on open roads, orders that came in part, and how orders are placed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from o2sim.fits.covered import DAY, Covered, covered, plain
from o2sim.fits.found import DRAWS, ROWS, Number, Part, Whole
from o2sim.fits.law_panels import law_panels
from o2sim.fits.law_text import fitted_or_none, law_cautions, law_said, law_whole, own_seed, some, too_few
from o2sim.fits.law_text import plain as figure
from o2sim.fits.supply.clock import days_since
from o2sim.fits.supply.roads import shut_days
from o2sim.fits.usual import usual_shift
from o2sim.records.books import Records
from o2sim.records.supply_rows import Order
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.shares import jeffreys, share_draws
from o2sim.statistics.fitting.spells import Spells, between, joined
from o2sim.statistics.fitting.waiting import lead_times

SHEET = "Orders"
LEAD, CHANCE, SHARE = "resupply.lead_time", "resupply.part_delivery.chance", "resupply.part_delivery.share"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SHORTEST = 1 / 1440  # days: one that comes within a minute
FEWEST = 5  # orders, below which nothing is said of how they are placed


@dataclass(frozen=True)
class Kept:
    """Orders that count for lead times: those that came, and the oldest one open; how many are left out."""

    came: tuple[Order, ...]
    oldest_open: Order | None
    younger: int  # open after the oldest open one: no earlier than it, which says nothing of their lead times
    unwritten: int  # without a day of coming though a later one came
    before: int  # placed before the book began


def order_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the orders give: lead times, and deliveries in part."""
    rows = sorted((row for row in records.orders if row.ordered is not None), key=lambda row: (_day(row), row.row))
    book = covered(records, SHEET, [when for row in rows for when in (row.ordered, row.came)])
    if not rows or book is None:
        return ()
    return (_lead_part(records, rows, book, seed), *_part_deliveries(rows, book, seed))


def kept(orders: Sequence[Order], book: Covered) -> Kept:
    """Return the orders, in order of their days, that count for lead times.

    Orders do not overtake: an open one of which a later one came has its day of coming unwritten.
    """
    inside = [row for row in orders if _day(row) >= book.first]
    came = tuple(row for row in inside if row.came is not None)
    last = max((_day(row) for row in came), default=None)
    open_ = [row for row in inside if row.came is None]
    still = [row for row in open_ if last is None or _day(row) >= last]
    oldest = still[0] if still else None
    return Kept(came, oldest, max(len(still) - 1, 0), len(open_) - len(still), len(orders) - len(inside))


def lead_spells(records: Records, found: Kept, book: Covered) -> Spells:
    """Return the lead times in days as they would be on an open road.

    An order marked as held up counts as ready at any time since the road was shut, or since it was ordered where
    no day of a shut road is written; one that came on the day the road opened too, marked or not.
    """
    shut_from, shut_to = shut_days(records, book.first, book.last)
    plain_rows = [row for row in found.came if not row.shut]
    plain_rows += [found.oldest_open] if found.oldest_open is not None else []
    timed = [row for row in plain_rows if _has_clocks(row) and days_since(book.first, _came(row)) not in shut_to]
    dated = [row for row in plain_rows if row not in timed]
    ordered = [days_since(book.first, _day(row)) for row in dated]
    came = [np.nan if row.came is None else float(days_since(book.first, row.came)) for row in dated]
    shift = clock_shift(records, found) or 0.0
    free = lead_times(ordered, came, shut_from, shut_to, (book.last - book.first).days, shift=shift)
    held = [_held(row, book, shut_from, shut_to, shift) for row in found.came if row.shut]
    return joined(free, *(_timed(row, book) for row in timed), *held)


def clock_shift(records: Records, found: Kept) -> float | None:
    """Return the usual clock of coming less that of ordering, in days; None where neither Place nor rows say."""
    return usual_shift(records, SHEET, (row.ordered for row in found.came), (row.came for row in found.came))


def _has_clocks(row: Order) -> bool:
    return isinstance(row.ordered, dt.datetime) and isinstance(row.came, dt.datetime)


def _came(row: Order) -> dt.date:
    assert row.came is not None
    return row.came


def _timed(row: Order, book: Covered) -> Spells:
    """Return the lead time of an order with both clocks."""
    assert isinstance(row.ordered, dt.datetime)
    assert isinstance(row.came, dt.datetime)
    lasted = max((row.came - row.ordered) / DAY, SHORTEST)
    end = dt.datetime.combine(book.last + DAY, dt.time())
    return between([lasted], [lasted], limit=max((end - row.ordered) / DAY, lasted))


def _held(row: Order, book: Covered, shut_from: Sequence[float], shut_to: Sequence[float], shift: float) -> Spells:
    """Return the lead time of an order that was held up: within what is left where a road was shut meanwhile."""
    assert row.ordered is not None
    begin, end = days_since(book.first, row.ordered), days_since(book.first, _came(row))
    met = [shut for shut, opened in zip(shut_from, shut_to, strict=True) if shut <= end and opened > begin]
    low, most = (max(max(met) - begin, 0.0) if met else 0.0), end - begin + shift
    return between([min(low, max(most - 1.0, 0.0))], [max(most, 1.0)])


def _lead_part(records: Records, rows: Sequence[Order], book: Covered, seed: int) -> Part:
    found = kept(rows, book)
    spells = lead_spells(records, found, book)
    used = len(spells)
    part = Part("lead time of orders", SHEET, ROWS, "", rows=len(rows), used=used, cautions=(
        *_left_out(found, rows, book), *_of_clocks(records, found), *_practice(rows),
    ))  # fmt: skip
    law = fitted_or_none(spells, own_seed(seed, LEAD))
    if law is None:
        return replace(part, used=0, cautions=(too_few("lead times", spells, "days"), *part.cautions))
    ended = int(spells.is_over.sum())
    return replace(
        part,
        said=f"{used} of {len(rows)} orders, {book.said()}, {law_said(law)}, 90 % range",
        wholes=(law_whole(LEAD, law, "days"),),
        cautions=(*part.cautions, *law_cautions("lead times", law, ended)),
        panels=law_panels("Lead time", "days", spells, law),
        test_p=law.test.chance if law.test is not None else None,
    )  # fmt: skip


def _left_out(found: Kept, rows: Sequence[Order], book: Covered) -> list[str]:
    """Return what was left out of the lead times, and what counts in a way of its own, in plain sentences."""
    notes = []
    if found.oldest_open is not None:
        day = _day(found.oldest_open)
        notes.append(f"the order of {day.day} {day:%b %Y} had not come as the book ended: it counts as no shorter")
    if found.younger:
        notes.append(f"{found.younger} more open orders say nothing of lead times: none overtakes the oldest")
    if found.unwritten:
        notes.append(
            f"{found.unwritten} of {len(rows)} orders have no day of coming though later ones came: left out;"
            " write the day, or what became of them"
        )
    if found.before:
        notes.append(
            f"{found.before} orders placed before the book began are left out: only the slow ones are in it"
        )
    held = sum(bool(row.shut) for row in found.came)
    if held:
        notes.append(
            f"{held} of {len(rows)} orders were held up by a road or supplier that was shut: they count as ready"
            " at any time before they came; how long roads are shut is a matter of its own"
        )
    if not book.is_stated:
        notes.append("Place does not say from when to when orders were written down: open ones are taken as open"
                     " on the day of the last row")  # fmt: skip
    return notes


def _of_clocks(records: Records, found: Kept) -> tuple[str, ...]:
    """Return a caution where nobody says at what time of the day orders are made and come."""
    if all(_has_clocks(row) for row in found.came) or clock_shift(records, found) is not None:
        return ()
    return (
        "lead times are by dates alone, so that their mean may be off by up to half a day either way: write the"
        " usual clocks of ordering and coming (Place)",
    )


def _practice(rows: Sequence[Order]) -> list[str]:
    """Return how orders are placed, which sets no key: the rule of the base scenario stays."""
    if len(rows) < FEWEST:
        return []
    days = [_day(row) for row in rows]
    gaps = np.diff([day.toordinal() for day in days])
    sizes = [row.cylinders_ordered for row in rows if row.cylinders_ordered is not None]
    low, middle, high = np.quantile(gaps, [0.25, 0.5, 0.75])
    weekday = max(range(7), key=lambda day: sum(each.weekday() == day for each in days))
    often = sum(each.weekday() == weekday for each in days)
    on = f", {often} of them on a {WEEKDAYS[weekday]}" if often >= len(days) / 2 else ""
    of = f", usually of {figure(median(sizes))} cylinders" if sizes else ""
    empties = [row.empties_taken for row in rows if row.empties_taken is not None]
    pairs = [(row.empties_taken, row.cylinders_came) for row in rows
             if row.empties_taken is not None and row.cylinders_came is not None]  # fmt: skip
    taken = f"; {sum(empties)} empties went away" if empties else ""
    if pairs:
        taken += f" for {sum(came for _, came in pairs)} full ones that came where both are written"
    return [
        f"{len(rows)} orders, half of them {figure(low)} to {figure(high)} days after the one before (median"
        f" {figure(middle)}){on}{of}{taken}; review, reorder_point and order_up_to are those of the base scenario"
    ]


def _part_deliveries(rows: Sequence[Order], book: Covered, seed: int) -> tuple[Part, ...]:
    """Return how often an order comes in part, and how much then comes; a caution alone where none did."""
    both = [(row.cylinders_ordered, row.cylinders_came) for row in rows if row.cylinders_ordered
            and row.cylinders_came is not None and row.came is not None]  # fmt: skip
    shares = [came / ordered for ordered, came in both if came < ordered]
    if not both:
        return ()
    if len(both) < FEWEST:
        return (Part("deliveries in part", SHEET, ROWS, "", rows=len(rows), cautions=(
            f"{len(shares)} of {some(len(both), 'order')} came in part: too few for a share, so that nothing is"
            " written",
        )),)  # fmt: skip
    _, middle, high = jeffreys(len(shares), len(both))
    part = Part("deliveries in part", SHEET, ROWS, "", rows=len(rows), used=len(both))
    if not shares:
        return (replace(part, cautions=(
            f"none of {len(both)} orders came in part: it may happen to up to {100 * high:.1f} % of them",
        )),)  # fmt: skip
    draws = share_draws(len(shares), len(both), DRAWS, seed, "part deliveries") * 100
    text, texts = _share_law(shares, seed)
    return (replace(
        part, said=f"{len(shares)} of {len(both)} orders, {book.said()}, Jeffreys' 90 % range",
        numbers=(Number(CHANCE, "%", middle * 100, draws, 0, 100),), wholes=(Whole(SHARE, text, texts),),
        cautions=(
            f"{len(shares)} of {len(both)} orders came in part, {100 * np.mean(shares):.0f} % of them on average;"
            " in the simulation the rest is cancelled",
        ),
    ),)  # fmt: skip


def _share_law(shares: Sequence[float], seed: int) -> tuple[str, tuple[str, ...]]:
    """Return a law of the shares that come of orders in part, and draws of it by Rubin's Bayesian bootstrap.

    Even between two ends with mean and spread of the shares; the mean alone where there is one, or no spread.
    """
    seen = np.array(shares)
    weights = -np.log(uniforms(seed, "part of an order", 0, (DRAWS, len(seen))))
    weights /= weights.sum(axis=1, keepdims=True)
    means = weights @ seen
    spreads = np.sqrt(np.maximum(weights @ seen**2 - means**2, 0))
    drawn = tuple(_even(mean, spread) for mean, spread in zip(means.tolist(), spreads.tolist(), strict=True))
    return _even(float(seen.mean()), float(seen.std())), drawn


def _even(mean: float, spread: float) -> str:
    reach = min(3**0.5 * spread, mean, 1 - mean)
    if reach < 0.005:
        return f"{figure(mean * 100, 3)} %"
    return f"{{uniform: {{low: {figure((mean - reach) * 100, 3)} %, high: {figure((mean + reach) * 100, 3)} %}}}}"


def _day(row: Order) -> dt.date:
    assert row.ordered is not None
    return plain(row.ordered)
