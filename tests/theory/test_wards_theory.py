"""Wards as loss systems of their own, against Erlang B, and against all units together."""

import numpy as np
import pytest
from formulas import erlang_b
from running import head, one_source, replicate, sizes, z

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario import loads

pytestmark = pytest.mark.theory
LOADS, UNITS = (2, 3), 5  # erlang and units of each ward
STAY = "{lognormal: {mean: 2 days, sd: 3 days}}"


def text(wards: str) -> str:
    """Return two wards of five units each, patients transferred if not served on arrival."""
    kinds = "".join(
        f"  {name}: {{admissions: {load / 2:g} / day, flow: 1 L/min, duration: {STAY}, ward: {name}}}\n"
        for name, load in zip(("north", "south"), LOADS, strict=True)
    )
    units = "concentrators: {count: 10, rated_flow: 1 L/min}\n"
    return head() + "if_unserved: transfer\npatients:\n" + kinds + units + wards + one_source("concentrator")


APART = "wards: {north: {concentrators: 5}, south: {concentrators: 5}}\n"


@sizes
def test_loss_of_each_ward_against_erlang_b(size: int) -> None:
    """Two wards that do not share lose what each would lose alone: Erlang B of 2 and of 3 erlang on 5 units."""
    expected = [erlang_b(UNITS, load) for load in LOADS]
    assert expected == pytest.approx([0.036697, 0.110054], abs=5e-7)
    samples = replicate(text(APART), 100 * size, lambda outcome: outcome.ward_interruptions)
    assert np.abs(z(samples / (np.array(LOADS) / 2 * 365), expected)).max() < 4


@sizes
def test_loss_of_shared_units_against_erlang_b(size: int) -> None:
    """Shared, the same ten units lose Erlang B of 5 erlang: 0.018385, a quarter of what they lose apart."""
    assert erlang_b(10, 5) == pytest.approx(0.018385, abs=5e-7)
    samples = replicate(text("wards: none\n"), 100 * size, lambda outcome: outcome.transferred)
    assert abs(z(samples / (5 / 2 * 365), erlang_b(10, 5))) < 4


def test_units_moved_quickly_are_nearly_as_good_as_shared() -> None:
    """For those who wait, units moved within a minute lie between shared and apart, near shared; same patients."""
    hours = []
    for wards in ("wards: none\n", APART + "moving: {time: 1 min}\n", APART):
        scenario = loads(text(wards).replace("transfer", "wait"))
        outcomes = [simulate(scenario, "only", Draws(3, number)) for number in range(10)]
        hours.append(sum(sum(outcome.unserved_s) for outcome in outcomes) / 3_600)
    shared, moved, apart = hours
    assert shared < moved < shared + 0.02 * (apart - shared)
