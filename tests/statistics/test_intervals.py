"""Intervals against published values, scipy.stats, and their own exactly computed coverage."""

from __future__ import annotations

from math import comb, isnan, sqrt

import numpy as np
import pytest
from scipy import stats

from o2sim.statistics.intervals import (
    clopper_pearson,
    newcombe_paired,
    one_sided_upper,
    paired_ratio,
    paired_t,
    ratio_interval,
    t_interval,
    wilson,
)

EXACT = 1e-12


def bounds(interval):
    """Return (low, high) of an interval."""
    return interval.low, interval.high


@pytest.mark.theory
def test_clopper_pearson_against_its_published_definition_at_30_of_1000():
    """Seven digits of the 95 % interval for 30 in 1,000 (Clopper and Pearson 1934; digits computed with scipy)."""
    assert bounds(clopper_pearson(30, 1000)) == pytest.approx((0.0203305, 0.0425514), abs=5e-8)


@pytest.mark.theory
def test_one_sided_upper_against_the_closed_form_with_none_seen():
    """None in 59 puts the 95 % one-sided bound just under 5 %: 1 - 0.05^(1/59) (Clopper and Pearson 1934)."""
    assert one_sided_upper(0, 59) == pytest.approx(1 - 0.05 ** (1 / 59), rel=EXACT)
    assert one_sided_upper(0, 59) == pytest.approx(0.0495076, abs=5e-8)


@pytest.mark.theory
def test_wilson_against_30_of_1000():
    """Seven digits of the 95 % interval for 30 in 1,000 (Wilson 1927; digits computed with scipy)."""
    assert bounds(wilson(30, 1000)) == pytest.approx((0.0210937, 0.0425034), abs=5e-8)


@pytest.mark.theory
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.999])
@pytest.mark.parametrize(("seen", "n"), [(0, 1), (1, 1), (0, 20), (3, 20), (20, 20), (999, 5000)])
def test_intervals_of_a_probability_against_scipy_stats(seen, n, confidence):
    """Clopper-Pearson, Wilson and the one-sided bound equal those of scipy.stats.binomtest."""
    two_sided = stats.binomtest(seen, n)
    one_sided = stats.binomtest(seen, n, alternative="less")
    exact = two_sided.proportion_ci(confidence, method="exact")
    score = two_sided.proportion_ci(confidence, method="wilson")
    assert bounds(clopper_pearson(seen, n, confidence)) == pytest.approx(tuple(exact), rel=1e-9, abs=EXACT)
    assert bounds(wilson(seen, n, confidence)) == pytest.approx(tuple(score), rel=1e-9, abs=EXACT)
    upper = one_sided.proportion_ci(confidence, method="exact").high
    assert one_sided_upper(seen, n, confidence) == pytest.approx(upper, rel=1e-9)


@pytest.mark.theory
def test_t_interval_against_scipy_stats():
    """Student's interval of nine skewed values equals scipy.stats.t.interval at three confidences."""
    values = np.array([0, 0, 0, 1, 2.5, 0, 14, 3, 0.25])
    for confidence in (0.8, 0.95, 0.99):
        expected = stats.t.interval(confidence, 8, loc=values.mean(), scale=stats.sem(values))
        assert bounds(t_interval(values, confidence)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.theory
def test_paired_t_against_scipy_stats():
    """The paired interval is that of scipy.stats.ttest_rel, with the sign `second less first`."""
    first, second = [3.0, 1, 4, 1, 5, 9], [2.0, 7, 1, 8, 2, 8]
    expected = stats.ttest_rel(second, first)
    found = paired_t(first, second, 0.9)
    assert found.estimate == pytest.approx(5 / 6)
    assert bounds(found) == pytest.approx(tuple(expected.confidence_interval(0.9)), rel=1e-12)


@pytest.mark.theory
@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ((36, 12, 2, 0), (0.0569, 0.3404)),  # Newcombe 1998, Stat Med 17:2635-50, table III, from memory
        ((20, 12, 2, 16), (0.0562, 0.3292)),  # the same table, from memory
        ((1, 1, 7, 12), (-0.507, -0.026)),  # Fagerland et al 2014, Stat Med 33:2850-75, from memory
    ],
)
def test_newcombe_paired_against_published_examples(cells, expected):
    """First less second, as the papers have it, to the digits printed; ours has the other sign."""
    found = newcombe_paired(*cells)
    digits = 5e-4 if cells[0] == 1 else 5e-5
    assert (-found.high, -found.low) == pytest.approx(expected, abs=digits)


@pytest.mark.theory
def test_newcombe_paired_against_the_unpaired_example_where_pairs_are_unrelated():
    """With no correlation it is Newcombe's method for two samples: squared Wilson distances added (1998).

    16, 24, 24, 36 of 100 pairs are independent, both shares 0.4, each with its own Wilson distances.
    """
    low, high = bounds(wilson(40, 100))
    below = sqrt((0.4 - low) ** 2 + (high - 0.4) ** 2)
    assert bounds(newcombe_paired(16, 24, 24, 36)) == pytest.approx((-below, below), rel=1e-12)


