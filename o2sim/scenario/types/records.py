"""Recorded admissions and recorded power cuts as they fall into a run, and what they come to on average.

All that is not drawn: replayed as it was, or repeated by year. Resampled days are drawn in draws/.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import NamedTuple

from o2sim.scenario.types.hospital import DAY_S, Grid, Hospital, PatientClass, Recorded
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.period import REPLAY, RESAMPLE, same_date
from o2sim.scenario.types.spells import Spell, clipped, window_spells
from o2sim.scenario.types.stages import stages

DAY_ORDINALS = 10**5  # patients of a drawn or repeated day are numbered from its date times this


class Placed(NamedTuple):
    """A recorded patient in a run; arrival_s from the start of the warm-up, negative for one present by then."""

    arrival_s: int
    ordinal: int
    flow_ml_min: int
    need_s: int


def placed(recorded: Recorded, start: dt.date, warm_up_s: int, end_s: int) -> tuple[Placed, ...]:
    """Return the patients of a register that a run meets, in order, where it is replayed or repeated by year.

    Of those who arrive before the run only those whose stay reaches into it.
    """
    days: dict[int, list[int]] = {-1: list(range(recorded.present))}
    for place in range(recorded.present, len(recorded.arrival_s)):
        days.setdefault(recorded.arrival_s[place] // DAY_S, []).append(place)
    found = []
    for shift, taken, own in _days_taken(recorded, start, warm_up_s, end_s, max(recorded.need_s, default=0)):
        for nth, place in enumerate(days.get(taken, ())):
            arrival_s = recorded.arrival_s[place] + shift * DAY_S + warm_up_s
            if arrival_s < end_s and arrival_s + recorded.need_s[place] > 0:
                date = start.toordinal() + shift + taken
                ordinal = place if own else date * DAY_ORDINALS + nth
                found.append(Placed(arrival_s, ordinal, recorded.flow_ml_min[place], recorded.need_s[place]))
    return tuple(sorted(found))


def _days_taken(
    record: Recorded | Grid, start: dt.date, warm_up_s: int, end_s: int, longest_s: int
) -> Iterator[tuple[int, int, bool]]:
    """Yield (days from midnight of `start` to where day 0 would fall, recorded day, whether it is its own date).

    Recorded day -1 stands for those present when the book begins. A run that begins within the period meets them;
    one that begins outside meets repeated days instead, from as long before the run as the longest stay, since who
    came then may still be there.
    """
    first, days = record.first_day, record.days
    begin, last = -warm_up_s // DAY_S, (end_s - warm_up_s - 1) // DAY_S
    if record.use == REPLAY or first <= begin < first + days:
        yield from ((first, day, True) for day in range(-1, days))
        begin = last + 1 if record.use == REPLAY else first + days
    else:
        begin -= longest_s // DAY_S + 1
    for day in range(begin, last + 1):
        if first <= day < first + days:
            yield first, day - first, True
        else:
            taken = same_date(start + dt.timedelta(days=first), days, start + dt.timedelta(days=day))
            yield day - taken, taken, False


def listed_cuts(hospital: Hospital) -> tuple[Spell, ...]:
    """Return the cuts of load shedding and of a recorded list, in s from the start of the warm-up.

    Without those of recorded days that are drawn (draws/cuts.py).
    """
    windows = hospital.power.load_shedding if hospital.power else ()
    planned = window_spells(windows, hospital.start, hospital.warm_up_s, hospital.end_s)
    grid = hospital.grid
    if grid is None or grid.use == RESAMPLE:
        return planned
    return clipped([*planned, *_placed_cuts(grid, hospital)], hospital.end_s)


def _placed_cuts(grid: Grid, hospital: Hospital) -> Iterator[Spell]:
    """Yield recorded cuts where they fall, in s from the start of the warm-up, some of them outside the run."""
    zero_s = hospital.warm_up_s
    if grid.use == REPLAY:
        yield from ((zero_s + start_s, zero_s + end_s) for start_s, end_s in grid.cuts)
        return
    days = cuts_by_day(grid)
    longest_s = max((end_s - start_s for start_s, end_s in grid.cuts), default=0)
    for shift, taken, _ in _days_taken(grid, hospital.start, zero_s, hospital.end_s, longest_s):
        for start_s, end_s in days.get(taken, ()):
            from_s = zero_s + (shift + taken) * DAY_S
            yield from_s + start_s, from_s + end_s


def cuts_by_day(grid: Grid) -> dict[int, list[Spell]]:
    """Return the recorded cuts that begin on each recorded day, from 0, in s from its midnight."""
    found: dict[int, list[Spell]] = {}
    for start_s, end_s in grid.cuts:
        day = start_s // DAY_S
        found.setdefault(day - grid.first_day, []).append((start_s - day * DAY_S, end_s - day * DAY_S))
    return found


def grid_share(hospital: Hospital) -> float:
    """Return the share of time the grid is up: in the long run by itself, in the horizon by plan and by record.

    Of a record whose days are drawn, the record's own share, apart from load shedding.
    """
    grid, share = hospital.grid, 1.0
    if grid is not None and grid.never_on:
        return 0.0
    if grid is not None and grid.up_s is not None and grid.down_s is not None:
        up_s, down_s = law_mean(grid.up_s), law_mean(grid.down_s)
        share = up_s / (up_s + down_s) if up_s + down_s > 0 else 1.0
    elif grid is not None and grid.use == RESAMPLE:
        share = share_recorded(grid)
    listed, from_s = listed_cuts(hospital), hospital.counted_from_s
    return share * (
        1 - sum(end - max(start, from_s) for start, end in listed if end > from_s) / hospital.horizon_s
    )


def share_recorded(grid: Grid) -> float:
    """Return the share of its own period in which a record, as scaled, has power."""
    zero_s, whole_s = grid.first_day * DAY_S, grid.days * DAY_S
    inside = clipped(((start - zero_s, end - zero_s) for start, end in grid.cuts), whole_s)
    return 1 - sum(end - start for start, end in inside) / whole_s


def mean_cut_s(grid: Grid) -> float:
    """Return the mean length of a cut of the grid, by its law or its record; 0 where it has none."""
    if grid.down_s is not None:
        return law_mean(grid.down_s)
    return sum(end - start for start, end in grid.cuts) / len(grid.cuts) if grid.cuts else 0.0


def at_once(hospital: Hospital, kind: PatientClass) -> float:
    """Return the mean number of a class in need at once, all recognised; of a replayed register in the horizon."""
    if kind.recorded is None:
        return sum(stage.at_once for stage in stages(kind))
    return sum(share for share, _ in _shares(hospital, kind.recorded))


def flow_needed(hospital: Hospital, kind: PatientClass) -> float:
    """Return the mean flow (mL/min) that a class needs, all recognised; of a replayed register in the horizon."""
    if kind.recorded is None:
        return sum(stage.at_once * law_mean(stage.flow_ml_min) for stage in stages(kind))
    return sum(share * flow_ml_min for share, flow_ml_min in _shares(hospital, kind.recorded))


def _shares(hospital: Hospital, recorded: Recorded) -> Iterator[tuple[float, int]]:
    """Yield (share of time in need, flow) of each patient: of a horizon, or of the record where days are drawn."""
    if recorded.use == RESAMPLE:
        for place in range(recorded.present, len(recorded.arrival_s)):
            yield recorded.need_s[place] / (recorded.days * DAY_S), recorded.flow_ml_min[place]
        return
    for each in placed(recorded, hospital.start, hospital.warm_up_s, hospital.end_s):
        from_s = max(each.arrival_s, hospital.counted_from_s)
        inside_s = min(each.arrival_s + each.need_s, hospital.end_s) - from_s
        yield max(0, inside_s) / hospital.horizon_s, each.flow_ml_min
