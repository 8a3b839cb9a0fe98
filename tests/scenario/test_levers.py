"""Lists and ranges of values as written on the command line."""

import pytest

from o2sim.errors import O2simError
from o2sim.scenario.changing.levers import lever, points, quantity, read_lever


@pytest.mark.parametrize(
    ("text", "values", "numbers", "unit"),
    [
        ("1 h, 2 h", ("1 h", "2 h"), (1, 2), "h"),
        ("30 min, 1 h", ("30 min", "1 h"), (30, 60), "min"),
        ("40..46 step 3", ("40", "43", "46"), (40, 43, 46), ""),
        ("40..45 step 3", ("40", "43", "45"), (40, 43, 45), ""),
        ("1..3", ("1", "2", "3"), (1, 2, 3), ""),
        ("0.1 h..0.3 h step 0.1 h", ("0.1 h", "0.2 h", "0.3 h"), (0.1, 0.2, 0.3), "h"),
        ("1 .. 2 kWh step 0.5", ("1 kWh", "1.5 kWh", "2 kWh"), (1, 1.5, 2), "kWh"),
        ("watched, 2 h", ("watched", "2 h"), None, ""),
        ("{gamma: {mean: 1 h, sd: 2 h}}, 3 h", ("{gamma: {mean: 1 h, sd: 2 h}}", "3 h"), None, ""),
        ("5 L, 3 h", ("5 L", "3 h"), None, ""),
    ],
)
def test_lists_and_ranges(text, values, numbers, unit):
    """Both ends belong to a range; numbers are in the unit of the first."""
    found = lever("x", text)
    assert found.values == values
    assert found.numbers == (None if numbers is None else pytest.approx(numbers))
    assert found.unit == unit


def test_a_range_with_a_unit_and_no_step_has_ten_steps():
    """Eleven values, evenly spaced."""
    assert len(lever("x", "1 h..6 h").values) == 11


@pytest.mark.parametrize(
    "text",
    [
        "",
        "1,,2",
        "5..4",
        "1..2 step 0",
        "1..2 step -1",
        "a..b",
        "1 h..2 min",
        "1..1000 step 1",
        "1, 1",
        "1..2 step x",
    ],
)
def test_what_is_no_list_is_refused(text):
    """The message names the field and the form."""
    with pytest.raises(O2simError, match=r"^vary x: "):
        lever("x", text)


def test_points_are_all_combinations():
    """The last field goes fastest; a field twice or too many combinations are refused."""
    found = points([lever("a", "1, 2"), lever("b", "3, 4")])
    assert found == [{"a": "1", "b": "3"}, {"a": "1", "b": "4"}, {"a": "2", "b": "3"}, {"a": "2", "b": "4"}]
    with pytest.raises(O2simError, match="a field twice in a, a"):
        points([lever("a", "1, 2"), lever("a", "3, 4")])
    with pytest.raises(O2simError, match="found 10,000 combinations"):
        points([lever("a", "1..100"), lever("b", "1..100")])


def test_a_lever_is_a_field_and_perhaps_values():
    """Field and values are told apart by the equals sign; headings carry the unit."""
    assert read_lever(" a.b = 1..2 ") == ("a.b", "1..2")
    assert read_lever("a.b") == ("a.b", "")
    assert quantity("watched") is None
    assert [lever("x", "1 h, 2 h").heading, lever("x", "1, 2").heading] == ["x (h)", "x"]
    with pytest.raises(O2simError, match="vary: found '= 3'"):
        read_lever("= 3")
