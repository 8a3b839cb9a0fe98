"""Laws of durations against scipy.stats and quadrature, and what is left of what has lasted so long."""

import numpy as np
import pytest
from scipy import integrate, stats

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting import laws

STAY = Law("lognormal", (np.log(60), np.log(2.2)))  # median 60 h, geometric sd 2.2
CASES = (
    (STAY, stats.lognorm(np.log(2.2), scale=60)),
    (Law("gamma", (0.7, 90.0)), stats.gamma(0.7, scale=90)),
    (Law("weibull", (1.5, 80.0)), stats.weibull_min(1.5, scale=80)),
    (Law("exponential", (40.0,)), stats.expon(scale=40)),
)
AT = np.array([0.5, 7.0, 60.0, 300.0, 900.0])


@pytest.mark.parametrize(("law", "known"), CASES)
def test_chances_are_those_of_scipy(law, known):
    """Cdf, survival, density, quantiles and moments by scipy.stats; nothing below 0."""
    assert laws.cdf(law, AT) == pytest.approx(known.cdf(AT), rel=1e-9)
    assert laws.survival(law, AT) == pytest.approx(known.sf(AT), rel=1e-9)
    assert laws.log_survival(law, AT) == pytest.approx(known.logsf(AT), rel=1e-9)
    assert laws.log_density(law, AT) == pytest.approx(known.logpdf(AT), rel=1e-9)
    assert laws.median(law) == pytest.approx(known.median(), rel=1e-9)
    assert laws.quantile(law, [0.01, 0.5, 0.999]) == pytest.approx(known.ppf([0.01, 0.5, 0.999]), rel=1e-9)
    assert [laws.moment(law), laws.moment(law, 2)] == pytest.approx([known.moment(1), known.moment(2)], rel=1e-6)
    assert [float(laws.cdf(law, -1)), float(laws.survival(law, -1)), float(laws.integral(law, -1))] == [0, 1, 0]


@pytest.mark.parametrize(("law", "known"), CASES)
def test_integrals_are_those_of_quadrature(law, known):
    """G, U and the partial moments by scipy's quadrature."""
    for x in AT.tolist():
        inner, _ = integrate.quad(known.cdf, 0, x, limit=200)
        part, _ = integrate.quad(lambda v: v * v * known.pdf(v), 0, x, limit=200)
        assert float(laws.integral(law, x)) == pytest.approx(inner, rel=1e-7)
        assert float(laws.beyond(law, x)) == pytest.approx(known.mean() - x + inner, rel=1e-6, abs=1e-6)
        assert float(laws.partial_moment(law, x, 2)) == pytest.approx(part, rel=1e-6)


def test_those_met_at_a_random_moment():
    """Of those on, begun nobody knows when, 0.49957 are on 48 h later: the equilibrium law of renewal theory
    (Cox 1962)."""
    assert float(laws.still_on_in_a_crowd(STAY, 48)) == pytest.approx(0.49957, abs=1e-5)
    tail, _ = integrate.quad(CASES[0][1].sf, 48, np.inf, limit=300)
    assert float(laws.still_on_in_a_crowd(STAY, 48)) == pytest.approx(tail / CASES[0][1].mean(), rel=1e-7)


def test_an_unknown_law_is_named():
    """A law that is not one of the four is refused by name."""
    with pytest.raises(ValueError, match=r"law: found 'uniform'; allowed: lognormal, gamma"):
        laws.cdf(Law("uniform", (0.0, 1.0)), 0.5)


def test_a_narrow_law_far_from_its_rows():
    """A search may try a Weibull law of shape 100 a million times too short: nothing overflows."""
    law = Law("weibull", (100.0, 1e-6))
    assert laws.log_density(law, [1.0])[0] < -1e50
    assert laws.log_survival(law, [1.0])[0] < -1e50
    assert laws.survival(law, [1.0]).tolist() == [0]
    assert laws.log_density(Law("weibull", (2.0, 3.0)), [4.0]) == pytest.approx(
        stats.weibull_min(2, scale=3).logpdf(4.0)
    )
