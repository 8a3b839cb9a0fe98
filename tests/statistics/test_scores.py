"""Scores of forecasts against closed forms and cases worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr, ndtri
from scipy.stats import chisquare, nbinom

from o2sim.statistics import scores


@pytest.mark.parametrize("seen", [0.0, 0.7, -2.0, 5.0])
def test_crps_of_a_normal_forecast_against_its_closed_form(seen):
    """Gneiting & Raftery 2007, equation 21 (from memory), with mean 1 and sd 2, by 20,000 quantiles."""
    mean, sd = 1.0, 2.0
    z = (seen - mean) / sd
    density = math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    closed = sd * (z * (2 * float(ndtr(z)) - 1) + 2 * density - 1 / math.sqrt(math.pi))
    sample = mean + sd * ndtri((np.arange(20_000) + 0.5) / 20_000)
    assert scores.crps(sample, seen) == pytest.approx(closed, abs=1e-3)


@pytest.mark.parametrize(
    ("sample", "seen", "score"),
    [
        ([3], 5, 2.0),  # one value: how far it is
        ([0, 2], 1, 0.5),  # 1 less half of the mean distance 1
        ([1, 2, 4], 2, 1.0 - 0.5 * (2 * (1 + 3 + 2) / 9)),
        ([4, 4, 4], 4, 0.0),
    ],
)
def test_crps_worked_by_hand(sample, seen, score):
    """E|X - y| less half of E|X - X'|, over all pairs."""
    assert scores.crps(sample, seen) == pytest.approx(score)


def test_crps_against_the_integral_that_defines_it():
    """The squared difference of the two distribution functions, summed over a fine grid."""
    sample, seen = np.array([0.5, 1.0, 1.0, 3.25]), 2.0
    grid = np.arange(0, 5, 1e-4) + 5e-5
    below = (sample[:, None] <= grid).mean(axis=0)
    assert scores.crps(sample, seen) == pytest.approx(
        float((((seen <= grid) - below) ** 2).sum() * 1e-4), abs=1e-3
    )


def test_an_empty_forecast_has_no_score():
    """There is nothing to compare."""
    with pytest.raises(ValueError, match="without a value"):
        scores.crps([], 1.0)


def test_rank_worked_by_hand():
    """One of four lies below 2 and two are alike: the rank lies in the middle three of five places."""
    sample = [1, 2, 2, 3]
    assert scores.rank(sample, 2, 0.0, 0.0) == pytest.approx(1 / 5)
    assert scores.rank(sample, 2, 0.999, 0.5) == pytest.approx(3.5 / 5)
    assert scores.rank(sample, 9, 0.999, 0.5) == pytest.approx(4.5 / 5)
    assert scores.rank(sample, 0, 0.999, 0.5) == pytest.approx(0.5 / 5)


def test_ranks_of_counts_are_even_where_the_forecast_is_right():
    """Counts cut off at 4 as at a bare shelf, forecast by their own law: Czado, Gneiting & Held 2009."""
    luck = np.random.default_rng(20)
    drawn = np.minimum(nbinom.rvs(2, 0.4, size=(2_000, 40), random_state=luck), 4)
    found = [scores.rank(row[1:], row[0], *luck.random(2)) for row in drawn]
    assert scores.evenness(found).p > 0.01
    assert scores.inside(found, 0.9) / 2_000 == pytest.approx(0.9, abs=0.02)


def test_ranks_of_forecasts_that_are_too_low_are_not_even():
    """Half of what comes."""
    luck = np.random.default_rng(21)
    found = [scores.rank(luck.poisson(3, 40), luck.poisson(6), *luck.random(2)) for _ in range(50)]
    assert scores.evenness(found).p < 1e-6


def test_evenness_against_a_chi_square_test():
    """scipy's, where neighbours are not alike: the correlation of these is below 0."""
    ranks = np.array([0.1, 0.9, 0.2, 0.8, 0.3, 0.7, 0.1, 0.95, 0.15, 0.85] * 2)
    found = scores.evenness(ranks)
    reference = chisquare(np.bincount((ranks * 4).astype(int), minlength=4))
    assert found.counts == (8, 2, 2, 8)
    assert (found.chi_square, found.p) == pytest.approx((reference.statistic, reference.pvalue))
    assert found.effective == 20


def test_too_few_ranks_are_not_tested():
    """Under ten there are not five for each of two bins."""
    found = scores.evenness([0.5] * 9)
    assert (found.counts, found.p) == ((9,), None)


def test_likeness_of_neighbours_against_the_variance_of_a_mean():
    """(1 + r) / (1 - r) for a first-order autoregression: Bayley & Hammersley 1946 (from memory)."""
    luck, value, values = np.random.default_rng(3), 0.0, []
    for step in luck.standard_normal(40_000):
        value = 0.5 * value + math.sqrt(0.75) * step
        values.append(value)
    assert scores.spread_by(ndtr(np.array(values))) == pytest.approx(3.0, rel=0.05)


def test_the_middle_of_a_forecast():
    """0 to 100: the middle half and nine tenths."""
    assert [float(end) for end in scores.interval(range(101), 0.5)] == pytest.approx([25, 75], abs=0.5)
    assert [float(end) for end in scores.interval(range(101), 0.9)] == pytest.approx([5, 95], abs=0.7)


def test_earlier_counts_as_a_forecast():
    """4 in 2 days and 7 in 7 days are 14 and 7 in 7 days; what is not known is left out."""
    used, days = [4, math.nan, 7, 3], [2, 7, 7, 7]
    assert scores.earlier(used, days, 3, 26).tolist() == [14, 7]
    assert scores.earlier(used, days, 3, 1).tolist() == [7]
    assert scores.earlier(used, days, 2, 1) is None
    assert scores.earlier(used, days, 0, 26) is None
