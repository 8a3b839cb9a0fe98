"""Rows as clusters, against scipy's analysis of variance, plain intervals, and laws with known answers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from o2sim.statistics.clusters import effective, is_clustered, pulls, split, sums
from o2sim.statistics.estimator import Estimator
from o2sim.statistics.intervals import clopper_pearson, one_sided_upper, ratio_interval, t_interval


def drawn(rows: int, each: int, sd: float, seed: int = 1) -> np.ndarray:
    """Return values of replications that meet rows in turn: a normal law by row, with luck of variance 1 added."""
    luck = np.random.default_rng(seed)
    return np.tile(sd * luck.normal(size=rows), each) + luck.normal(size=rows * each)


def test_replication_r_belongs_to_row_r_mod_rows():
    """Sums by row of 0 ... 6 over three rows."""
    assert sums(np.arange(7.0), 3).tolist() == [9.0, 5.0, 7.0]


def test_no_more_replications_than_rows_are_independent():
    """Each met a row of its own: intervals are the plain ones, to the last bit."""
    values = drawn(20, 1, 1.0)
    assert not is_clustered(20, 20)
    assert t_interval(values, 0.95, 20) == t_interval(values, 0.95)
    seen = values > 1
    assert Estimator(0.95, "", 30).probability(seen) == Estimator(0.95, "").probability(seen)


def test_the_mean_over_whole_rows_has_the_interval_of_the_rows_means():
    """With each row as often, rows are the units: Student's interval of their means (scipy.stats.t)."""
    values = drawn(25, 4, 2.0)
    means = values.reshape(4, 25).mean(axis=0)
    low, high = stats.t.interval(0.95, 24, means.mean(), stats.sem(means))
    found = t_interval(values, 0.95, 25)
    assert (found.low, found.high) == pytest.approx((low, high))


def test_a_ratio_of_constant_wholes_is_a_mean():
    """Both linearise alike, also where some rows were met once more."""
    values = drawn(10, 3, 1.0)[:27]
    found, mean = ratio_interval(values, np.full(27, 2.0), 0.95, 10), t_interval(values, 0.95, 10)
    assert (2 * found.low, 2 * found.high) == pytest.approx((mean.low, mean.high))


def test_pulls_keep_the_mean():
    """The mean of what rows pull is that of what replications pull, whole rows or not."""
    values = drawn(10, 3, 1.0)[:27]
    assert pulls(values - values.mean(), 10).mean() == pytest.approx(0.0, abs=1e-12)


def test_the_split_is_that_of_one_way_analysis_of_variance():
    """Between rows (F - 1) MS within / replications a row, with F of scipy.stats.f_oneway."""
    values = drawn(30, 8, 0.7)
    table = values.reshape(8, 30)
    within = table.var(axis=0, ddof=1).mean()
    found = split(values, 30, 0.95)
    assert found is not None
    assert found.luck == pytest.approx(within)
    assert found.inputs == pytest.approx((stats.f_oneway(*table.T).statistic - 1) * within / 8)
    assert found.low < found.share < found.high


def test_one_replication_a_row_cannot_be_split():
    """Nor can a row met once beside others met twice."""
    assert split(drawn(30, 1, 1.0), 30, 0.95) is None
    assert split(drawn(30, 2, 1.0)[:-1], 30, 0.95) is None


def test_replications_of_a_row_that_are_all_alike_count_once():
    """Where the row decides, twenty replications of it are worth about one."""
    seen = np.tile(np.arange(40) % 4 == 0, 20)
    assert effective(seen, 40, 0.95) == pytest.approx(39, abs=3)


def test_rows_that_do_not_matter_leave_replications_independent():
    """Where luck alone decides, the effective number is near the number done, never above it."""
    luck = np.random.default_rng(2)
    worth = [effective(luck.random(1_000) < 0.3, 100, 0.95) for _ in range(200)]
    assert max(worth) <= 1_000
    assert np.median(worth) == pytest.approx(950, abs=100)


def test_no_bound_falls_below_that_of_rows_none_of_which_failed():
    """However many replications: inputs that none of 60 rows met may have 1 - 0.05^(1/60) of the chance."""
    seen = np.zeros(6_000, dtype=bool)
    floor = 1 - 0.05 ** (1 / 60)
    assert Estimator(0.95, "", 60).at_most(seen) == pytest.approx(floor)
    seen[:2] = True
    assert Estimator(0.95, "", 60).at_most(seen) == pytest.approx(floor)
    assert one_sided_upper(2, 6_000) < 0.002 < floor


@pytest.mark.parametrize(("rows", "each"), [(60, 2), (100, 20)])
@pytest.mark.parametrize("shapes", [(0.5, 9.5), (5.0, 5.0), (1_000.0, 19_000.0)])
def test_intervals_hold_the_chance_of_a_beta_binomial_law(rows, each, shapes):
    """Of 400 studies at 95 % nearly 95 % hold the mean a / (a + b); plain intervals do not where rows differ."""
    luck, (a, b) = np.random.default_rng(0), shapes
    estimator, inside, plain = Estimator(0.95, "", rows), 0, 0
    for _ in range(400):
        seen = luck.random(rows * each) < np.tile(luck.beta(a, b, rows), each)
        found, naive = estimator.probability(seen), clopper_pearson(int(seen.sum()), len(seen))
        inside += found.low <= a / (a + b) <= found.high
        plain += naive.low <= a / (a + b) <= naive.high
    assert inside >= 370  # 0.925; 380 less 1 in 1,000 of the binomial law is 366
    if each == 20 and a < 1_000:
        assert plain < 330


def test_more_often_and_more_take_rows_as_clusters():
    """Twenty copies of one study of 50 rows know no more of a difference than about that study does."""
    luck = np.random.default_rng(3)
    first, second = luck.random(50) < 0.3, luck.random(50) < 0.5
    once, often = Estimator(0.95, ""), Estimator(0.95, "", 50)
    one = once.more_often(first, second)
    many = often.more_often(np.tile(first, 20), np.tile(second, 20))
    assert many.mean == pytest.approx(one.mean)
    assert (many.high - many.low) == pytest.approx(one.high - one.low, rel=0.1)
    mean = often.more(np.tile(first * 1.0, 20), np.tile(second * 1.0, 20))
    assert (mean.low, mean.high) == pytest.approx((once.more(first * 1.0, second * 1.0).low,
                                                   once.more(first * 1.0, second * 1.0).high))  # fmt: skip
