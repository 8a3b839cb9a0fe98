"""Figures as people write them: units that suit, and no more digits than an interval bears out."""

import pytest

from o2sim.looks.figures import chance_range, estimate, hours_range, quantities, quantity


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.0000556, "h", "0.2 s"), (0.005, "h", "18 s"), (0.05, "h", "3 min"), (1.5, "h", "1.5 h"),
        (2_160.0, "h", "90 days"), (0.01, "day", "14.4 min"), (1.0, "day", "1 day"), (2.5, "days", "2.5 days"),
        (0.0, "h", "0 h"), (24_000.0, "h", "1,000 days"), (0.004, "USD", "0.004 USD"), (7.0, "", "7"),
    ],
)  # fmt: skip
def test_a_quantity_is_written_in_a_unit_that_suits_it(value, unit, text):
    """A time whose number is awkward changes its unit; what is no time, or reads well, stays."""
    assert quantity(value, unit) == text


def test_both_ends_of_a_range_have_one_unit():
    """That of the upper end."""
    assert (quantities(1.2, 1.8, "h"), quantities(0.01, 0.05, "h")) == ("1.2–1.8 h", "0.6–3 min")


@pytest.mark.parametrize(
    ("middle", "low", "high", "text"),
    [
        (20.5034, 0.0, 43.21, "21 (0–43)"), (17_612.3, 17_204.0, 17_951.0, "17,600 (17,200–18,000)"),
        (0.01234, 0.0119, 0.0131, "0.0123 (0.0119–0.0131)"), (3.0, 3.0, 3.0, "3 (3–3)"),
        (1.67, 0.0422, 8.94, "1.7 (0.04–8.9)"), (-2.0, -5.04, 1.0, "-2 (-5 to 1)"),
    ],
)  # fmt: skip
def test_an_estimate_has_no_digits_that_its_interval_does_not_bear_out(middle, low, high, text):
    """Two digits of the width, three of the figure at most, and what is above zero is never written as zero."""
    assert estimate({"mean": middle, "low": low, "high": high}) == text


def test_chances_and_hours_carry_their_units():
    """Percent, and hours that become seconds where they are few; without bounds the reason is said."""
    chance = {"estimate": 4 / 60, "low": 0.0185, "high": 0.162}
    assert chance_range(chance) == "7 % (2–16)"
    assert hours_range({"mean": 0.0000556, "low": 0.0, "high": 0.0001}) == "0.2 s (0–0.36)"
    assert hours_range({"mean": 0.0, "low": None, "high": None}) == "0 h (none seen)"
    assert hours_range({"mean": 12.0, "low": None, "high": None}) == "12 h (no interval)"
