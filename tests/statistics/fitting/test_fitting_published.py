"""Fits and curves against published tables on open data, named beside each set in published_lives.py."""

import numpy as np
import pytest
from published_lives import (
    AIR_CONDITIONING_H,
    FANS,
    LUNG_DEATHS,
    PUMP_FAILURES,
    PUMP_THOUSAND_H,
    REMISSION,
    TRIALS,
    VALVE_SEATS,
)

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.failures import Failures, chi_square_range, expected_failures, mean_time
from o2sim.statistics.fitting.maximum import fit_law
from o2sim.statistics.fitting.pooling import pooled_means, pooled_rates
from o2sim.statistics.fitting.season import season
from o2sim.statistics.fitting.spells import exact, joined, still_on
from o2sim.statistics.fitting.survivors import kaplan_meier, mean_cumulative
from o2sim.statistics.fitting.whole import fitted


def lives(rows):
    """Return times and whether they ended from rows of (time, ended, how many)."""
    times, ended, counts = (np.array(column) for column in zip(*rows, strict=True))
    return np.repeat(times, counts).astype(float), np.repeat(ended, counts)


@pytest.fixture(scope="module")
def fans():
    """The hours of 70 fans and which failed."""
    return lives(FANS)


def test_fans_of_diesel_generators(fans):
    """12 of 70 fans failed: mean 28,700 h (Nelson 1969), Weibull shape 1.06 and likelihood ratio 0.05."""
    hours, failed = fans
    rows = joined(exact(hours[failed]), still_on(hours[~failed]))
    plain, weibull = (fit_law(rows, kind) for kind in ("exponential", "weibull"))
    assert plain.law.parameters == pytest.approx((28_703.33,), rel=1e-6)
    assert weibull.law.parameters == pytest.approx((1.05845, 26_296.8), rel=1e-4)
    assert [plain.log_likelihood, weibull.log_likelihood] == pytest.approx([-135.1772, -135.1527], abs=1e-4)
    assert 2 * (weibull.log_likelihood - plain.log_likelihood) == pytest.approx(0.04901, abs=1e-4)


def test_range_of_the_mean_time_of_fans(fans):
    """All 344,440 hours count, not those of failed fans alone: 17,716 to 49,744 h by chi squared (Nelson 1982)."""
    hours, failed = fans
    seen = Failures(int(failed.sum()), float(hours.sum()))
    assert (seen.failures, seen.hours, mean_time(seen)) == pytest.approx((12, 344_440, 28_703.33), rel=1e-6)
    assert chi_square_range(seen) == pytest.approx((17_716, 49_744), rel=1e-4)
    assert hours[failed].mean() == pytest.approx(3047.5)


def test_laws_considered_for_fans(fans):
    """Of exponential and Weibull alone the first is preferred by 2 - 0.049, and its own draws span chi squared's
    range."""
    hours, failed = fans
    found = fitted(joined(exact(hours[failed]), still_on(hours[~failed])), 1, kinds=("exponential", "weibull"))
    assert [fit.law.kind for fit in found.fits] == ["exponential", "weibull"]
    assert found.fits[1].aic - found.fits[0].aic == pytest.approx(2 - 0.04901, abs=1e-4)
    assert {law.kind for law in found.own} == {"exponential"}
    points = np.quantile([law.parameters[0] for law in found.own], [0.05, 0.95])
    assert points == pytest.approx([17_716, 49_744], rel=0.2)


def test_expected_failures_in_closed_form():
    """As new after each failure: exponential t / mean, gamma of shape 2 t / 2b - (1 - exp(-2t / b)) / 4."""
    ages, plain = expected_failures(Law("exponential", (3.0,)), 12.0)
    assert plain == pytest.approx(ages / 3, rel=2e-3)
    _, gamma = expected_failures(Law("gamma", (2.0, 1.5)), 12.0)
    assert gamma == pytest.approx(ages / 3 - (1 - np.exp(-2 * ages / 1.5)) / 4, abs=5e-3)
    assert (ages[0], ages[-1], len(ages)) == (0, 12, 61)


def test_curve_of_fans(fans):
    """Kaplan and Meier's estimate for the fans at ten ages."""
    curve = kaplan_meier(*fans)
    assert curve.times.tolist() == [450, 1150, 1600, 2070, 2080, 3100, 3450, 4600, 6100, 8750]
    assert curve.values == pytest.approx(
        [0.98571, 0.95672, 0.942, 0.90775, 0.89062, 0.87167, 0.8523, 0.82723, 0.79542, 0.70704], abs=1e-5
    )


