"""The two sentences: whether a scenario may be trusted, for what, and which number to doubt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from o2sim.questions.hindcast.inputs import Check
from o2sim.questions.hindcast.result import IN_PART, NOT_YET, TRUSTED, UNSAID, Range, Scored
from o2sim.questions.hindcast.series import Naive, Series, by_luck, range_of, scored
from o2sim.questions.hindcast.verdict import (
    EMPTIED,
    FLOWS,
    IN_NEED,
    MONTHLY,
    ON_CYLINDERS,
    STAYS,
    USED,
    WHO,
    is_sure_too_soon,
    verdict,
    whole_percent,
)

GOOD = Scored(USED, 50, 0, 100, Range(101, 98, 104, 92, 110), 0.01, 0.8, 25, 45, 0.5, 0, None, None, None,
              50, 45, (10,) * 5, 0.0, 50.0, 1.0)  # fmt: skip
LOW = replace(GOOD, forecast=Range(60, 58, 62, 55, 65), bias=-0.4, bias_by_luck=0.01)
HIGH = replace(GOOD, bias=0.5, bias_by_luck=0.01)
CHECK = Check(
    "patients.children.admissions", "admissions of children", 0.5, 1.0, "put on oxygen a day", 365, 9.0, 1e-9, True
)


def _said(*series: Scored, numbers=(), drawn=()):
    trust, said = verdict(series, numbers, drawn=drawn, period="Jan to Dec 2026")
    return trust, *said


def test_a_scenario_that_matches_may_be_trusted():
    """It says for what, by how many counts, and that nothing stands out."""
    assert _said(GOOD) == (
        TRUSTED,
        "The scenario may be trusted for how many cylinders are used and how long the shelf lasts: 45 of 50 "
        "counts (90 %) lie within its 90 % ranges, and over Jan to Dec 2026 it forecasts 1 % more than was "
        "recorded.",
        "No number of it stands out to be doubted; what these books do not show is not checked.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("series", "drawn", "doubt"),
    [
        ((LOW,), (WHO, FLOWS), "Use is under-forecast by 40 %: doubt admissions or flows."),
        ((LOW, replace(LOW, name=IN_NEED)), (WHO, FLOWS), f"Use is under-forecast by 40 %: doubt {WHO}."),
        ((LOW, replace(GOOD, name=IN_NEED)), (WHO, FLOWS), "Use is under-forecast by 40 %: doubt flows ("),
        ((LOW, replace(LOW, name=ON_CYLINDERS)), (), "doubt how many patients the concentrators carry"),
        ((LOW, replace(GOOD, name=ON_CYLINDERS)), (), "doubt the flow after the first (flow_steps)"),
        ((HIGH, replace(GOOD, name=ON_CYLINDERS)), (FLOWS,), "Use is over-forecast by 50 %: doubt flows ("),
        ((replace(HIGH, name=IN_NEED),), (STAYS,), f"oxygen is over-forecast by 50 %: doubt {STAYS}."),
        ((LOW,), (), "doubt how many patients the concentrators carry"),
    ],
)  # fmt: skip
def test_the_number_to_doubt_is_what_the_other_counts_leave(series, drawn, doubt):
    """What is recorded, or agrees, cannot be wrong; what is left is named."""
    trust, first, second = _said(*series, drawn=drawn)
    assert (trust, "may not be trusted yet" in first, doubt in second) == (NOT_YET, True, True)


def test_a_number_far_from_the_records_is_doubted_though_the_use_matches():
    """Recorded patients were put in, so the use says nothing of the scenario's admissions."""
    trust, first, second = _said(GOOD, numbers=(CHECK,))
    assert trust == IN_PART
    assert "but not for weeks to come, for which it takes its own numbers" in first
    assert second == (
        "Doubt admissions of children (patients.children.admissions): the scenario has 0.5 put on oxygen a day, "
        "the records 1."
    )


def test_the_farthest_number_comes_first():
    """Three times beside twice; and both beside a bias."""
    other = replace(CHECK, name="the flow of adults", key="patients.adults.flow", recorded=1.5, unit="L/min")
    assert _said(GOOD, numbers=(CHECK, other))[2].endswith("the records 1.5; then admissions of children.")
    both = (
        "; and admissions of children (patients.children.admissions): the scenario has 0.5 put on oxygen a day, "
    )
    assert _said(LOW, numbers=(CHECK,))[2].endswith(f"{both}the records 1.")


