"""Pairs of levels of the reorder rule: which are tried, and what the fleet and the least order allow."""

import pytest
from test_sizing import WARD

from o2sim.errors import O2simError
from o2sim.scenario import loads
from o2sim.scenario.changing.level_pairs import all_pairs, as_levels, present, raised_pairs, read_pair


def hospital(**more):
    """Return the ward: a fleet of 24, ordered at 14 up to 20, three at least."""
    text = WARD
    for before, after in more.items():
        text = text.replace(before.replace("_", " "), after)
    return loads(text).hospitals["mixed"]


def test_pairs_stay_within_the_fleet_and_the_least_order():
    """Up to half the fleet and more, never above it, never nearer than the least order; the file's is there."""
    pairs = [read_pair(text) for text in all_pairs(hospital())]
    assert (14, 20) in pairs
    assert {upto for _, upto in pairs} == {12, 16, 20, 24}
    assert all(upto - point >= 3 for point, upto in pairs)
    assert len(set(pairs)) == len(pairs) > 12


def test_raised_pairs_order_earlier_worked_by_hand():
    """Levels 20, 22 and 24, each 3, 4 and 6 below: those at or above 14, without the pair of the file."""
    found = "16/20, 17/20, 16/22, 18/22, 19/22, 18/24, 20/24, 21/24"
    assert raised_pairs(hospital()) == tuple(found.split(", "))
    assert present(hospital()) == (14, 20)


def test_a_pair_is_two_fields():
    """Reorder point and order-up-to level, in this order."""
    assert as_levels("26/34") == {"resupply.reorder_point": "26", "resupply.order_up_to": "34"}


@pytest.mark.parametrize("text", ["26", "26/", "a/b", "26/34/40", "-1/4"])
def test_what_is_no_pair_is_refused(text):
    """With what was found and the form that is allowed."""
    with pytest.raises(O2simError, match=r"allowed: resupply\.levels = 26/34"):
        read_pair(text)


def test_without_cylinders_there_are_no_levels():
    """A strategy of units alone is refused."""
    with pytest.raises(O2simError, match="no cylinders that are ordered again"):
        all_pairs(loads(WARD).hospitals["concentrators only"])
