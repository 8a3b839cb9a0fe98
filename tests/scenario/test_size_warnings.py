"""What is legal but doubtful in cylinders of several sizes, at the key of the size."""

from __future__ import annotations

import pytest
from sized_texts import SIZED

from o2sim.scenario import loads
from o2sim.scenario.checks.checks import warnings


def doubts(text):
    """Return the places and what was found of all doubts that are not of any scenario."""
    plain = {(each.field, each.found) for each in warnings(loads(SIZED))}
    return [(each.field, each.found) for each in warnings(loads(text)) if (each.field, each.found) not in plain]


@pytest.mark.parametrize(
    ("old", "new", "field", "found"),
    [
        ("space: 6,", "space: 80,", "cylinders.sizes.large.space", "80, above the 60 of a trip"),
        (
            "order_up_to: 9",
            "order_up_to: 11",
            "resupply.sizes.large.order_up_to",
            "11, above the fleet of 10",
        ),
        (
            "reorder_point: 8",
            "reorder_point: 12",
            "resupply.sizes.small.reorder_point",
            "12, not below the fleet of 12",
        ),
        ("travel: 2 h", "travel: 90 h", "transfer.oxygen", "at the mean flow of children, of a fleet of 12"),
        (
            "{count: 4, valve: pin-index}",
            "{count: 4, valve: bullnose}",
            "cylinders.sizes.small.valve",
            "no regulator set fits pin-index",
        ),
    ],
)
def test_a_doubt_stands_at_the_key_of_the_size(old, new, field, found):
    """Found, and where."""
    seen = doubts(SIZED.replace(old, new))
    assert any(field == each[0] and found in each[1] for each in seen)


def test_a_size_for_no_use_is_named():
    """Small ones are for back-ups and the way alone; without either nothing takes them."""
    text = SIZED.replace("oxygen: cylinder, back_after: 2 h", "oxygen: none").replace(
        "  backup: {for: [children], count: 3}\n", ""
    )
    assert ("cylinders.sizes.small", "for no use under any strategy") in doubts(text)


def test_usual_ranges_hold_for_a_size():
    """A fleet of 4,000 is as doubtful as that of all cylinders, and said once."""
    seen = [field for field, _ in doubts(SIZED.replace("fleet: 12", "fleet: 4000"))]
    assert seen.count("cylinders.sizes.small.fleet") == 1
