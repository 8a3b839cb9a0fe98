"""Durations as books show them: dates only, spells not over, spells from before, rounding, and what leaving any
out does."""

import numpy as np
import pytest
from scipy import stats

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import cdf, moment, quantile
from o2sim.statistics.fitting.maximum import fit_law
from o2sim.statistics.fitting.spells import (
    between,
    exact,
    grouped,
    in_steps,
    joined,
    log_chances,
    rounded,
    still_on,
)
from o2sim.statistics.fitting.waiting import (
    mean_of_those_over,
    mean_total_in_a_crowd,
    median_total_in_a_crowd,
    share_over,
)

STAY = Law("lognormal", (np.log(60), np.log(2.2)))
DAYS = np.arange(1500)


def date_differences():
    """Return the chances of differences of dates by numbers drawn: none of the code under test."""
    rng = np.random.default_rng(5)
    ends = rng.random(400_000) + stats.lognorm(np.log(2.2), scale=60).rvs(400_000, random_state=rng) / 24
    return np.bincount(np.floor(ends).astype(int), minlength=6)[:6] / 400_000


def test_chances_of_date_differences():
    """Differences of 0 to 5 days of stays of median 60 h: by drawing stays and clocks, to 0.002, and figures to
    1e-6."""
    found = np.exp(log_chances(STAY, in_steps(np.arange(6), 24)))
    assert found == pytest.approx(date_differences(), abs=2e-3)
    assert found == pytest.approx([0.03542, 0.22198, 0.239252, 0.166142, 0.10768, 0.069909], abs=1e-6)


def test_dates_keep_the_mean_and_add_to_the_spread():
    """The mean difference is the mean stay; the chances of all differences are 1."""
    chances = np.exp(log_chances(STAY, in_steps(DAYS, 24)))
    mean = float(chances @ DAYS)
    assert chances.sum() == pytest.approx(1, abs=1e-9)
    assert mean == pytest.approx(moment(STAY) / 24, abs=1e-6)
    assert float(chances @ (DAYS - mean) ** 2) ** 0.5 == pytest.approx(3.1936, abs=1e-3)


@pytest.mark.parametrize(
    ("reading", "median_h", "gsd", "mean_h"),
    [
        ("both ends by date", 60.0, 2.2, 81.87),
        ("24 h x days, 0 dropped", 64.19, 2.0668, 83.55),
        ("24 h x days, 0 as half a day", 60.49, 2.176, 81.84),
        ("both end days counted", 88.35, 1.7871, 104.57),
        ("from n to n + 1 days", 74.42, 1.9466, 92.91),
        ("half a day on either side", 59.13, 2.2694, 82.73),
    ],
)
def test_what_an_endless_book_of_dates_gives(reading, median_h, gsd, mean_h):
    """Only the likelihood of both ends by date gives back the stays; five others are off as computed
    independently."""
    chances = np.exp(log_chances(STAY, in_steps(DAYS, 24)))
    hours = 24.0 * DAYS
    rows = {
        "both ends by date": lambda: in_steps(DAYS, 24),
        "24 h x days, 0 dropped": lambda: exact(np.maximum(hours, 1)),
        "24 h x days, 0 as half a day": lambda: exact(np.where(DAYS == 0, 12, hours)),
        "both end days counted": lambda: exact(hours + 24),
        "from n to n + 1 days": lambda: between(hours, hours + 24),
        "half a day on either side": lambda: rounded(hours, 24),
    }[reading]()
    weights = np.where((DAYS == 0) & (reading == "24 h x days, 0 dropped"), 0, chances)
    law = fit_law(rows, "lognormal", weights).law
    found = [np.exp(law.parameters[0]), np.exp(law.parameters[1]), moment(law)]
    assert found == pytest.approx([median_h, gsd, mean_h], rel=2e-4)


@pytest.mark.parametrize(("days", "share", "mean_h"), [(30, 0.88651, 73.091), (91, 0.96251, 79.126)])
def test_the_mean_of_those_discharged_is_too_short(days, share, mean_h):
    """An empty ward fills for 30 or 91 days; those still on are left out: by the formula and by drawing stays."""
    rng = np.random.default_rng(days)
    stays = stats.lognorm(np.log(2.2), scale=60).rvs(400_000, random_state=rng)
    over = stays[rng.random(400_000) * days * 24 + stays <= days * 24]
    found = share_over(STAY, days * 24), mean_of_those_over(STAY, days * 24)
    assert found == pytest.approx((share, mean_h), abs=2e-3)
    assert found == pytest.approx((len(over) / 400_000, over.mean()), rel=5e-3)


