"""Answers where cylinders come in several sizes: rules in words, handling, and questions that know no sizes."""

from __future__ import annotations

import pytest
from sized_texts import SIZED

from o2sim.desk.at_buy import purchases
from o2sim.desk.at_keep import in_sizes, sized
from o2sim.desk.owned_forms import owned_rows
from o2sim.errors import O2simError
from o2sim.questions.check.rules_in_words import sentences
from o2sim.questions.fit.levels import FLEET
from o2sim.questions.fit.writing import _no_place
from o2sim.questions.hindcast.hindcast import _require_one_size
from o2sim.scenario import loads
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.changing.override import original_of

SCENARIO = loads(SIZED)


def test_a_hindcast_of_several_sizes_is_refused():
    """With the reason, and what to do instead."""
    with pytest.raises(O2simError, match="found cylinders of several sizes; the records count all together"):
        _require_one_size(SCENARIO.hospitals["mixed"])


def test_a_fitted_fleet_has_no_place_among_sizes():
    """The stock card does not say how many of each."""
    assert "does not say how many there are of each" in _no_place(original_of(SIZED).root, FLEET)


def test_the_desk_sizes_and_buys_no_cylinders_of_several_sizes():
    """It says how they are sized; more units are tried."""
    assert (sized(SCENARIO), in_sizes(SCENARIO)) == ([], True)
    assert purchases(SCENARIO, "mixed") == [{"concentrators.count": count} for count in ("2", "3", "4")]
    assert [row.name for row in owned_rows(SCENARIO, SIZED, {}, {})] == ["regulators", "concentrators"]


def test_perfect_handling_reads_every_gauge_right():
    """Of each size, and of all."""
    text = SIZED.replace("  filling_pressure", "  gauge_error: 300 kPa\n  filling_pressure")
    stock = with_perfect_handling(loads(text).hospitals["mixed"]).cylinders
    assert [each.gauge_error_gas for each in (stock, *stock.each)] == [0, 0, 0]


def test_the_rules_are_said_in_words():
    """Sizes with their uses, levels, lorry, and who goes with cylinders."""
    said = " ".join(sentences(SCENARIO))
    for part in (
        "Cylinders come in 2 sizes: large for patients and small for back-ups at the bed",
        "large at 6 or fewer, up to 9 and small at 8 or fewer, up to 12",
        "A trip has 60 spaces (large takes 6 and small takes 1)",
        "are sent on with cylinders of the place and a regulator set",
    ):
        assert part in said
