"""Registers and records of cuts as they fall into a run, worked by hand, and drawn days against the record."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from synthetic import ADULTS, hospital

from o2sim.draws import Draws
from o2sim.draws.season import mean_need
from o2sim.planning.figures import planning_figures
from o2sim.scenario.types.hospital import DAY_S, Grid, Hospital, Power, Recorded, Window
from o2sim.scenario.types.period import same_date
from o2sim.scenario.types.records import grid_share, placed

HOUR = 3_600
START = dt.date(2027, 1, 1)
BOOK = Recorded(  # ten days from 30 December on; the first lay there before the book began
    "replay",
    -2,
    10,
    (-10 * HOUR, 2 * HOUR, 40 * HOUR, 2 * DAY_S, 60 * HOUR, 9 * DAY_S),
    (1_000, 2_000, 3_000, 4_000, 5_000, 6_000),
    (70 * HOUR, 46 * HOUR, 9 * HOUR, HOUR, 30 * HOUR, 48 * HOUR),
)


def rules(recorded: Recorded | None = None, grid: Grid | None = None, **times: int) -> Hospital:
    """Return a hospital from START on with one class of a register, or with a record of cuts."""
    patients = (
        (ADULTS,) if recorded is None else (replace(ADULTS, recorded=recorded, recognised=1.0, season=None),)
    )
    return replace(hospital(), **{"start": START, "warm_up_s": 0, **times}, patients=patients, grid=grid)


def rows(of: Hospital, replication: int = 0) -> list[tuple[int, ...]]:
    """Return (arrival, flow, need, whether present at the start) of each patient."""
    table = Draws(3, replication).patients(of)
    there = [number in table.present for number in range(len(table))]
    return list(zip(table.arrival_s, table.flow_ml_min, table.need_s, there, strict=True))


def test_who_came_before_the_run_is_present_with_what_is_left() -> None:
    """Of six rows two reach into 1 January, one ends at its first second, and the others come later."""
    found = rows(rules(BOOK, horizon_s=7 * DAY_S))
    assert found == [
        (0, 1_000, 12 * HOUR, True),
        (0, 3_000, HOUR, True),
        (0, 4_000, HOUR, False),
        (12 * HOUR, 5_000, 30 * HOUR, False),
    ]
    need = Draws(3, 0).need(rules(BOOK, horizon_s=7 * DAY_S))
    assert (need.arrivals, need.patients, need.seconds) == ((2,), (4,), 44 * HOUR)


def test_a_warm_up_before_the_book_meets_those_present_when_they_came() -> None:
    """With four days of warm-up the first arrives 38 hours into it, by its own row."""
    found = rows(rules(BOOK, horizon_s=7 * DAY_S, warm_up_s=4 * DAY_S))
    assert found[0] == (2 * DAY_S - 10 * HOUR, 1_000, 70 * HOUR, False)
    assert len(found) == 5


def test_resampled_days_have_nobody_who_was_there_before() -> None:
    """The row before the book began is drawn on no day."""
    days = replace(BOOK, use="resample")
    flows = {row[1] for row in rows(rules(days, horizon_s=300 * DAY_S))}
    assert flows == {2_000, 3_000, 4_000, 5_000, 6_000}


@pytest.mark.parametrize(
    ("first", "days", "date", "taken"),
    [
        ("2024-01-01", 731, "2026-06-01", "2025-06-01"),  # the latest year
        ("2024-07-01", 500, "2026-12-01", "2024-12-01"),  # the latest that has it
        ("2024-01-01", 731, "2023-03-01", "2025-03-01"),  # also before the record
        ("2024-01-01", 731, "2028-02-29", "2024-02-29"),  # the only one
        ("2025-01-01", 365, "2028-02-29", "2025-02-28"),  # none
    ],
)
def test_a_date_takes_the_recorded_day_of_the_same_date(first: str, days: int, date: str, taken: str) -> None:
    """Of the latest recorded year that has it."""
    begin = dt.date.fromisoformat(first)
    assert begin + dt.timedelta(days=same_date(begin, days, dt.date.fromisoformat(date))) == dt.date.fromisoformat(
        taken
    )


YEAR = Recorded(  # of 2026: one in the last hours of the year, one on each of two days of January
    "repeat by year", -365, 365,
    (HOUR, DAY_S + HOUR, 364 * DAY_S + 20 * HOUR), (1_000, 2_000, 3_000), (HOUR, HOUR, 10 * HOUR),
)  # fmt: skip


def test_a_repeated_year_comes_again_with_who_was_there() -> None:
    """Two years later the patient of the last evening is there on New Year's morning, and again a year on."""
    later = replace(YEAR, first_day=-365 - 365)
    expected = [(0, 3_000, 6 * HOUR, True), (HOUR, 1_000, HOUR, False), (DAY_S + HOUR, 2_000, HOUR, False)]
    assert rows(rules(later, horizon_s=5 * DAY_S)) == rows(rules(YEAR, horizon_s=5 * DAY_S)) == expected
    both = placed(YEAR, START, 0, 400 * DAY_S)
    assert [each.arrival_s for each in both] == [
        -4 * HOUR, HOUR, DAY_S + HOUR, 364 * DAY_S + 20 * HOUR, 365 * DAY_S + HOUR, 366 * DAY_S + HOUR
    ]  # fmt: skip
    assert len({each.ordinal for each in both}) == 6