def test_a_small_bias_asks_for_care():
    """Under a quarter: for comparing, with care for amounts."""
    trust, first, _ = _said(replace(LOW, bias=-0.15))
    assert (trust, "with care for how many cylinders are used" in first) == (IN_PART, True)


def test_ranges_that_are_too_sure_are_named():
    """Right on average, but 30 of 50 counts within 90 %."""
    trust, first, second = _said(replace(GOOD, inside_90=30, judged_inside_90=30))
    assert (trust, "but not for its ranges from count to count" in first) == (IN_PART, True)
    assert second.startswith("Doubt how much its numbers vary")


def test_neighbours_that_are_alike_count_for_less():
    """40 of 50 within 90 % is too few of 50 by the binomial law, but may be luck of 10."""
    assert is_sure_too_soon(replace(GOOD, judged_inside_90=39))
    assert not is_sure_too_soon(replace(GOOD, judged_inside_90=39, ranks_effective=10.0))


def test_counts_at_a_bare_shelf_do_not_judge_the_ranges():
    """39 of 50 lie within, but of the 20 with a full shelf 18 do; with none of these nothing is said."""
    assert not is_sure_too_soon(replace(GOOD, inside_90=39, judged=20, judged_inside_90=18, ranks_effective=20.0))
    assert not is_sure_too_soon(replace(GOOD, inside_90=0, judged=0, judged_inside_90=0))


def test_a_bias_by_luck_is_none():
    """A fifth too low, which one hospital in five is."""
    assert _said(replace(LOW, bias=-0.2, bias_by_luck=0.2))[0] == TRUSTED
    trust, first, second = _said(replace(LOW, bias_by_luck=0.2))
    assert (trust, "which luck alone may do" in first, "with more counts" in second) == (IN_PART, True, True)


def test_too_few_counts_say_nothing():
    """Seven, and no number to check."""
    trust, first, second = _said(replace(GOOD, counts=7))
    assert (trust, "7 counts could be compared, 8 are needed" in first) == (UNSAID, True)
    assert second.startswith("No number of it stands out")


def test_the_stock_card_decides_before_months_and_midnights():
    """Months where it has too few counts; patients last, and then not for cylinders."""
    monthly = replace(GOOD, name=MONTHLY)
    assert "used in a month" in _said(replace(LOW, counts=3), monthly, replace(LOW, name=EMPTIED))[1]
    assert "on oxygen, not for how many cylinders they use" in _said(replace(GOOD, name=IN_NEED))[1]


def test_nothing_recorded_where_some_was_forecast():
    """There is no share of nothing."""
    none = replace(LOW, recorded=0, bias=None)
    trust, first, second = _said(none, drawn=(WHO,))
    assert (trust, "forecasts 60 where none was recorded" in first) == (NOT_YET, True)
    assert second.startswith("Use is over-forecast: doubt")


def test_a_percentage_never_rounds_to_certainty():
    """1 in 1,000 is under 1 %."""
    assert [whole_percent(each) for each in (0, 0.001, 0.126, 0.999, 1)] == [
        "0 %",
        "under 1 %",
        "13 %",
        "over 99 %",
        "100 %",
    ]


def test_a_series_worked_by_hand():
    """Two counts, 4 and 0, each forecast as 2 or 6: sums, bias, scores, and naive forecasts of the second."""
    forecast = np.array([[2.0, 6.0], [2.0, 6.0]])
    naive = (Naive(None, None), Naive(np.array([4.0]), np.array([1.0])))
    found = scored(Series(USED, forecast, np.array([4.0, 0.0]), 3, naive), seed=1)
    assert (found.recorded, found.forecast.mean, found.bias, found.left_out) == (4, 8, 1.0, 3)
    assert found.crps == pytest.approx(((2 - 1) + (4 - 1)) / 2)  # mean distance less half of that of two draws
    assert (found.naive_counts, found.crps_of_these) == (1, pytest.approx(3.0))
    assert (found.crps_of_earlier_counts, found.crps_of_last_count) == (4.0, 1.0)


def test_the_chance_of_a_sum_is_by_its_place_among_the_replications():
    """Below all of 99 replications: 2 in 100; in the middle: none of it."""
    sums = np.arange(1.0, 100.0)
    assert by_luck(sums, 0) == pytest.approx(2 / 100)
    assert by_luck(sums, 50) == 1.0
    assert range_of(sums).mean == 50
