"""The books of patients of a drawn hospital: who was on oxygen, all admissions, totals, counts at midnight."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.stats import binom, poisson

from o2sim.draws.season import cumulative
from o2sim.outcome import DAILY_COLUMNS
from o2sim.records.rows import ENDED, NOT_TWICE, SENT_ON, TWICE, Admissions, Midnight, MonthTotal, Stay, When
from o2sim.scenario.types.hospital import DAY_S

if TYPE_CHECKING:
    from drawn_hospital import History, Thin

DAY = dt.timedelta(days=1)
SPO2_WRITTEN = 0.85  # of all admissions
EMPTIED = ("cylinder emptied", "cylinder sent part-used", "bank taken off")  # go to the empties
LEFT = ("patient leaves", "patient sent on")
FULL_STEPS = {"cylinder opened": "other", "back-up brought": "other", "delivery": "value"}  # say how many are left


def books(history: History, thin: Thin) -> dict[str, list[Any]]:
    """Return the rows by field of Records; their numbers are not set."""
    return {
        "stays": stays(history, thin),
        "admissions": admissions(history),
        "months": months(history),
        "midnights": midnights(history),
    }


def spans(history: History) -> list[tuple[int, int, int, str | None]]:
    """Return patient, begin and end in s, and how they left, of all on oxygen within the books; in order.

    end is that of the history for whoever is still on. Who was sent elsewhere on arrival is not among them.
    """
    turned_away = {entry.item for entry in history.entries("patient transferred")}
    left = {entry.item: entry for entry in reversed(history.entries(*LEFT))}
    found = []
    for entry in history.entries("patient arrives"):
        end = left.get(entry.item)
        end_s = history.end_s if end is None else end.time_s
        if entry.item not in turned_away and end_s > history.begin_s:
            how = None if end is None else ENDED if end.step == LEFT[0] else SENT_ON
            found.append((entry.item, entry.time_s, end_s, how))
    return found


def stays(history: History, thin: Thin) -> list[Stay]:
    """Return the register: whoever began on oxygen within the books, and is on a page that is not missing."""
    began = [span for span in spans(history) if history.inside(span[1])]
    luck = history.luck("stays", (len(began), 6))
    rows: list[Stay] = []
    for (number, begin_s, end_s, how), u in zip(began, luck, strict=True):
        if thin.lost((begin_s - history.begin_s) // DAY_S):
            continue
        row = _stay(history, thin, number, (begin_s, end_s, how), u)
        rows += [row] + [replace(row, twice=TWICE)] * bool(u[4] < thin.repeated)
    return _kept_apart(rows)


def _stay(
    history: History, thin: Thin, number: int, span: tuple[int, int, str | None], u: Sequence[float]
) -> Stay:
    begin_s, end_s, how = span
    table = history.state.table
    begin, end = history.when(begin_s), history.when(end_s)
    if u[3] < thin.whole_days:
        end = begin + (end.date() - begin.date())  # the day was known, and the clock copied
    spo2 = (70 + 19 * u[5] ** 0.5) if table.need_s[number] > 0 else 90 + 8 * u[5]
    return Stay(
        0,
        came_on=begin.date(),
        at=begin.time() if thin.clock else None,
        class_=history.hospital.patients[table.class_index[number]].name,
        spo2_percent=None if u[1] < thin.no_spo2 else float(int(spo2)),
        begun=written(begin, thin),
        flow_ml_min=None if u[2] < thin.no_flow else marked(table.flow_ml_min[number], thin),
        ended=None if how is None or u[0] < thin.no_end else written(end, thin),
        still_on=True if how is None else None,
        left_how=None if u[0] < thin.no_end else how,
    )


def written(when: dt.datetime, thin: Thin) -> When:
    """Return a time as it is written; a spreadsheet takes midnight for a date without a clock."""
    return when if thin.clock and when.time() != dt.time() else when.date()


def marked(flow_ml_min: int, thin: Thin) -> float:
    """Return a flow as it is read from the flowmeter: to the nearest mark, the first at least."""
    mark = thin.marks_l_min * 1_000
    return max(1, round(flow_ml_min / mark)) * mark if mark else float(flow_ml_min)


def _kept_apart(rows: list[Stay]) -> list[Stay]:
    """Say of two patients who agree in all that is written that they are two."""
    seen, found = set(), []
    for row in rows:
        key = (row.came_on, row.at, row.class_, row.begun, row.flow_ml_min, row.ended, row.spo2_percent)
        found.append(replace(row, twice=NOT_TWICE) if key in seen and row.twice is None else row)
        seen.add(key)
    return found


def usual_clocks(history: History) -> tuple[dt.time, dt.time] | None:
    """Return the mean times of day at which oxygen was begun and ended."""
    return mean_clocks([(begin_s, end_s) for _, begin_s, end_s, how in spans(history) if how is not None])


def mean_clocks(both_s: Sequence[tuple[int, int]]) -> tuple[dt.time, dt.time] | None:
    """Return the mean times of day of beginnings and of ends, None without any."""
    if not both_s:
        return None
    means = np.mean(np.array(both_s) % DAY_S, axis=0)
    start, end = ((dt.datetime.min + dt.timedelta(minutes=float(each) // 60)).time() for each in means)
    return start, end


def admissions(history: History) -> list[Admissions]:
    """Return all who were admitted, month by month and class by class, oximeter readings among them.

    Who needs oxygen, recognised or not, is of the history; the others, by the rates of the scenario, are drawn
    here. Readings are of a part of all, whatever they show.
    """
    rows = []
    months = history.months()
    for place, kind in enumerate(history.hospital.patients):
        luck = history.luck(f"admissions {kind.name}", (len(months), 3))
        for month, u in zip(months, luck, strict=True):
            low_s, high_s, _ = _within(history, month)
            needing = _needing(history, place, low_s, high_s)
            edges = np.array([low_s, high_s]) / DAY_S
            weight = float(np.diff(cumulative(edges, kind.season, history.hospital.start))[0])
            mean = kind.admissions_per_day * (1 - kind.hypoxaemic) * weight
            others = int(poisson.ppf(u[0], mean)) if mean > 0 else 0
            below, above = (
                int(binom.ppf(luck_, count, SPO2_WRITTEN)) if count else 0
                for luck_, count in ((u[1], needing), (u[2], others))
            )
            rows.append(Admissions(0, month, kind.name, needing + others, below + above, below))
    return rows


def _needing(history: History, place: int, low_s: int, high_s: int) -> int:
    """Return how many of a class came within a time and need oxygen, those whom nobody recognises too."""
    sample = history.draws.sample(history.hospital)
    parts = (sample.rows, sample.unrecognised)
    return sum(
        int(
            np.sum(
                (part["class_index"] == place) & (part["need_s"] > 0)
                & (part["arrival_s"] >= low_s) & (part["arrival_s"] < high_s)
            )
        )
        for part in parts
    )  # fmt: skip


def _within(history: History, month: dt.date) -> tuple[int, int, int]:
    """Return begin and end of a month in s, and its days."""
    low = (month - history.hospital.start).days
    days = ((month + 32 * DAY).replace(day=1) - month).days
    return low * DAY_S, (low + days) * DAY_S, days


def months(history: History) -> list[MonthTotal]:
    """Return patients and patient-days by class, and in a row of no class cylinders emptied and bare days."""
    table, rows = history.state.table, []
    all_ = spans(history)
    shelf = bare_days(history)
    for month in history.months():
        low_s, high_s, days = _within(history, month)
        ends = range(low_s + DAY_S, high_s + DAY_S, DAY_S)
        for place, kind in enumerate(history.hospital.patients):
            mine = [(begin, end) for number, begin, end, _ in all_ if table.class_index[number] == place]
            begun = sum(low_s <= begin < high_s for begin, _ in mine)
            at_midnights = sum(begin < each < end for begin, end in mine for each in ends)
            at_midnights += sum(end == history.end_s == high_s and begin < end for begin, end in mine)
            rows.append(MonthTotal(0, month, kind.name, begun, float(at_midnights)))
        if history.state.store is not None:
            used = emptied(history, low_s, high_s)
            bare = sum(day in shelf for day in range(low_s // DAY_S, low_s // DAY_S + days))
            rows.append(MonthTotal(0, month, None, cylinders_emptied=used, days_shelf_bare=bare))
    return rows


def emptied(history: History, low_s: int, high_s: int) -> int:
    """Return how many cylinders went to the empties within a time."""
    inside = (entry for entry in history.entries(*EMPTIED) if low_s <= entry.time_s < high_s)
    return sum(entry.other if entry.step == "bank taken off" else 1 for entry in inside)


def bare_days(history: History) -> set[int]:
    """Return the days (from the start of the history) on which no full cylinder was left at some time."""
    full = DAILY_COLUMNS.index("full")
    found = {day for day, row in enumerate(history.state.daily) if row[full] == 0}
    for entry in history.entries(*FULL_STEPS):
        if getattr(entry, FULL_STEPS[entry.step]) == 0:
            found.add(entry.time_s // DAY_S)
    return found


def midnights(history: History) -> list[Midnight]:
    """Return the counts at the midnights that end each day but the last."""
    unserved, on_units = (history.daily(DAILY_COLUMNS.index(name)) for name in ("unserved", "on_concentrator"))
    all_ = np.array([span[1:3] for span in spans(history)]).reshape(-1, 2)
    rows = []
    for day in range(1, history.days):
        midnight_s = history.begin_s + day * DAY_S
        there = int(np.sum((all_[:, 0] < midnight_s) & (midnight_s < all_[:, 1])))
        waiting = int(unserved[day])
        date = history.first + (day - 1) * DAY
        rows.append(Midnight(0, date, there - waiting, there - waiting - int(on_units[day]), waiting))
    return rows
