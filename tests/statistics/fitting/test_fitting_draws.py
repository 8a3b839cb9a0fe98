"""Whether a law fits, how sure it is, and draws of laws: bootstrap against known truth."""

import numpy as np
import pytest
from scipy import stats

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.adequacy import adequacy, anderson_darling, residuals
from o2sim.statistics.fitting.laws import median, moment
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.maximum import Fit, aic_weights, fit_law, fit_laws, free_of, law_of
from o2sim.statistics.fitting.resample import joint_draws, redrawn, refits, spread, turned
from o2sim.statistics.fitting.spells import between, exact, in_steps, joined, still_on
from o2sim.statistics.fitting.whole import fitted

STAY = Law("lognormal", (np.log(60), np.log(2.2)))


def test_points_of_anderson_darling():
    """5 % points for n = 100: lognormal with both fitted 0.752, exponential 1.321, nothing fitted 2.492.

    As in D'Agostino and Stephens, Goodness-of-Fit Techniques, 1986 (from memory). With 2.492 a fitted law is never
    rejected.
    """
    rng = np.random.default_rng(1)
    z, u = rng.standard_normal((20_000, 100)), rng.random((20_000, 100))
    e = rng.exponential(1, (60_000, 100))
    sd = z.std(axis=1, ddof=1, keepdims=True)
    normal = anderson_darling(stats.norm.cdf((z - z.mean(axis=1, keepdims=True)) / sd))
    waits = anderson_darling(-np.expm1(-e / e.mean(axis=1, keepdims=True)))
    assert np.quantile(normal, 0.95) * (1 + 0.75 / 100 + 2.25 / 100**2) == pytest.approx(0.752, abs=0.02)
    assert np.quantile(waits, 0.95) * (1 + 0.6 / 100) == pytest.approx(1.321, abs=0.03)
    assert np.quantile(anderson_darling(u), 0.95) == pytest.approx(2.492, abs=0.06)
    assert np.mean(normal > 2.492) < 0.001


def test_statistic_by_scipy():
    """A^2 of normal scores is that of scipy.stats.anderson, which fits mean and sd too."""
    values = np.array([3.1, 4.2, 0.4, 2.2, 2.9, 5.5, 3.3])
    shares = stats.norm.cdf((values - values.mean()) / values.std(ddof=1))
    ours = float(anderson_darling(shares))
    ordered, n = np.sort(shares), len(shares)
    spelled_out = (
        -n - sum((2 * i + 1) * (np.log(ordered[i]) + np.log(1 - ordered[n - 1 - i])) for i in range(n)) / n
    )
    assert ours == pytest.approx(spelled_out, rel=1e-12)


def book(n, seed):
    """Return a drawn book of dates with stays not over and stays there before it began."""
    rng = np.random.default_rng(seed)
    begun = rng.random(3 * n) * 120 - 60
    ends = begun + stats.lognorm(np.log(2.2), scale=2.5).rvs(3 * n, random_state=rng)
    there = np.flatnonzero((ends > 0) & (begun < 60))[:n]
    first, over = np.floor(begun[there]), ends[there] < 60
    steps = np.where(over, np.floor(ends[there]), 60) - first
    return in_steps(steps, 24, over, entry=np.maximum(-first, 0), limit=60 - first)


def test_residuals_are_even_under_the_truth():
    """By dates only, stays not over and from before too: 2,000 residuals are even by Kolmogorov's test."""
    rows = joined(book(1_000, 2), exact([5.0]), still_on([5.0]), between([4.0], [9.0]))
    found = residuals(STAY, rows, 1)
    assert np.all((found > 0) & (found < 1))
    assert stats.kstest(found[:-3], "uniform").pvalue > 0.01


