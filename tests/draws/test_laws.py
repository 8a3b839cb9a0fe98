"""Every law of chance against scipy.stats and printed tables, and the one rounding of draws."""

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from o2sim.draws import Series, quantile
from o2sim.draws.laws import whole
from o2sim.scenario.types.hospital import Law

GRID = np.concatenate(
    [np.geomspace(1e-12, 0.05, 40), np.linspace(0.06, 0.94, 89), 1 - np.geomspace(0.05, 1e-9, 40)]
)
# Parameters in the order of scenario.types.Law, scales large enough that rounding to whole numbers is not seen.
LAWS = [
    (Law("exponential", (3e5,)), stats.expon(scale=3e5)),
    (Law("lognormal", (13.0, 0.7)), stats.lognorm(s=0.7, scale=math.exp(13.0))),
    (Law("gamma", (4.0, 1e5)), stats.gamma(4.0, scale=1e5)),
    (Law("gamma", (0.4, 1e7)), stats.gamma(0.4, scale=1e7)),
    (Law("weibull", (1.7, 3e5)), stats.weibull_min(1.7, scale=3e5)),
    (Law("weibull", (0.6, 3e6)), stats.weibull_min(0.6, scale=3e6)),
    (Law("uniform", (1e5, 4e5)), stats.uniform(1e5, 3e5)),
    (Law("triangular", (1e5, 2e5, 6e5)), stats.triang(0.2, loc=1e5, scale=5e5)),
    (Law("triangular", (1e5, 1e5, 6e5)), stats.triang(0.0, loc=1e5, scale=5e5)),
    (Law("triangular", (1e5, 6e5, 6e5)), stats.triang(1.0, loc=1e5, scale=5e5)),
]
IDS = [f"{law.kind}{law.parameters}" for law, _ in LAWS]
KOLMOGOROV = 2.23  # exceeded by sqrt(n) D once in 10,000: 2 exp(-2 x 2.23^2), Kolmogorov 1933


def _draws(law: Law, count: int) -> list[int]:
    series = Series((17, 0), law, "test", 0)
    return [series[ordinal] for ordinal in range(count)]


@pytest.mark.parametrize(("law", "reference"), LAWS, ids=IDS)
def test_quantiles_against_scipy_stats(law: Law, reference: Any) -> None:
    """The inverse transform is SciPy's percent point function, far into both tails."""
    assert quantile(law, GRID) == pytest.approx(reference.ppf(GRID), rel=1e-9)


@pytest.mark.parametrize(("law", "reference"), LAWS, ids=IDS)
def test_the_share_below_a_quantile_is_its_chance(law: Law, reference: Any) -> None:
    """SciPy's distribution function, computed apart from any inverse, leads back to the chance."""
    assert reference.cdf(quantile(law, GRID)) == pytest.approx(GRID, rel=1e-6)


@pytest.mark.parametrize(("law", "reference"), LAWS, ids=IDS)
def test_draws_against_the_law_by_kolmogorov_and_mean(law: Law, reference: Any) -> None:
    """4,000 draws of a series: the greatest distance of the distribution functions, and the mean, |z| < 4."""
    count = 4_000
    drawn = _draws(law, count)
    assert stats.ks_1samp(drawn, reference.cdf).statistic * math.sqrt(count) < KOLMOGOROV
    assert abs(np.mean(drawn) - reference.mean()) < 4 * reference.std() / math.sqrt(count)


@pytest.mark.parametrize(
    ("law", "chance", "value"),
    [
        (Law("gamma", (5.0, 2.0)), 0.95, 18.307),  # chi-square, 10 degrees of freedom
        (Law("gamma", (0.5, 2.0)), 0.95, 3.841),  # chi-square, 1 degree of freedom
        (Law("lognormal", (0.0, 1.0)), 0.975, math.exp(1.959964)),  # the normal table
        (Law("exponential", (10.0,)), 0.5, 10 * math.log(2)),  # the half-life
        (Law("weibull", (3.0, 7.0)), 1 - math.exp(-1), 7.0),  # the characteristic life, whatever the shape
        (Law("triangular", (0.0, 2.0, 10.0)), 0.2, 2.0),  # the mode: (mode - low) / (high - low) lies below
        (Law("uniform", (2.0, 10.0)), 0.25, 4.0),
    ],
)
def test_quantiles_against_printed_tables(law: Law, chance: float, value: float) -> None:
    """Values that stand in any book of statistical tables (from memory)."""
    assert quantile(law, np.array([chance]))[0] == pytest.approx(value, rel=2e-4)


def test_a_constant_is_always_itself() -> None:
    """Whatever the uniform number."""
    assert quantile(Law("constant", (7.5,)), GRID).tolist() == [7.5] * len(GRID)
    assert set(_draws(Law("constant", (86_400.0,)), 40)) == {86_400}


def test_empirical_quantiles_against_numpy() -> None:
    """Each of the values is as likely; one that stands twice is twice as likely."""
    values = (3.0, 5.0, 5.0, 8.0, 13.0, 21.0, 34.0)
    law = Law("empirical", values)
    assert quantile(law, GRID).tolist() == np.quantile(values, GRID, method="inverted_cdf").tolist()
    counts = np.unique(_draws(law, 7_000), return_counts=True)[1]
    assert stats.chisquare(counts, [1_000, 2_000, 1_000, 1_000, 1_000, 1_000]).pvalue > 1e-4


@pytest.mark.parametrize("law", [law for law, _ in LAWS], ids=IDS)
def test_quantiles_rise_and_are_finite_at_the_ends(law: Law) -> None:
    """From the least to the greatest uniform number there is, 2^-54 and 1 - 2^-53."""
    ends = np.array([2.0**-54, *GRID, 1 - 2.0**-53])
    values = quantile(law, ends)
    assert np.isfinite(values).all()
    assert (np.diff(values) >= 0).all()
    assert values[0] >= 0


def test_rounding_is_to_the_nearest_whole_half_to_even_and_never_below_the_least() -> None:
    """The rounding of IEEE 754, then the least value: one second where a length can't be nothing."""
    values = np.array([-3.0, 0.0, 0.49, 0.5, 0.51, 1.5, 2.5, 3.5, 86_399.5])
    assert whole(values, 1).tolist() == [1, 1, 1, 1, 1, 2, 2, 4, 86_400]
    assert whole(values, 0).tolist() == [0, 0, 0, 0, 1, 2, 2, 4, 86_400]
    assert whole(values, 0).dtype == np.int64
