"""What more replications would count: the beta-binomial law against scipy, and how often its bounds hold."""

import numpy as np
import pytest
from scipy import stats

from o2sim.statistics.prediction import chance_below, chance_of_at_most


@pytest.mark.parametrize(
    ("most", "more", "failures", "n"),
    [(0, 10, 0, 59), (30, 1200, 20, 400), (9, 9, 3, 5), (700, 12_000, 180, 4_000)],
)
def test_further_failures_against_scipy(most, more, failures, n):
    """The law with Jeffreys' parameters, by scipy.stats.betabinom."""
    law = stats.betabinom(more, failures + 0.5, n - failures + 0.5)
    assert chance_of_at_most(most, more, failures, n) == pytest.approx(law.cdf(most), abs=1e-8)


def test_the_edges_and_what_is_impossible():
    """None at all may be too many; no more replications add nothing; counts have to fit."""
    assert chance_of_at_most(-1, 10, 0, 10) == 0
    assert chance_of_at_most(0, 0, 3, 10) == 1
    with pytest.raises(ValueError, match="impossible"):
        chance_of_at_most(0, 1, 5, 4)


def test_the_chance_below_a_target_against_scipy():
    """The posterior with Jeffreys' prior, by scipy.stats.beta."""
    assert chance_below(0.05, 12, 400) == pytest.approx(stats.beta(12.5, 388.5).cdf(0.05))


def test_bounds_hold_as_often_as_stated():
    """Of 2,000 batches of 400 coins at 4 %, the next 1,200 lie within the 95 % bounds in 93 to 98 of 100."""
    rng = np.random.default_rng(1)
    first, then = rng.binomial(400, 0.04, 2_000), rng.binomial(1_200, 0.04, 2_000)
    inside = 0
    for seen, more in zip(first.tolist(), then.tolist(), strict=True):
        below, upto = (chance_of_at_most(count, 1_200, seen, 400) for count in (more - 1, more))
        inside += below <= 0.975 and upto >= 0.025
    assert 0.93 < inside / 2_000 < 0.98
