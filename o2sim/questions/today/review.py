"""How good the forecasts of a log were: each beside the counts that came later."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from o2sim.looks.blocks import Block, Points, Strong, Table
from o2sim.looks.words import number
from o2sim.questions.today.log import Entry
from o2sim.statistics import scores
from o2sim.statistics.fitting.luck import uniforms
from o2sim.typed import Count, item

FEWEST = 5  # pairs: fewer say nothing
SEED = 1
NOON = 12


@dataclass(frozen=True)
class AtDistance:
    """The forecasts so many days ahead."""

    days_ahead: Count = item()
    pairs: Count = item("of a forecast and a later count")
    inside_50: Count = item("counts within the middle 50 % of their forecasts")
    inside_90: Count = item("counts within the middle 90 %")
    crps: float = item("mean score of the forecasts, in cylinders: 0 is the best")
    crps_as_today: float = item("of a forecast that nothing changes")


@dataclass(frozen=True)
class Review:
    """How good the forecasts of full cylinders were."""

    counts: Count = item("in the log")
    pairs: Count = item(
        "of a forecast and a later count; the first and last count of a day are counts like any other"
    )
    enough: bool = item(f"false with under {FEWEST} pairs, which say nothing")
    inside_50: Count = item()
    inside_90: Count = item()
    crps: float | None = item()
    crps_as_today: float | None = item()
    by_days_ahead: tuple[AtDistance, ...] = item()
    skipped: tuple[str, ...] = item("lines that could not be read")


@dataclass(frozen=True)
class _Pair:
    days: int
    rank: float
    crps: float
    naive: float


def review(entries: Sequence[Entry], skipped: Sequence[str]) -> Review:
    """Return the scores of all pairs of a forecast and a later count of the same scenario.

    A count stands beside the forecast of the midnight nearest to it. Ranks are randomised, so that whole numbers
    are even (Czado, Gneiting & Held 2009).
    """
    pairs = _pairs(entries)
    by_days = {days: [each for each in pairs if each.days == days] for days in sorted({e.days for e in pairs})}
    return Review(
        counts=len(entries),
        pairs=len(pairs),
        enough=len(pairs) >= FEWEST,
        inside_50=_inside(pairs, 0.5),
        inside_90=_inside(pairs, 0.9),
        crps=float(np.mean([each.crps for each in pairs])) if pairs else None,
        crps_as_today=float(np.mean([each.naive for each in pairs])) if pairs else None,
        by_days_ahead=tuple(
            AtDistance(
                days,
                len(found),
                _inside(found, 0.5),
                _inside(found, 0.9),
                float(np.mean([each.crps for each in found])),
                float(np.mean([each.naive for each in found])),
            )
            for days, found in by_days.items()
        ),
        skipped=tuple(skipped),
    )


def _pairs(entries: Sequence[Entry]) -> list[_Pair]:
    couples = _couples(entries)
    luck = uniforms(SEED, "review of today's log", 0, (len(couples), 2)) if couples else ()
    found: list[_Pair] = []
    for (earlier, later, ends), (place, within) in zip(couples, luck, strict=True):
        law = earlier.forecast[ends]
        sample = np.repeat(list(law), list(law.values()))
        rank = scores.rank(sample, later.full, place, within)
        days = (ends - earlier.counted.date()).days + 1
        found.append(_Pair(days, rank, scores.crps(sample, later.full), abs(later.full - earlier.full)))
    return found


def _couples(entries: Sequence[Entry]) -> list[tuple[Entry, Entry, dt.date]]:
    """Return each count with each later one of its scenario, and the day whose end it is laid beside.

    A log of years has many counts, and few of them within the days of one forecast.
    """
    by_day = defaultdict(list)
    for each in entries:
        by_day[each.scenario, _day_ended(each.counted)].append(each)
    return [
        (earlier, later, ends)
        for earlier in entries
        for ends in sorted(earlier.forecast)
        for later in by_day.get((earlier.scenario, ends), ())
        if later.counted > earlier.counted
    ]


def _day_ended(counted: dt.datetime) -> dt.date:
    """Return the day whose ending midnight is nearest to a count."""
    return counted.date() - dt.timedelta(days=counted.hour < NOON)


def _inside(pairs: Sequence[_Pair], share: float) -> int:
    return scores.inside([each.rank for each in pairs], share)


def content(found: Review) -> list[Block]:
    """Return what is to be said of the forecasts."""
    blocks: list[Block] = [Strong(_lead(found))]
    if found.enough:
        rows = tuple(
            (f"{each.days_ahead}", f"{each.pairs}", f"{each.inside_50}", f"{each.inside_90}", number(each.crps),
             number(each.crps_as_today))
            for each in found.by_days_ahead
        )  # fmt: skip
        heads = ("Days ahead", "pairs", "within 50 %", "within 90 %", "score", "score of “as today”")
        note = (
            "Score: how far a forecast is from the count on average, in cylinders, its doubt included (continuous "
            "ranked probability score; 0 is the best). A count is laid beside the nearest midnight. Forecasts go "
            "by the reorder rule: what was ordered otherwise counts against them. Pairs share counts and "
            "forecasts, so they are worth fewer than they are."
        )
        blocks.append(Table(heads, rows, note))
    if found.skipped:
        blocks.append(Points(found.skipped, "Lines that could not be read:"))
    return blocks


def _lead(found: Review) -> str:
    counts = f"{found.counts} count{'' if found.counts == 1 else 's'} in the log"
    if not found.enough or found.crps is None or found.crps_as_today is None:
        pairs = f"{found.pairs} pair{'' if found.pairs == 1 else 's'}"
        return (
            f"{counts}, {pairs} of a forecast and a later count: too few to say how good forecasts are; {FEWEST} "
            "are needed."
        )
    share_50, share_90 = (round(100 * each / found.pairs) for each in (found.inside_50, found.inside_90))
    better = "closer than" if found.crps < found.crps_as_today else "no closer than"
    return (
        f"Of {found.pairs} later counts {share_50} % lay within the middle 50 % of their forecasts and "
        f"{share_90} % within 90 %; forecasts were {better} taking it to stay as it was ("
        f"{number(found.crps)} against {number(found.crps_as_today)} cylinders)."
    )
