"""How fitted numbers are written: ranges within what a key allows, the estimate as the likely value."""

from __future__ import annotations

import numpy as np
import pytest

from o2sim.fits.found import Number
from o2sim.questions.fit.choosing import field_of, home_of, path_of
from o2sim.questions.fit.ranges import digits, limits, ranged
from o2sim.statistics.fitting.pert import pert_quantile

SHARE = ("patients", "children", "recognised")


def evenly(low, high):
    """Return draws spread evenly, 5 % of them below a tenth of the way from -1/18 on."""
    return np.linspace(low, high, 201)


def ends(text):
    """Return the figures of a range as it is written, without units."""
    return [float(part.split(":")[1].strip(" %hmL}").split()[0]) for part in text.split(",")]


def test_a_share_stays_within_0_and_100_percent_with_its_estimate():
    """Near 100 % the high end stands there, the estimate stays the likely value, and the lower point is met."""
    number = Number(".".join(SHARE), "%", 90.0, np.clip(evenly(60.0, 104.0), 0, 100))
    made = ranged(number, SHARE)
    low, likely, high = ends(made.text)
    assert (likely, high) == (90.0, 100.0)
    assert float(pert_quantile(low, likely, high, 0.05)) == pytest.approx(np.quantile(number.draws, 0.05), abs=0.2)


def test_a_number_that_cannot_be_below_1_starts_there():
    """Variance over mean near Poisson: low is 1, the 95 % point is that of the draws, the estimate is likely."""
    number = Number("patients.children.overdispersion", "", 2.13, np.maximum(evenly(0.0, 4.5), 1.0))
    low, likely, high = ends(ranged(number, ("patients", "children", "overdispersion")).text)
    assert (low, likely) == (1.0, 2.13)
    assert float(pert_quantile(low, likely, high, 0.95)) == pytest.approx(
        np.quantile(number.draws, 0.95), abs=0.01
    )


def test_points_that_no_range_has_are_kept_for_a_caution():
    """Draws heaped at both ends have points that no such law has; what the range has is said."""
    heaped = np.where(np.arange(200) % 2, 1.0, 99.0)
    made = ranged(Number(".".join(SHARE), "%", 50.0, heaped), SHARE)
    assert made.reached is not None
    assert made.reached[0] > 10.0
    assert ends(made.text) == [0.0, 50.0, 100.0]


@pytest.mark.parametrize(
    ("key", "unit", "likely", "draws", "text"),
    [
        ("cylinders.fleet", "", 40.2, evenly(30, 50), "{low: 25, likely: 40, high: 55}"),
        ("cylinders.fleet", "", 40.0, evenly(39.9, 40.1), "40"),
        ("cylinders.leak", "L/min", 0.1, np.full(200, 0.1), "0.1 L/min"),
        ("power.grid.up.exponential.mean", "h", 1234.5678, np.full(200, 1234.5678), "1234.6 h"),
    ],
)
def test_what_is_written(key, unit, likely, draws, text):
    """Whole numbers are whole, what does not vary has no range, a number has five digits that count."""
    made = ranged(Number(key, unit, likely, draws), path_of(key, ()))
    if "low" in text:
        low, middle, high = ends(made.text)
        assert middle == 40.0
        assert 20 < low < 32
        assert 48 < high < 60
        assert all(isinstance(each, int) for each in made.cells)
    else:
        assert made.text == text


@pytest.mark.parametrize(
    ("key", "unit", "expected"),
    [
        ("patients.children.recognised", "%", (0.0, 100.0)),
        ("patients.children.duration.lognormal.geometric_sd", "", (1.001, 10.0)),
        ("patients.children.duration.weibull.shape", "", (0.2, 100.0)),
        ("patients.children.season.ratio", "", (1.0, 1000.0)),
        ("patients.children.flow.gamma.mean", "mL/min", (0.0, 200_000.0)),
        ("nobody.knows", "h", (0.0, np.inf)),
        ("patients.children.recognised", "apples", (0.0, np.inf)),
    ],
)
def test_limits_are_those_of_the_key_in_the_unit_of_the_number(key, unit, expected):
    """Declared limits, turned into the unit of the fit; without any those of the part."""
    assert limits(Number(key, unit, 1.0, np.ones(2)), path_of(key, ())) == pytest.approx(expected)


def test_paths_know_classes_with_dots_and_laws():
    """A class may be called as one likes; a parameter lies in the key of its law."""
    path = path_of("patients.St. Mary.duration.lognormal.median", ("St. Mary", "St"))
    assert path == ("patients", "St. Mary", "duration", "lognormal", "median")
    assert home_of(path) == path[:3]
    assert field_of(path).kind == "law of duration"
    assert field_of(("nobody", "knows")) is None


def test_figures_never_have_powers_of_ten():
    """Five digits that count, large and small."""
    assert [digits(each) for each in (123456.7, 0.000123456, 0.0, -0.0, 1.5)] == [
        "123460", "0.00012346", "0", "0", "1.5",
    ]  # fmt: skip
