"""The list of equipment by size of cylinder: a line each with its uses, regulators by valve, back-ups at units."""

from __future__ import annotations

import pytest
from sized_texts import SIZED

from o2sim.looks.sizes import uses_of
from o2sim.money.listed import has_cylinders_at_hand, has_sets, quantities
from o2sim.questions.equipment.equipment import equipment
from o2sim.runs.study import run_study
from o2sim.scenario import loads

ON_THE_WAY = f"{SIZED}  units alone: {{sources: [concentrator], cylinders: {{backup: none}}}}\n"


@pytest.fixture(scope="module")
def lines():
    """Return the lines of a strategy by their names, and what is to be bought."""
    found = equipment(run_study(loads(SIZED), replications=2, seed=1, engine="reference")).strategies["mixed"]
    return {each.item: each for each in found.equipment}, {each.item: each for each in found.to_buy}


def test_each_size_has_a_line_with_its_uses(lines):
    """Ten large ones for patients, twelve small ones, of which five are there."""
    listed, _ = lines
    large, small = listed["Cylinders, large, all of them"], listed["Cylinders, small, all of them"]
    assert (large.quantity, large.figures) == (10, "6,822 L of gas in one; for patients")
    assert (small.quantity, small.there) == (12, 5)
    assert small.figures.endswith("for back-ups at the bed and patients who are sent on")


def test_regulators_stand_by_valve(lines):
    """Six fit large ones, four small ones."""
    listed, _ = lines
    assert (listed["  that fit bullnose"].quantity, listed["  that fit pin-index"].quantity) == (6, 4)


def test_what_is_bought_is_by_size(lines):
    """Five of twelve are there."""
    _, bought = lines
    assert (bought["Cylinders, small, all of them"].to_buy, bought["Cylinders, large, all of them"].to_buy) == (
        7,
        10,
    )


def test_units_keep_their_backups_where_cylinders_are_for_the_way_alone():
    """Regulators are needed, and a back-up for each of the two units."""
    hospital = loads(ON_THE_WAY).hospitals["units alone"]
    counts = {kind.key: count for kind, count in quantities(hospital)}
    assert (has_sets(hospital), has_cylinders_at_hand(hospital)) == (True, False)
    assert counts["back_up_cylinder"] == 2
    assert [uses_of(hospital, place) for place in (0, 1)] == ["no use", "patients who are sent on"]
