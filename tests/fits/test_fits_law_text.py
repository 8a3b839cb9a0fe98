"""Fitted laws as texts of a scenario: figures, ranges whose 5 and 95 % points are met, and what is too little."""

import numpy as np
import pytest
from scipy import stats

from o2sim.fits.law_panels import over_panel
from o2sim.fits.law_text import (
    fitted_or_none,
    law_cautions,
    law_text,
    law_with_ranges,
    plain,
    range_text,
    some,
    too_few,
)
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.spells import exact, joined, still_on
from o2sim.statistics.fitting.whole import fitted


@pytest.mark.parametrize(
    ("number", "text"), [(0, "0"), (1234.56, "1235"), (0.00012345, "0.0001234"), (3.0, "3"), (float("inf"), "inf")]
)
def test_figures_have_no_exponent(number, text):
    """Four digits, no exponent, which a scenario would not read."""
    assert plain(number) == text


def test_a_range_meets_its_points():
    """The PERT law of the ends that are written has 5 and 95 % points of the draws, by scipy's beta."""
    values = np.random.default_rng(1).lognormal(1, 0.3, 4_000)
    ends = [float(part.split()[1]) for part in range_text(values, 2.7, "h").strip("{}").split(", ")]
    low, likely, high = ends
    law = stats.beta(
        1 + 4 * (likely - low) / (high - low), 1 + 4 * (high - likely) / (high - low), low, high - low
    )
    assert law.ppf([0.05, 0.95]) == pytest.approx(np.quantile(values, [0.05, 0.95]), rel=2e-3)


def test_a_range_without_width_or_with_a_stray_estimate():
    """No spread is one figure; an estimate outside the points gives way to the median."""
    assert range_text([2.0] * 9, 2.0, "h") == "2 h"
    assert "likely: 1.5" in range_text(np.linspace(1, 2, 101), 9.0, "h")
    assert "likely: 2" in range_text([1.0] * 150 + [3.0] * 50, 1.0)  # most draws at one end: what is midway


def test_laws_in_the_words_of_a_scenario():
    """Each kind by the parameters that a scenario takes, brought inside what it takes."""
    assert law_text(Law("gamma", (4.0, 1.5)), "days") == "{gamma: {mean: 6 days, sd: 3 days}}"
    assert law_text(Law("lognormal", (0.0, np.log(2))), "h") == "{lognormal: {median: 1 h, geometric_sd: 2}}"
    assert law_text(Law("weibull", (1.0, 5.0)), "h") == "{weibull: {mean: 5 h, shape: 1}}"
    assert law_text(Law("exponential", (1e9,)), "h") == "{exponential: {mean: 876000 h}}"


def test_ranges_of_a_law_are_by_the_draws_of_its_own_kind():
    """Two laws of the kind give a range; one, or others, none."""
    law, wider = Law("exponential", (5.0,)), Law("exponential", (7.0,))
    other = Law("gamma", (1.0, 2.0))
    assert law_with_ranges(law, (law, other), "h") == "{exponential: {mean: 5 h}}"
    assert "mean: {low:" in law_with_ranges(law, (law, wider, other), "h")


def test_too_little_for_a_law():
    """None that is over, or one, gives no law, and the sentence says what there is."""
    assert fitted_or_none(exact([3.0]), 1) is None
    rows = joined(exact([3.0]), still_on([5.0]))
    assert too_few("repairs", rows, "days") == (
        "repairs: 1 of 2 over, 8 days in all: too few for a range, so that nothing is written"
    )
    assert some(1, "closure") == "1 closure"


def test_a_law_that_does_not_fit_is_said():
    """Two heaps far apart are no law of these: p by bootstrap is small, and said; ten rows are not called few."""
    rows = exact(np.r_[np.linspace(1, 1.1, 30), np.linspace(900, 1_000, 30)])
    found = fitted(rows, 1)
    (caution,) = law_cautions("lead times", found, 60)
    assert caution.startswith("lead times: no law that was tried describes them well")
    panel = over_panel("Lead time", "days", rows, found.fits[0].law, found.draws)
    assert (panel.curves[0].y[-1], panel.curves[0].kind) == (100, "steps")
    assert np.all(panel.curves[1].band[0] <= panel.curves[1].band[1])
