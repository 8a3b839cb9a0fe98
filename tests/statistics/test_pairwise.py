"""Every two of several arms: the tests of SciPy, the stated error under luck alone, and neighbours joined."""

import numpy as np
import pytest
from scipy.stats import binomtest, ttest_rel

from o2sim.statistics.pairwise import apart, joined


def least_error(arms, one, other):
    """Return the least error at which two arms are called different, by halving."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if apart(arms, middle)[one, other] else (middle, high)
    return high


def test_chances_are_compared_by_mcnemar_as_scipy_has_it():
    """The two-sided exact test of the discordant pairs (scipy.stats.binomtest)."""
    rng = np.random.default_rng(3)
    arms = rng.random((3, 80)) < np.array([[0.1], [0.2], [0.4]])
    for one, other in ((0, 1), (0, 2), (1, 2)):
        more = int((arms[one] & ~arms[other]).sum())
        all_ = int((arms[one] != arms[other]).sum())
        assert least_error(arms, one, other) == pytest.approx(binomtest(more, all_, 0.5).pvalue, rel=1e-9)


def test_means_are_compared_by_pairs_as_scipy_has_it():
    """Student's t of the differences (scipy.stats.ttest_rel)."""
    rng = np.random.default_rng(4)
    arms = rng.gamma(2.0, 3.0, (3, 50)) + np.array([[0.0], [0.5], [2.0]])
    for one, other in ((0, 1), (0, 2), (1, 2)):
        assert least_error(arms, one, other) == pytest.approx(ttest_rel(arms[one], arms[other]).pvalue, rel=1e-9)


def test_luck_alone_is_called_a_difference_as_rarely_as_is_said():
    """Of 400 families of 15 comparisons without a difference, at most 5 % (and four standard errors) have one."""
    rng = np.random.default_rng(5)
    error = 0.05 / 15
    families = [rng.random((6, 60)) for _ in range(400)]
    wrong = [sum(apart(one, error).any() for one in kind) for kind in (families, [f < 0.2 for f in families])]
    assert all(0 < count <= 400 * 0.05 + 4 * (400 * 0.05 * 0.95) ** 0.5 for count in wrong)


def test_differences_without_spread_need_several_pairs():
    """The same difference in each of eight pairs is clear at 1 %, in two it is not; one pair is never enough."""
    for count, clear in ((8, True), (2, False), (1, False)):
        arms = np.vstack([np.ones(count), np.full(count, 3.0)])
        assert bool(apart(arms, 0.01)[0, 1]) == clear
    assert not apart(np.ones((2, 9)), 0.5).any()


def test_a_group_ends_where_the_next_differs_from_any_in_it():
    """1 and 2, 2 and 3 are alike, 1 and 3 are not: 3 begins a group, and 4 stays with it."""
    clear = np.zeros((4, 4), dtype=bool)
    clear[0, 2] = clear[2, 0] = clear[0, 3] = clear[3, 0] = True
    assert list(joined(clear)) == [[0, 1], [2, 3]]
    assert list(joined(np.zeros((0, 0), dtype=bool))) == []