def test_a_run_that_begins_in_the_period_is_replayed_and_then_repeated() -> None:
    """The book ends on 2 January 2027: its last evening as it was, then 3 January and on as a year before."""
    begun = replace(YEAR, first_day=-363)
    assert [row[0] for row in rows(rules(begun, horizon_s=5 * DAY_S))] == [
        DAY_S + 20 * HOUR, 2 * DAY_S + HOUR, 3 * DAY_S + HOUR
    ]  # fmt: skip


def test_the_need_of_a_day_is_that_of_its_rows() -> None:
    """By hand, in mL/min x s, of the first three days; the figures for planning are those of the same days."""
    of = rules(BOOK, horizon_s=7 * DAY_S)
    day_1 = 12 * 1_000 + 3_000 + 4_000 + 12 * 5_000
    assert mean_need(of) == [day_1 * HOUR, 18 * 5_000 * HOUR, 0, 0, 0, 0, 0]
    figures = planning_figures(of)
    assert figures.peak_day == START + dt.timedelta(days=1)
    assert figures.peak.needed_litres_per_day == pytest.approx(18 * 5 * 60)
    assert figures.mean.needed_litres_per_day == pytest.approx((day_1 + 18 * 5_000) * 60 / 1_000 / 7)
    assert (figures.mean.patients, figures.peak.patients) == pytest.approx((44 / 168, 18 / 24))


def test_the_mean_need_of_resampled_days_against_those_drawn() -> None:
    """Arrivals a day and gas of those who arrive, 200 runs of 100 days, against the record's own (|z| < 4)."""
    of = rules(replace(BOOK, use="resample"), horizon_s=100 * DAY_S)
    flow, need_s = (np.array(each[1:]) for each in (BOOK.flow_ml_min, BOOK.need_s))
    drawn = []
    for k in range(200):
        table = Draws(5, k).patients(of)
        drawn.append((len(table), sum(np.array(table.flow_ml_min) * np.array(table.need_s))))
    expected = np.array([5 / 10, (flow * need_s).sum() / 10]) * 100
    z = (np.mean(drawn, axis=0) - expected) / (np.std(drawn, axis=0, ddof=1) / 200**0.5)
    assert np.abs(z).max() < 4
    assert sum(mean_need(of)) == pytest.approx(expected[1])


GRID = Grid(  # ten days, 27 hours of cuts; the second goes on past midnight, the last day's ends with the record
    use="resample", first_day=-30, days=10,
    cuts=tuple(
        (begin * HOUR - 30 * DAY_S, end * HOUR - 30 * DAY_S)
        for begin, end in ((0, 4), (71, 76), (85, 93), (230, 240))
    ),
)  # fmt: skip


def test_drawn_cuts_begin_at_their_hour_with_their_length() -> None:
    """Every cut of a run is one of the record, or several that met; alike under every strategy, not every luck."""
    of = rules(grid=GRID, horizon_s=50 * DAY_S)
    found = Draws(1, 0).listed_cuts(of)
    assert found == Draws(1, 0).listed_cuts(replace(of, tolerated_gap_s=1))
    assert found != Draws(1, 1).listed_cuts(of)
    starts = {0: 4, 23: 5, 14: 10, 13: 8}
    assert {begin % DAY_S // HOUR for begin, _ in found} <= set(starts)
    assert all(end - begin >= starts[begin % DAY_S // HOUR] * HOUR or end == 50 * DAY_S for begin, end in found)
    assert [tuple(spell) for spell in Draws(1, 0).listed_cut_records(of).tolist()] == list(found)


def test_the_share_of_time_without_power_against_the_record() -> None:
    """200 runs of 100 days after one of warm-up; cuts that meet only at their ends (|z| < 4)."""
    apart = replace(GRID, cuts=tuple(cut for cut in GRID.cuts if cut[1] - cut[0] != 5 * HOUR))
    of = rules(grid=apart, horizon_s=100 * DAY_S, warm_up_s=DAY_S)
    out = []
    for k in range(200):
        cuts = Draws(2, k).listed_cuts(of)
        out.append(sum(max(0, end - max(begin, DAY_S)) for begin, end in cuts) / (100 * DAY_S))
    z = (np.mean(out) - 22 / 240) / (np.std(out, ddof=1) / 200**0.5)
    assert abs(z) < 4
    assert grid_share(of) == pytest.approx(1 - 22 / 240)
    assert planning_figures(of).grid_share == grid_share(of)


def test_load_shedding_stands_beside_drawn_cuts() -> None:
    """Cut by plan on every evening, and by the record: joined where they meet."""
    of = replace(rules(grid=GRID, horizon_s=20 * DAY_S), power=Power((Window(2 * HOUR, 6 * HOUR),)))
    found = Draws(1, 0).listed_cuts(of)
    inside = [
        any(begin <= day * DAY_S + 2 * HOUR and end >= day * DAY_S + 6 * HOUR for begin, end in found)
        for day in range(20)
    ]
    assert all(inside)
    assert all(after[0] > before[1] for before, after in pairwise(found))


def test_a_year_of_cuts_is_repeated() -> None:
    """The cut of New Year's Eve 2026 goes on in the next one; in the morning a run begins within it."""
    year = Grid(
        use="repeat by year", first_day=-730, days=365,
        cuts=((-730 * DAY_S + HOUR, -730 * DAY_S + 2 * HOUR), (-365 * DAY_S - HOUR, -365 * DAY_S + 3 * HOUR)),
    )  # fmt: skip
    of = rules(grid=year, horizon_s=366 * DAY_S)
    assert Draws(1, 0).listed_cuts(of) == (
        (0, 3 * HOUR), (365 * DAY_S - HOUR, 365 * DAY_S + 3 * HOUR)
    )  # fmt: skip
