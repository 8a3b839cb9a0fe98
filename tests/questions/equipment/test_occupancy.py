"""Time at each level of simultaneous use: by hand, and against counting second by second."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from o2sim.questions.equipment.occupancy import Peak, peak, pooled, seconds_at_level, while_any


def test_levels_of_three_stays_by_hand():
    """Between 10 and 20: one from the start to 13, two to 15, then nobody; the third lies outside."""
    found = seconds_at_level(np.array([3, 13, 13, 20]), np.array([15, 14, 15, 30]), 10, 20)
    assert found == [5, 3, 1, 1]  # none 15-20; one 10-13; two 14-15; three 13-14


def test_levels_without_stays():
    """The whole time is at level 0."""
    assert seconds_at_level(np.array([], dtype=np.int64), np.array([], dtype=np.int64), 5, 12) == [7]


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 15)), max_size=12))
def test_levels_against_counting_every_second(stays):
    """Any stays: each second of the horizon is counted at the number present in it."""
    start = np.array([first for first, _ in stays], dtype=np.int64)
    stop = start + np.array([length for _, length in stays], dtype=np.int64)
    present = [int(((start <= second) & (second < stop)).sum()) for second in range(10, 30)]
    expected = [present.count(level) for level in range(max(present) + 1)]
    found = seconds_at_level(start, stop, 10, 30)
    assert found[: len(expected)] == expected
    assert not any(found[len(expected) :])


def test_enough_is_the_least_number_that_holds_for_99_percent():
    """With exactly 99 % of the time at or below 2 two are enough; one second more above, and it is three."""
    assert peak([0, 50, 940, 0, 10]) == Peak(2, 4, (50 + 1_880 + 40) / 1_000, 1_000)
    assert peak([0, 50, 939, 1, 10]).enough == 3
    assert peak([5]) == Peak(0, 0, 0.0, 5)


def test_no_time_to_look_at_has_no_peak():
    """Where units never ran on a battery there is nothing to be enough for."""
    assert peak([]) == peak([0, 0]) == Peak(0, 0, 0.0, 0)


def test_replications_are_pooled_by_level():
    """Seconds add up level by level, whichever replication went higher."""
    assert pooled([(5, 1), (3, 2, 1), ()]) == [8, 3, 1]
    assert pooled([]) == []


def test_a_reserve_is_sized_by_the_time_in_which_it_is_used():
    """Two cylinders for 5 of 1,000 h: none would be enough for 99 % of the time, two for that of use."""
    assert peak([995, 0, 5]).enough == 0
    assert peak(while_any([995, 0, 5])).enough == 2
