"""Rates: overdispersion, season, weekday, hours of the day and the days a book covers."""

import numpy as np
import pytest
from scipy import stats

from o2sim.statistics.fitting.counts import (
    before_thinning,
    constant,
    daily_counts,
    fit_rates,
    harmonic,
    levels,
    negative_binomial,
    of_totals,
    rate_draws,
    rate_range,
    score_test,
    shared_cv,
    thinned,
)
from o2sim.statistics.fitting.season import (
    events_needed,
    hours_of_day,
    noncentral,
    power,
    rayleigh_point,
    season,
    season_noncentrality,
    weekday_noncentrality,
    weekday_test,
)


def test_what_thinning_does_to_the_spread():
    """12 % of admissions with variance / mean 3 have 1.24, and back; a factor shared by a month adds mean x
    cv^2."""
    rng = np.random.default_rng(1)
    days = rng.negative_binomial(5, 1 / 3, 200_000)  # mean 10, variance / mean 3
    kept = rng.binomial(days, 0.12)
    assert thinned(3, 0.12) == pytest.approx(1.24)
    assert kept.var() / kept.mean() == pytest.approx(thinned(3, 0.12), abs=0.02)
    assert before_thinning(1.24, 0.12) == pytest.approx(3)
    assert of_totals(3, 180) == 3
    assert of_totals(3, 180, 0.1) == pytest.approx(4.8)
    assert shared_cv([180 * (1 - 0.2), 180, 180 * (1 + 0.2)], 3) == pytest.approx(
        (36**2 / 180 - 3) ** 0.5 / 180**0.5
    )


def test_power_to_find_a_season():
    """Ratio 1.5 with 500 events is found in 82 of 100 books, by noncentral chi squared and by drawing monthly
    totals."""
    found = [power(season_noncentrality(n, 1.5, d), 2) for n, d in ((500, 1), (500, 3), (100, 1))]
    assert found == pytest.approx([0.8154, 0.3533, 0.2255], abs=1e-4)
    assert [events_needed(1.5), events_needed(1.5, 3)] == pytest.approx([481.7, 1445.2], abs=0.1)
    assert found[0] == pytest.approx(1 - stats.ncx2(2, 10).cdf(stats.chi2(2).ppf(0.95)), abs=1e-6)
    angles = 2 * np.pi * (np.arange(12) + 0.5) / 12
    books = np.random.default_rng(9).poisson(500 / 12 * (1 + 0.2 * np.cos(angles)), (20_000, 12))
    statistics = 2 * np.abs(books @ np.exp(1j * angles)) ** 2 / books.sum(axis=1)
    assert np.mean(statistics > stats.chi2(2).ppf(0.95)) == pytest.approx(found[0], abs=0.015)


def test_power_to_find_a_weekday():
    """One day of seven 30 % lower is found with 0.40 of 500 events and with 0.975 of 2,000."""
    shares = [1] * 6 + [0.7]
    found = [power(weekday_noncentrality(n, shares), 6) for n in (500, 2000)]
    assert found == pytest.approx([0.4038, 0.975], abs=1e-4)


def test_score_of_a_season_by_the_circle():
    """Over a whole year covered evenly the score is 2 N R^2 / D with R the length of the mean of the dates."""
    rng = np.random.default_rng(2)
    turn = np.arange(360) / 360
    counts = rng.poisson(1.4 * (1 + 0.3 * np.cos(2 * np.pi * turn)))
    length = abs(np.sum(counts * np.exp(2j * np.pi * turn))) / counts.sum()
    found = score_test(counts, constant(360), harmonic(turn, 1.0))
    full = fit_rates(counts, np.hstack([constant(360), harmonic(turn, 1.0)]))
    expected = 2 * counts.sum() * length**2 / max(full.dispersion, 1)
    assert found.statistic == pytest.approx(expected, rel=1e-9)
    assert found.chance == pytest.approx(stats.chi2(2).sf(expected), rel=1e-9)


def test_tests_reject_as_often_as_they_say():
    """Of 400 books without season or weekday, 1.5 a day with variance / mean 2, 5 in 100 are rejected by either
    test."""
    rng = np.random.default_rng(3)
    days = np.arange(364)
    books = rng.negative_binomial(1.5, 0.5, (400, 364))
    wave = np.hstack([harmonic(days, 364)])
    seasons = np.mean([score_test(book, constant(364), wave).chance < 0.05 for book in books])
    weeks = np.mean([weekday_test(book, days % 7).chance < 0.05 for book in books])
    assert [seasons, weeks] == pytest.approx([0.05, 0.05], abs=0.035)


def test_a_season_that_may_have_gone_unseen():
    """With few events a season is not kept, but its ratio may be as high as the range says; with many it is
    found."""
    days = (np.arange(24) + 0.5) * 365.25 / 12
    few = season(np.tile([3, 2, 3, 2, 2, 3, 2, 3, 2, 3, 3, 2], 2), days)
    wave = 1 + 0.2 * np.cos(2 * np.pi * (days - 40) / 365.25)
    many = season(np.rint(200 * wave), days)
    assert not few.is_kept
    assert few.low == 1
    assert few.high > 1.3
    assert many.is_kept
    assert (many.ratio, many.peak_day) == pytest.approx((1.5, 40), rel=0.03)
    assert many.low < 1.5 < many.high


