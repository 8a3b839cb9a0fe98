"""Shut roads: how often and for how long, and the season in which they are, where they keep to one."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from dataclasses import replace

import numpy as np
from scipy.special import betaincinv

from o2sim.draws.season import SEASON_DAYS
from o2sim.fits.covered import DAY, Covered, covered
from o2sim.fits.found import DRAWS, ROWS, Part, Whole
from o2sim.fits.law_panels import law_panels
from o2sim.fits.law_text import (
    fitted_or_none,
    law_cautions,
    law_said,
    law_text,
    law_with_ranges,
    own_seed,
    plain,
    range_text,
    some,
    too_few,
)
from o2sim.fits.supply.clock import days_since
from o2sim.records.books import Records
from o2sim.statistics.fitting.laws import moment
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.season import hours_of_day
from o2sim.statistics.fitting.shares import jeffreys
from o2sim.statistics.fitting.spells import Spells, between, joined
from o2sim.statistics.fitting.whole import Fitted

SHEET, KEY = "Road shut", "resupply.road_closures"
FEWEST = 4  # closures, below which no season is looked for
LEVEL = 0.05  # of the test for a season: common practice
MARGIN_DAYS = 14  # of a season before its first closure and after its last: assumption
OVERLAP = 0.05  # of the time by which closures that meet would be longer than those drawn
_DATE = re.compile(r"(from|to): (\d{4})-(\d{2})-(\d{2})")


def shut_days(records: Records, first: dt.date, last: dt.date) -> tuple[list[float], list[float]]:
    """Return first day shut and day opened again of each closure, as days since `first`, apart and in order.

    One without an end is shut beyond `last`.
    """
    spans: list[tuple[float, float]] = []
    for row in sorted(records.roads_shut, key=lambda row: row.begin or dt.date.min):
        if row.begin is None:
            continue
        end = (last - first).days + 2 if row.end is None else days_since(first, row.end) + 1
        begin = days_since(first, row.begin)
        if spans and begin <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((begin, end))
    return [float(a) for a, _ in spans], [float(b) for _, b in spans]


def road_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the days of shut roads give: chance a day, length, and season."""
    rows = [row for row in records.roads_shut if row.begin is not None]
    book = covered(records, SHEET, [when for row in rows for when in (row.begin, row.end)])
    if book is None:
        return ()
    part = Part("shut roads", SHEET, ROWS, "", rows=len(rows), used=len(rows))
    if not rows:
        if not book.is_stated or not _kept_for_roads(records):
            return ()
        return (replace(part, cautions=(
            f"no shut road in {book.days} days ({book.said()}): with 95 % certainty fewer than one in"
            f" {plain(book.days / 3, 2)} days; how long one lasts is not known",
        )),)  # fmt: skip
    if not book.is_stated:
        return (replace(part, used=0, cautions=(
            f"{some(len(rows), 'closure')}, but Place does not say from when to when they were written down: how"
            " often they come is not known",
        )),)  # fmt: skip
    spells = closures(records, book)
    law = fitted_or_none(spells, own_seed(seed, KEY))
    if law is None:
        often = f"{some(len(spells), 'closure')} in {book.days} days"
        return (replace(part, used=0, cautions=(f"{often}; {too_few('closures', spells, 'days')}",)),)
    return (_part(part, records, book, spells, law, seed),)


def _kept_for_roads(records: Records) -> bool:
    """Return whether Place names the book of roads: an empty sheet that nobody kept says nothing."""
    return any(row.sheet == SHEET and row.kept_from is not None for row in records.places)


def closures(records: Records, book: Covered) -> Spells:
    """Return how long roads are shut, in days, to the nearest day; one that is still shut is not over."""
    begins, ends = shut_days(records, book.first, book.last)
    past = float((book.last - book.first).days + 1)
    found = []
    for begin, end in zip(begins, ends, strict=True):
        if end > past:
            found.append(between([past - begin], [np.inf], max(-begin, 0.0), past - begin))
        else:
            lasted = end - begin
            low = max(lasted - 0.5, -begin, 0.0)
            found.append(between([low], [max(lasted + 0.5, low + 0.5)], max(-begin, 0.0), past - begin))
    return joined(*found)