def test_drawn_books_are_like_the_book():
    """Books drawn from a law keep entries and limits, and have as many stays not over as the law gives."""
    rows = book(2_000, 3)
    drawn = redrawn(STAY, rows, 1, 0)
    assert np.all(drawn.low >= drawn.entry)
    assert np.all(drawn.low <= drawn.limit)
    assert np.mean(~drawn.is_over) == pytest.approx(np.mean(~rows.is_over), abs=0.02)
    assert np.mean(drawn.low) == pytest.approx(np.mean(rows.low), rel=0.06)
    assert np.array_equal(redrawn(STAY, rows, 1, 0).low, drawn.low)
    assert not np.array_equal(redrawn(STAY, rows, 2, 0).low, drawn.low)


def test_drawn_books_with_clocks():
    """Known clocks, rounded values and limits are drawn as they are: by mean, width and share cut off."""
    law = Law("exponential", (10.0,))
    rows = joined(exact(np.full(4_000, 5.0), entry=3.0, limit=20.0), between(np.full(4_000, 7.0), 9.0))
    drawn = redrawn(law, rows, 1, 0)
    assert np.mean(~drawn.is_over[:4_000]) == pytest.approx(np.exp(-1.7), abs=0.02)
    assert (drawn.high - drawn.low)[4_000:] == pytest.approx(2.0)
    assert np.mean(drawn.high[4_000:] - 1) == pytest.approx(10, rel=0.06)


def test_a_law_that_fits_and_one_that_does_not():
    """A lognormal book is not rejected; one of two kinds of stays, 1 and 9 days, is, and leaves the band."""
    rows = book(150, 4)
    fit = fit_law(rows, "lognormal")
    good = adequacy(fit.law, rows, refits(fit, rows, 99, 1), 1)
    mixed = in_steps([1] * 40 + [0] * 10 + [9] * 30 + [10] * 20, 24)
    bad_fit = fit_law(mixed, "lognormal")
    bad = adequacy(bad_fit.law, mixed, refits(bad_fit, mixed, 99, 1), 1)
    assert good.chance > 0.05
    assert bad.chance == 0.01
    assert np.mean((good.seen >= good.low) & (good.seen <= good.high)) > 0.7
    assert np.any((bad.seen < bad.low) | (bad.seen > bad.high))


def test_few_refits_are_refused():
    """A chance needs at least 19 refits of the same law."""
    rows = exact([3.0, 5.0, 9.0])
    fit = fit_law(rows, "gamma")
    with pytest.raises(ValueError, match="5 refits"):
        adequacy(fit.law, rows, refits(fit, rows, 5, 1), 1)


def test_draws_are_students_for_known_durations():
    """For 6 known durations turned refits give the mean of logarithms Student's t and its variance chi squared."""
    logs = np.array([3.2, 4.5, 3.9, 5.1, 4.0, 4.6])
    fit = fit_law(exact(np.exp(logs)), "lognormal")
    laws = [turned(fit.law, one) for one in refits(fit, exact(np.exp(logs)), 1_000, 1).laws]
    places, widths = np.array([law.parameters for law in laws]).T
    t = stats.t(5).ppf(0.95) * logs.std(ddof=1) / 6**0.5
    chi = (logs.std(ddof=1) * (5 / stats.chi2(5).ppf([0.95, 0.05])) ** 0.5).tolist()
    assert np.quantile(places, [0.05, 0.95]) == pytest.approx([logs.mean() - t, logs.mean() + t], abs=0.08)
    assert np.quantile(widths, [0.05, 0.95]) == pytest.approx(chi, rel=0.1)


def test_draws_of_all_laws_by_weight():
    """Each kind is drawn as often as its weight says, and the draws' medians lie around the truth."""
    rows = book(60, 5)
    fits = fit_laws(rows)
    laws = joint_draws(fits, rows, 200, 1)
    weights = dict(zip((fit.law.kind for fit in fits), aic_weights(fits).tolist(), strict=True))
    for kind, weight in weights.items():
        assert np.mean([law.kind == kind for law in laws]) == pytest.approx(weight, abs=0.12)
    low, middle, high = spread([moment(law) for law in laws])
    assert low < middle < high
    assert low < 81.87 < high
    assert laws == joint_draws(fits, rows, 200, 1)