def test_range_of_a_season_covers():
    """In 300 books of 300 events with ratio 1.5, the 90 % range of the ratio holds it in 85 to 95 of 100."""
    rng = np.random.default_rng(6)
    days = (np.arange(12) + 0.5) / 12
    wave = np.exp(0.5 * np.log(1.5) * np.cos(2 * np.pi * (days - 0.3)))
    ranges = [season(rng.poisson(25 * wave), days, turn_days=1.0) for _ in range(300)]
    inside = np.mean([one.low <= 1.5 <= one.high for one in ranges])
    assert 0.85 < inside < 0.96
    assert noncentral(3.0, 2, 0.05) == pytest.approx(noncentral(3.0, 2, 0.05))


def test_models_of_counts():
    """Weekday, season and year are found again from drawn counts, with NB2's alpha, within four standard
    errors."""
    rng = np.random.default_rng(4)
    days = np.arange(3 * 364)
    design = np.hstack([constant(len(days)), harmonic(days), levels(days % 7), levels(days // 364)])
    true = np.array([1.0, 0.2, -0.1, *np.linspace(-0.3, 0.2, 6), 0.15, -0.1])
    mean = np.exp(design @ true)
    counts = rng.negative_binomial(2, 2 / (2 + mean))  # alpha 0.5
    for nb in (False, True):
        found = fit_rates(counts, design, negative_binomial=nb)
        assert np.all(np.abs(found.coefficients - true) < 4 * np.sqrt(np.diag(found.covariance)))
    assert found.alpha == pytest.approx(0.5, abs=0.12)
    assert fit_rates(counts, design).dispersion == pytest.approx(float((1 + 0.5 * mean).mean()), rel=0.15)


def test_exposures_and_gaps():
    """With exposures a single rate is count over exposure; a day without a page is not a day without a patient."""
    assert np.exp(fit_rates([3, 7, 2], constant(3), [10, 20, 6]).coefficients[0]) == pytest.approx(12 / 36)
    days, counts = daily_counts([3, 3, 9], 1, 10, missing=[5, 6])
    assert days.tolist() == [1, 2, 3, 4, 7, 8, 9, 10]
    assert counts.tolist() == [0, 0, 2, 0, 0, 0, 1, 0]
    with pytest.raises(ValueError, match="1 rows lie on none of the 8 days"):
        daily_counts([5], 1, 10, missing=[5, 6])


def test_a_rate_counts_the_empty_days():
    """10 rows in a 91-day book: over the days from first to last row the rate is 1.233 times too high on
    average."""
    rng = np.random.default_rng(5)
    books = rng.integers(1, 92, (40_000, 10))
    naive = np.mean(10 / (np.ptp(books, axis=1) + 1)) / (10 / 91)
    days, counts = daily_counts(books[0], 1, 91)
    assert naive == pytest.approx(1.233, abs=0.005)
    assert counts.sum() / len(days) == 10 / 91


def test_one_yearly_total():
    """31 in a year: 22.871, 31.167 and 41.264 by Gamma(31.5); D of 2 is as if half had been seen in half the
    time."""
    assert rate_range(31, 1) == pytest.approx(stats.gamma(31.5).ppf([0.05, 0.5, 0.95]), rel=1e-9)
    assert rate_range(31, 1) == pytest.approx((22.871, 31.167, 41.264), abs=1e-3)
    draws = rate_draws(31, 1, 4_000, 1, "adults", 2.0)
    assert draws.mean() == pytest.approx(32, rel=0.02)
    assert draws.std() == pytest.approx((2 * 31.5 + 1) ** 0.5, rel=0.05)


def test_negative_binomial_by_scipy():
    """The likelihood is that of scipy.stats.nbinom, and no other alpha has a larger one; Poisson counts give 0."""
    counts = np.array([0, 3, 1, 9, 2, 2, 0, 14, 5, 1])
    found = negative_binomial(counts)
    at = [
        stats.nbinom(1 / a, 1 / (1 + a * found.mean)).logpmf(counts).sum()
        for a in found.alpha * np.array([1, 0.9, 1.1])
    ]
    assert found.log_likelihood == pytest.approx(at[0], rel=1e-9)
    assert at[0] > max(at[1:])
    assert negative_binomial([2, 2, 3, 2, 2]).alpha == 0


def test_starts_at_one_hour():
    """Where a share w of starts is at one hour and the rest even, R is w; its 5 % points by drawing 20 and 100
    hours."""
    hours = np.concatenate([np.full(30, 18.0), np.arange(70) * 24 / 70])
    found = hours_of_day(hours)
    assert (found.length, found.hour) == pytest.approx((0.3, 18.0))
    assert found.chance == pytest.approx(np.exp(-9))
    assert [rayleigh_point(20), rayleigh_point(100)] == pytest.approx([0.387, 0.1731], abs=1e-4)
    drawn = np.abs(np.exp(2j * np.pi * np.random.default_rng(7).random((40_000, 20))).mean(axis=1))
    assert rayleigh_point(20) == pytest.approx(np.quantile(drawn, 0.95), abs=0.005)


@pytest.mark.parametrize("wrong", [[-1, 2, 3], [0, 0, 0], [4]])
def test_impossible_counts(wrong):
    """Counts below 0, none at all and no more counts than numbers to be found are refused."""
    with pytest.raises(ValueError, match="counts: "):
        fit_rates(wrong, constant(len(wrong)))