def test_remission_under_6_mp():
    """9 of 21 relapsed in 359 weeks: the curve of the textbooks, and Weibull 1.354 with scale 33.77 weeks."""
    weeks, ended = np.array([t for t, _ in REMISSION], float), np.array([over for _, over in REMISSION])
    curve = kaplan_meier(weeks, ended)
    assert curve.values == pytest.approx([0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=5e-5)
    rows = joined(exact(weeks[ended]), still_on(weeks[~ended]))
    assert fit_law(rows, "exponential").law.parameters == pytest.approx((39.8889,), abs=1e-4)
    assert fit_law(rows, "weibull").law.parameters == pytest.approx((1.35373, 33.7652), rel=1e-5)


def test_air_conditioning():
    """Mean 108.083 h and gamma shape 0.7065 (Proschan's data; Davison and Hinkley, Bootstrap Methods, 1997)."""
    rows = exact(AIR_CONDITIONING_H)
    assert fit_law(rows, "exponential").law.parameters == pytest.approx((108.0833,), abs=1e-4)
    assert fit_law(rows, "gamma").law.parameters[0] == pytest.approx(0.70649, abs=1e-5)


def test_pumps_borrow_from_each_other():
    """Shape 0.823 and 1.26 thousand hours; the pooled rates of pumps 1, 7 and 10 (Gaver and O'Muircheartaigh
    1987)."""
    pooled = pooled_rates(PUMP_FAILURES, PUMP_THOUSAND_H)
    assert (pooled.shape, pooled.rate) == pytest.approx((0.823, 1.2617), abs=5e-4)
    assert pooled.means[[0, 6, 9]] == pytest.approx([0.0609, 0.7886, 1.9405], abs=1e-4)
    assert np.all(np.diff(pooled.points) > 0)


def test_valve_seats():
    """48 replacements on 41 engines: the mean cumulative function at 61 and 653 days (Nelson and Doganaksoy
    1989)."""
    rows = [
        (engine, day, place < len(days) - 1)
        for engine, days in enumerate(VALVE_SEATS)
        for place, day in enumerate(days)
    ]
    engines, days, replaced = zip(*rows, strict=True)
    curve = mean_cumulative(engines, days, replaced)
    assert (len(VALVE_SEATS), sum(replaced)) == (41, 48)
    assert [curve.at(60, 0), curve.at(61, 0), curve.at(653, 0)] == pytest.approx([0, 0.0244, 1.5427], abs=5e-5)


def test_season_of_lung_deaths():
    """Deaths by month have a ratio of 2.139 around the year, and far more spread than Poisson's: D 27.7."""
    found = season(LUNG_DEATHS, (np.arange(72) + 0.5) * 365.25 / 12)
    assert (found.ratio, found.rates.dispersion) == pytest.approx((2.13946, 27.709), rel=1e-4)
    assert found.is_kept
    assert found.low < found.ratio < found.high
    assert 20 < found.peak_day < 60  # February


def test_trials_of_a_vaccine():
    """Restricted likelihood gives a variance of 0.313 between 13 log risk ratios and a mean of -0.7145.

    Figures of the same estimator as mostly quoted for these trials, from memory.
    """
    sick, well, others_sick, others_well = np.array(TRIALS, float).T
    log_ratio = np.log(sick / (sick + well)) - np.log(others_sick / (others_sick + others_well))
    variance = 1 / sick - 1 / (sick + well) + 1 / others_sick - 1 / (others_sick + others_well)
    pooled = pooled_means(log_ratio, np.sqrt(variance))
    assert (pooled.between, pooled.mean, pooled.mean_error) == pytest.approx((0.3132, -0.7145, 0.1798), abs=5e-5)


def test_a_class_without_rows_gets_the_mean_and_its_doubt():
    """A class that nobody wrote anything of gets the mean of the others, with the spread between classes."""
    pooled = pooled_means([1.0, 2.0, 3.0, np.nan], [0.1, 0.1, 0.1, np.inf])
    assert pooled.estimates[3] == pytest.approx(pooled.mean)
    assert pooled.errors[3] == pytest.approx(np.hypot(pooled.between**0.5, pooled.mean_error))
    assert pooled_means([1.0, 1.01, 1.02], [0.5, 0.5, 0.5]).between == 0