def test_weights_of_akaike():
    """A difference of 4.1 in AIC is a weight of exp(-2.05) against 1."""
    fits = [Fit(STAY, 0.0, aic, False) for aic in (100.0, 104.1)]
    assert aic_weights(fits).tolist() == pytest.approx([1 / (1 + np.exp(-2.05)), 1 / (1 + np.exp(2.05))])


def test_free_numbers_and_back():
    """Each kind of law comes back from its free numbers."""
    for law in (STAY, Law("gamma", (0.7, 90.0)), Law("weibull", (1.5, 80.0)), Law("exponential", (40.0,))):
        assert law_of(law.kind, free_of(law)).parameters == pytest.approx(law.parameters)


def test_too_little_for_a_width():
    """Four rows, or rows all alike, give a mean alone; rows of which none has ended are refused."""
    assert [fit.law.kind for fit in fit_laws(exact([3.0, 4.0, 7.0, 9.0]))] == ["exponential"]
    assert [fit.law.kind for fit in fit_laws(exact([3.0] * 9))] == ["exponential"]
    with pytest.raises(ValueError, match="none of them has ended"):
        fit_laws(still_on([3.0, 9.0]))


def test_no_draw_is_absurd():
    """With 5 rows no drawn law is one that the rows all but rule out: no mean over 50 times the longest."""
    rows = in_steps([5, 8, 4, 8, 10])
    found = fitted(rows, 1)
    assert len(found.fits) == 4
    assert max(moment(law) for law in found.draws) < 500


def test_luck_is_fixed():
    """Uniform numbers depend on seed, purpose and item alone, and are even."""
    found = uniforms(1, "a", 2, (100, 50))
    assert np.array_equal(found, uniforms(1, "a", 2, (100, 50)))
    assert not np.array_equal(found, uniforms(1, "b", 2, (100, 50)))
    assert found.mean() == pytest.approx(0.5, abs=0.02)


def test_all_that_a_book_gives():
    """One call gives fits, weights, draws, ordered ranges and the test, the same each time; 3 rows get no test."""
    rows = book(40, 6)
    found = fitted(rows, 1, 50)
    assert (len(found.draws), sum(found.weights)) == (50, pytest.approx(1))
    assert found.mean[0] < found.mean[1] < found.mean[2]
    assert found.median[0] < 60 < found.median[2]
    assert found.log_median_error == pytest.approx(np.log(found.median[2] / found.median[0]) / 3.29, rel=0.35)
    assert found.test is not None
    assert found.test.chance > 0.01
    assert found.draws == fitted(rows, 1, 50).draws
    assert fitted(exact([2.0, 5.0, 9.0]), 1, 20).test is None


@pytest.mark.slow
@pytest.mark.parametrize("patients", [50, 200, 700])
def test_ranges_cover_the_truth(patients):
    """Of 300 drawn books the 90 % range of the mean, and of the median, holds the truth in 85 to 95 of 100."""
    means, medians = [], []
    for seed in range(300):
        rows = book(patients, 1_000 + seed)
        laws = joint_draws(fit_laws(rows), rows, 200, seed)
        for found, values, true in (
            (means, [moment(law) for law in laws], 81.874),
            (medians, [median(law) for law in laws], 60.0),
        ):
            low, _, high = spread(values)
            found.append(low <= true <= high)
    assert 0.85 <= np.mean(means) <= 0.95
    assert 0.85 <= np.mean(medians) <= 0.95


@pytest.mark.slow
def test_the_test_rejects_as_often_as_it_says():
    """Of 200 lognormal books by dates, 5 in 100 are rejected at 5 % (2 to 9)."""
    rejected = []
    for seed in range(200):
        rows = book(80, 5_000 + seed)
        fit = fit_law(rows, "lognormal")
        rejected.append(adequacy(fit.law, rows, refits(fit, rows, 99, seed), seed).chance <= 0.05)
    assert 0.02 <= np.mean(rejected) <= 0.09