def test_newcombe_paired_swaps_sign_with_the_pair():
    """Telling it the strategies the other way round mirrors the interval."""
    there, back = newcombe_paired(5, 30, 10, 155), newcombe_paired(5, 10, 30, 155)
    assert there.estimate == pytest.approx(-20 / 200)
    assert bounds(there) == pytest.approx((-back.high, -back.low), rel=1e-12)


@pytest.mark.parametrize("cells", [(0, 0, 0, 200), (200, 0, 0, 0), (40, 0, 0, 160)])
def test_newcombe_paired_keeps_a_width_where_no_pair_differs(cells):
    """No difference seen in 200 pairs is not a difference of exactly nought."""
    found = newcombe_paired(*cells)
    assert found.estimate == 0
    assert -0.1 < found.low < -0.001
    assert 0.001 < found.high < 0.1


def test_newcombe_paired_uses_a_negative_correlation_uncorrected():
    """Pairs that oppose each other widen the interval beyond that of unrelated ones."""
    opposed, unrelated = newcombe_paired(0, 50, 50, 0), newcombe_paired(25, 25, 25, 25)
    assert opposed.high > 1.3 * unrelated.high  # correlation -1: distances add up instead of squaring


@pytest.mark.theory
def test_ratio_interval_against_the_jackknife():
    """The linearised standard error agrees with the jackknife's to their order 1/n difference."""
    rng = np.random.default_rng(20270101)
    needed = rng.gamma(4.0, 250.0, 400)
    delivered = needed * rng.beta(20, 2, 400)
    found = ratio_interval(delivered, needed)
    left_out = (delivered.sum() - delivered) / (needed.sum() - needed)
    jackknife = sqrt(399 / 400 * ((left_out - left_out.mean()) ** 2).sum())
    assert found.estimate == pytest.approx(delivered.sum() / needed.sum(), rel=1e-12)
    assert (found.high - found.low) / 2 == pytest.approx(stats.t.ppf(0.975, 399) * jackknife, rel=5e-3)


def test_ratio_interval_is_the_mean_where_all_wholes_are_one():
    """Over wholes of 1 the ratio is a mean, and so are its interval and the paired difference."""
    a, b, ones = [3.0, 1, 4, 1, 5], [2.0, 7, 1, 8, 2], [1.0] * 5
    assert bounds(ratio_interval(a, ones)) == pytest.approx(bounds(t_interval(a)), rel=1e-12)
    assert bounds(paired_ratio(a, ones, b, ones)) == pytest.approx(bounds(paired_t(a, b)), rel=1e-12)
    assert paired_ratio(a, ones, b, ones).estimate == pytest.approx(1.2)


@pytest.mark.parametrize("values", [[7.0], [0.0, 0.0, 0.0], [0.1 + 0.2, 0.3, 0.3]])
def test_t_interval_has_no_bounds_where_no_spread_was_seen(values):
    """One value, or values alike but for rounding, give a mean and no interval rather than a width of nought."""
    found = t_interval(values)
    assert found.estimate == pytest.approx(values[0])
    assert isnan(found.low)
    assert isnan(found.high)


def test_paired_intervals_have_no_bounds_where_every_pair_differs_alike():
    """The same difference in every pair, or the same ratio in each replication, shows no spread."""
    assert isnan(paired_t([0.1, 0.2, 1e9], [0.4, 0.5, 1e9 + 0.3]).low)
    assert isnan(ratio_interval([1.0, 2, 3], [3.0, 6, 9]).high)
    assert isnan(paired_ratio([1.0, 2], [2.0, 4], [1.0, 3], [3.0, 9]).high)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: clopper_pearson(3, 2), "3 successes out of 2 is impossible"),
        (lambda: wilson(-1, 2), "-1 successes out of 2 is impossible"),
        (lambda: one_sided_upper(0, 0), "0 successes out of 0 is impossible"),
        (lambda: clopper_pearson(1, 2, 95), "a confidence lies between 0 and 1, not at 95"),
        (lambda: t_interval([1, 2], 1.0), "a confidence lies between 0 and 1, not at 1.0"),
        (lambda: t_interval([]), "at least one value"),
        (lambda: paired_t([1, 2], [1]), "pairs need as many of each: 2 and 1"),
        (lambda: ratio_interval([1, 2], [0, 0]), "more than zero"),
        (lambda: paired_ratio([1], [1], [1, 2], [1, 2]), "pairs need as many of each: 1 and 2"),
        (lambda: newcombe_paired(1, -1, 0, 0), "cannot be negative"),
        (lambda: newcombe_paired(0, 0, 0, 0), "0 successes out of 0 is impossible"),
    ],
)
def test_intervals_refuse_what_cannot_be(call, message):
    """Impossible counts, confidences and pairings are errors that say what was found."""
    with pytest.raises(ValueError, match=message):
        call()