def season(begins: list[float], book: Covered) -> tuple[dt.date, dt.date] | None:
    """Return the first and last day of the season in which roads are shut, in the last year of the book.

    None where closures are too few, or do not gather in a time of the year (Rayleigh's test), or in a book of less
    than a year, which cannot say so.
    """
    starts = [book.first + DAY * int(begin) for begin in begins if begin >= 0]
    if len(starts) < FEWEST or book.days < 360:
        return None
    angles = np.array([(day - dt.date(day.year, 1, 1)).days for day in starts]) * 24 / SEASON_DAYS
    circle = hours_of_day(angles)
    if circle.chance >= LEVEL:
        return None
    away = ((angles - circle.hour + 12) % 24 - 12) * SEASON_DAYS / 24
    peak = dt.date(book.last.year, 1, 1) + DAY * round(circle.hour * SEASON_DAYS / 24)
    first, last = peak + DAY * (int(away.min()) - MARGIN_DAYS), peak + DAY * (int(away.max()) + MARGIN_DAYS)
    return (first, last) if (last - first).days < 300 else None


def _part(part: Part, records: Records, book: Covered, spells: Spells, law: Fitted, seed: int) -> Part:
    """Return the part with its key: chance a day by Jeffreys over the days on which the road was open."""
    begins, ends = shut_days(records, book.first, book.last)
    when = season(begins, book)
    open_days = [day for day in range(len(book.is_covered)) if book.is_covered[day]
                 and not any(a < day < b for a, b in zip(begins, ends, strict=True))
                 and (when is None or _in_season(book.first + DAY * day, when))]  # fmt: skip
    starts = sum(begin >= 0 for begin in begins)
    _, middle, _ = jeffreys(starts, max(len(open_days), starts))
    luck = uniforms(seed, "chance of a shut road", 0, DRAWS)
    chances = betaincinv(starts + 0.5, max(len(open_days), starts) - starts + 0.5, luck)
    window = "" if when is None else f"from: {when[0]}, to: {when[1]}, "
    best = law_with_ranges(law.fits[0].law, law.own, "days")
    likely = range_text(chances * 100, middle * 100, "%", 0, 100)
    draws = tuple(_entry(window, f"{plain(chance * 100)} %", law_text(each, "days"))
                  for chance, each in zip(chances.tolist(), law.draws, strict=True))  # fmt: skip
    return replace(
        part, wholes=(Whole(KEY, _entry(window, likely, best), draws),),
        said=(
            f"{some(starts, 'closure')}, {book.said()}, {len(open_days)} days at risk, lengths {law_said(law)},"
            " 90 % range"
        ),
        cautions=(*_doubts(starts, book, when, middle, law),
                  *law_cautions("closures", law, int(spells.is_over.sum()))),
        panels=law_panels("Length of a closure", "days", spells, law),
        test_p=law.test.chance if law.test is not None else None,
    )  # fmt: skip


def _entry(window: str, chance: str, length: str) -> str:
    return f"[{{{window}chance_per_day: {chance}, length: {length}}}]"


def _doubts(
    starts: int, book: Covered, when: tuple[dt.date, dt.date] | None, chance: float, law: Fitted
) -> list[str]:
    found = []
    if when is not None:
        found.append(
            f"the {starts} closures fall from {when[0].day} {when[0]:%b} to {when[1].day} {when[1]:%b}, two weeks"
            " allowed on either side: roads are taken as open in the rest of the year"
        )
    elif book.days < 360:
        found.append(f"shut roads: the book covers {book.days} days; a season of closures cannot be read from it")
    meet = float(np.expm1(chance * moment(law.fits[0].law)) / (chance * moment(law.fits[0].law))) - 1
    if meet > OVERLAP:
        found.append(
            f"shut roads: in the simulation closures may meet, which makes them {100 * meet:.0f} % longer on"
            " average than those of the book"
        )
    return found


def _in_season(day: dt.date, when: tuple[dt.date, dt.date]) -> bool:
    """Return whether a day lies in a season, whatever its year."""
    return (day - when[0]).days % SEASON_DAYS <= (when[1] - when[0]).days


def in_run(text: str, first: dt.date, last: dt.date) -> str:
    """Return closures with their season moved into a run from one day to another, once for each of its years.

    text: of this part. One without dates, or a run that its season does not meet, stays as it is.
    """
    dates = {name: dt.date(int(y), int(m), int(d)) for name, y, m, d in _DATE.findall(text)}
    if len(dates) < 2:
        return text
    begin, end = dates["from"], dates["to"]
    entry = text.strip()[1:-1]
    moved = []
    for year in range(first.year - 1, last.year + 2):
        at = _in_year(begin, year)
        to = at + (end - begin)
        if at <= last and to >= first:
            moved.append(_DATE.sub(r"\1: {\1}", entry).replace("{from}", f"{at}").replace("{to}", f"{to}"))
    return f"[{', '.join(moved)}]" if moved else text


def _in_year(day: dt.date, year: int) -> dt.date:
    """Return the same date of another year; 28 February for a 29th that it lacks."""
    return dt.date(year, day.month, min(day.day, calendar.monthrange(year, day.month)[1]))