def test_stays_not_over_keep_the_mean_right():
    """With those still on kept in, 20,000 stays of a 30-day book that starts empty give the law back."""
    rng = np.random.default_rng(3)
    begun = rng.random(20_000) * 30
    ends = begun + stats.lognorm(np.log(2.2), scale=2.5).rvs(20_000, random_state=rng)
    is_over = ends < 30
    n = np.where(is_over, np.floor(ends) - np.floor(begun), 30 - np.floor(begun))
    law = fit_law(in_steps(n, 24, is_over), "lognormal").law
    assert [np.exp(law.parameters[0]), np.exp(law.parameters[1])] == pytest.approx([60, 2.2], rel=0.02)


def test_those_there_when_the_book_begins_count_as_long_ones():
    """Stays met as a book begins give the law back only on condition that they lasted till then."""
    rng = np.random.default_rng(4)
    begun = -rng.random(300_000) * 200  # days before the book
    stays = stats.lognorm(np.log(2.2), scale=2.5).rvs(300_000, random_state=rng)
    there = begun + stays > 0
    first, n = np.floor(begun[there]), np.floor(begun[there] + stays[there]) - np.floor(begun[there])
    right = fit_law(in_steps(n, 24, entry=-first), "lognormal").law
    blind = fit_law(in_steps(n, 24), "lognormal").law
    assert moment(right) == pytest.approx(81.87, rel=0.08)
    assert moment(blind) == pytest.approx(mean_total_in_a_crowd(STAY), rel=0.08)


def test_a_ward_at_a_random_moment():
    """Those on oxygen at a count have long stays: mean 152.451 h, median exp(mu + s^2), of the length-biased
    law."""
    assert mean_total_in_a_crowd(STAY) == pytest.approx(152.451, abs=1e-3)
    assert mean_total_in_a_crowd(STAY) / moment(STAY) == pytest.approx(1.862, abs=1e-3)
    assert median_total_in_a_crowd(STAY) == pytest.approx(60 * np.exp(np.log(2.2) ** 2), rel=1e-6)


def test_usual_clocks_shift_the_dates():
    """Begun at 15:00 and ended at 10:00 a stay is 5 h shorter than its dates say: stays of 4.79 days look like
    5."""
    plain = fit_law(in_steps([4, 5, 5, 5, 6], 24), "lognormal").law
    shifted = fit_law(in_steps([4, 5, 5, 5, 6], 24, shift=-5 / 24), "lognormal").law
    assert moment(plain) - moment(shifted) == pytest.approx(5, abs=0.1)
    for shift in (-0.4, 0.4):
        chances = np.exp(log_chances(STAY, in_steps(DAYS, 24, shift=shift)))
        assert chances.sum() == pytest.approx(1, abs=1e-9)


def test_known_entry_and_censoring_by_scipy():
    """Known clocks: density over survival at entry, and survival over survival, by scipy.stats."""
    known = stats.gamma(0.7, scale=90)
    law = Law("gamma", (0.7, 90.0))
    rows = joined(exact([50], entry=[20]), still_on([70], entry=[20]), between([10], [30]))
    expected = [known.pdf(50) / known.sf(20), known.sf(70) / known.sf(20), known.cdf(30) - known.cdf(10)]
    assert np.exp(log_chances(law, rows)) == pytest.approx(expected, rel=1e-9)


def test_grouping_changes_no_likelihood():
    """Rows that repeat are counted: the sum of logarithms stays."""
    rows = in_steps([3, 1, 3, 3, 2, 1], 24, [True, True, False, True, True, True], limit=[9, 8, 3, 7, 6, 5])
    few, counts = grouped(rows)
    assert sorted(counts.tolist()) == [1, 1, 2, 2]
    assert counts @ log_chances(STAY, few) == pytest.approx(log_chances(STAY, rows).sum(), rel=1e-12)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: exact([4, 0]), r"row 2 of 2 says 0 to 0"),
        (lambda: between([5], [2]), r"row 1 of 1 says 5 to 2"),
        (lambda: in_steps([2.5]), r"whole numbers"),
        (lambda: in_steps([2], entry=[3]), r"no end before the book began"),
        (lambda: exact([float("nan")]), r"row 1 of 1 says nan"),
    ],
)
def test_impossible_rows_are_named(make, message):
    """Durations of 0, ends before beginnings or before the book, half dates and blanks are refused by row."""
    with pytest.raises(ValueError, match=message):
        make()


def test_quantiles_undo_chances():
    """Far out too, the value at the chance of a value is that value."""
    for law in (STAY, Law("gamma", (3.0, 20.0)), Law("weibull", (0.8, 50.0))):
        assert quantile(law, cdf(law, [1.0, 50.0, 400.0])) == pytest.approx([1.0, 50.0, 400.0], rel=1e-6)