def coverage(method, n, p, confidence=0.95):
    """Return the exact coverage of an interval method by the binomial sum, and which counts are covered."""
    intervals = [method(seen, n, confidence) for seen in range(n + 1)]
    covers = np.array([i.low <= p <= i.high for i in intervals])
    return stats.binom.pmf(np.arange(n + 1), n, p)[covers].sum(), covers


@pytest.mark.theory
@pytest.mark.parametrize(("n", "p"), [(50, 0.05), (100, 0.05), (59, 0.01), (200, 0.02), (200, 0.5), (1000, 0.03)])
def test_clopper_pearson_covers_at_least_what_it_states(n, p):
    """Its exact coverage is never below 95 % (Clopper and Pearson 1934), at any share tried."""
    assert coverage(clopper_pearson, n, p)[0] >= 0.95


@pytest.mark.theory
def test_clopper_pearson_coverage_against_the_published_excess():
    """At p = 5 %, 50 and 100 replications it covers 98.3 to 98.8 % (exact binomial sums; Agresti, Coull 1998)."""
    found = [coverage(clopper_pearson, n, 0.05)[0] for n in (50, 100)]
    assert (round(min(found), 3), round(max(found), 3)) == (0.983, 0.988)


@pytest.mark.theory
def test_wilson_coverage_against_its_published_dip_for_rare_events():
    """Why not Wilson: just below p = 0.1765 / n it covers 83.8 % (Brown, Cai, DasGupta 2001, from memory)."""
    n = 2_000
    first = wilson(1, n).low
    assert n * first == pytest.approx(0.1765, abs=5e-4)
    assert coverage(wilson, n, 0.9999 * first)[0] == pytest.approx(0.838, abs=5e-4)


def measured_against_exact(method, n, p, studies, seed):
    """Return z of the coverage measured in simulated studies against the exact one."""
    exact, covers = coverage(method, n, p)
    hits = covers[np.random.default_rng(seed).binomial(n, p, studies)].mean()
    return (hits - exact) / sqrt(exact * (1 - exact) / studies)


GRID = [(50, 0.05), (100, 0.05), (200, 0.02), (200, 0.3), (1000, 0.01)]


@pytest.mark.theory
@pytest.mark.parametrize("method", [clopper_pearson, wilson])
@pytest.mark.parametrize(("n", "p"), GRID)
def test_measured_coverage_against_exact_coverage(method, n, p):
    """In 100,000 simulated studies the share whose interval holds the truth is the exact binomial sum."""
    assert abs(measured_against_exact(method, n, p, 100_000, seed=11)) < 4


@pytest.mark.slow
@pytest.mark.theory
@pytest.mark.parametrize("method", [clopper_pearson, wilson])
@pytest.mark.parametrize(("n", "p"), GRID)
def test_measured_coverage_against_exact_coverage_in_a_large_sample(method, n, p):
    """The same in 30 million simulated studies."""
    assert abs(measured_against_exact(method, n, p, 30_000_000, seed=12)) < 4


@pytest.mark.theory
def test_t_interval_coverage_against_its_level_for_normal_values():
    """Of 20,000 intervals from 10 normal values, 95 % hold the mean (Student 1908: exact)."""
    samples = np.random.default_rng(13).normal(3.0, 2.0, (20_000, 10))
    found = [t_interval(row) for row in samples]
    hits = np.mean([i.low <= 3.0 <= i.high for i in found])
    assert abs(hits - 0.95) / sqrt(0.95 * 0.05 / 20_000) < 4


@pytest.mark.theory
@pytest.mark.parametrize(("cells", "nominal"), [((0.10, 0.25, 0.05, 0.60), 0.95), ((0.3, 0.1, 0.1, 0.5), 0.95)])
def test_newcombe_paired_exact_coverage_against_its_level(cells, nominal):
    """Summed over every table of 40 pairs it covers the true difference within 2 % of 95 % (Newcombe 1998)."""
    n, truth, covered = 40, cells[2] - cells[1], 0.0
    p = [np.power(share, np.arange(n + 1)) for share in cells]
    for a in range(n + 1):
        for b in range(n + 1 - a):
            for c in range(n + 1 - a - b):
                d = n - a - b - c
                found = newcombe_paired(a, b, c, d)
                if found.low <= truth <= found.high:
                    ways = comb(n, a) * comb(n - a, b) * comb(n - a - b, c)
                    covered += ways * p[0][a] * p[1][b] * p[2][c] * p[3][d]
    assert covered == pytest.approx(nominal, abs=0.02)
