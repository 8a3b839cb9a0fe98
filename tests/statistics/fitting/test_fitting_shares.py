"""Shares with blanks, ranges of shares, pooling, PERT ends, and failures under a prior."""

import numpy as np
import pytest
from scipy import stats

from o2sim.statistics.fitting.failures import (
    Failures,
    Prior,
    chi_square_range,
    mean_of_mean_time,
    mean_time_draws,
    mean_time_points,
    prior_from_range,
    ran,
    updated,
)
from o2sim.statistics.fitting.pert import pert_ends, pert_quantile
from o2sim.statistics.fitting.shares import bounds_with_blanks, jeffreys, pooled_shares, share_draws
from o2sim.statistics.intervals import clopper_pearson, one_sided_upper


def test_share_with_blanks():
    """24 of 200, 40 blank: 0.084 to 0.165 by Clopper and Pearson, but anything from 0.1 to 0.267 of all 240."""
    exact = clopper_pearson(24, 200, 0.9)
    assert (exact.estimate, exact.low, exact.high) == pytest.approx((0.12, 0.08414, 0.16459), abs=1e-5)
    assert bounds_with_blanks(24, 200, 40) == pytest.approx((0.1, 0.26667), abs=1e-5)
    assert one_sided_upper(0, 30) == pytest.approx(0.09503, abs=1e-5)


@pytest.mark.parametrize(
    ("came_short", "points"), [(3, (0.10581, 0.27978, 0.51841)), (0, (0.00017, 0.02001, 0.15687))]
)
def test_part_deliveries(came_short, points):
    """3 of 11 and 0 of 11 orders came short: 5, 50 and 95 % by Jeffreys' beta law, as scipy.stats.beta has it."""
    assert jeffreys(came_short, 11) == pytest.approx(points, abs=1e-5)
    assert jeffreys(came_short, 11) == pytest.approx(
        stats.beta(came_short + 0.5, 11.5 - came_short).ppf([0.05, 0.5, 0.95]), rel=1e-9
    )
    assert np.quantile(share_draws(3, 11, 4_000, 1, "orders"), [0.05, 0.95]) == pytest.approx(
        [0.106, 0.518], abs=0.012
    )


def test_classes_borrow_shares():
    """The beta-binomial law of largest likelihood by scipy.stats; a class of 2 rows is drawn nearly to the
    others."""
    yes, n = np.array([12, 30, 5, 44, 2]), np.array([100, 150, 80, 160, 2])
    found = pooled_shares(yes, n)
    best = stats.betabinom(n, found.a, found.b).logpmf(yes).sum()
    for a, b in ((1.1, 1.1), (0.9, 0.9), (1.1, 1.0), (1.0, 1.1)):
        assert stats.betabinom(n, found.a * a, found.b * b).logpmf(yes).sum() < best
    assert found.shares[4, 1] < 0.5
    assert found.shares[3] == pytest.approx([0.22, 0.27, 0.33], abs=0.02)


def test_ends_of_pert():
    """Written as ends, a range's 5 and 95 % points give too narrow a law; the ends found give back just these."""
    points = stats.gamma(31.5).ppf([0.05, 0.5, 0.95])
    assert pert_quantile(*points, [0.05, 0.95]) == pytest.approx([25.887, 37.291], abs=1e-3)
    ends = pert_ends(*points)
    width = ends.high - ends.low
    law = stats.beta(
        1 + 4 * (ends.likely - ends.low) / width, 1 + 4 * (ends.high - ends.likely) / width, ends.low, width
    )
    assert law.ppf([0.05, 0.95]) == pytest.approx(points[[0, 2]], rel=1e-6)
    assert (ends.likely, *ends.reached) == pytest.approx((points[1], points[0], points[2]))


def test_ends_of_pert_that_would_pass_what_is_possible():
    """At 0 or 1 the end stays there and the likely value moves; both points are met, or the farther one."""
    moved = pert_ends(0.02, 0.12, 0.4, least=0, most=1)
    assert (moved.low, *moved.reached) == pytest.approx((0, 0.02, 0.4))
    top = pert_ends(0.6, 0.88, 0.98, least=0, most=1)
    assert (top.high, *top.reached) == pytest.approx((1, 0.6, 0.98))
    rare = pert_ends(*jeffreys(0, 11), least=0, most=1)
    assert (rare.low, rare.likely, rare.reached[1]) == pytest.approx((0, 0, 0.15687), abs=1e-5)
    assert rare.reached[0] < 0.01
    with pytest.raises(ValueError, match="allowed: 0 <= low"):
        pert_ends(-1, 2, 3, least=0)


def test_few_failures_under_a_prior():
    """2 failures in 12,000 h and then 3 in 41,000 h: Gamma(5, 53,000), mean time 5,790, 11,347 and 26,902 h."""
    after = updated(Prior(2, 12_000), Failures(3, 41_000))
    assert after == Prior(5, 53_000)
    assert mean_time_points(after) == pytest.approx((5_790, 11_347, 26_902), abs=1)
    assert mean_time_points(after) == pytest.approx(
        stats.invgamma(5, scale=53_000).ppf([0.05, 0.5, 0.95]), rel=1e-9
    )
    assert mean_of_mean_time(after) == 13_250
    assert np.median(mean_time_draws(after, 4_000, 1, "units")) == pytest.approx(11_347, rel=0.03)


def test_a_prior_from_a_range():
    """The prior of a range of mean times has 5 % on either side of it."""
    prior = prior_from_range(4_000, 30_000)
    assert [mean_time_points(prior)[place] for place in (0, 2)] == pytest.approx([4_000, 30_000], rel=1e-6)
    with pytest.raises(ValueError, match="0 < low < high"):
        prior_from_range(5, 5)


def test_units_that_never_failed_count():
    """All hours count: 3 units, one of which failed; meters that go back are refused; no failure has no upper
    end."""
    assert ran([0, 100, 50], [400, 500, 950], [0, 1, 0]) == Failures(1, 1_700)
    low, high = chi_square_range(Failures(0, 1_700))
    assert (low, high) == (pytest.approx(1_700 / -np.log(0.05)), float("inf"))
    with pytest.raises(ValueError, match="must not go back"):
        ran([100], [50], [0])
