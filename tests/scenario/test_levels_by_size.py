"""The levels of a size move with its own fleet, and totals that are stated move with all."""

from __future__ import annotations

from sized_texts import SIZED

from o2sim.scenario.changing.fleet_levels import levels_beside
from o2sim.scenario.changing.override import changed, loaded, original_of

PATH = "cylinders.sizes.small.fleet"


def test_the_levels_of_a_size_move_with_its_fleet_alone():
    """Six more small ones: they are ordered at 14; the level left out follows by itself."""
    source = original_of(SIZED)
    there = changed(source, {PATH: "18"}, move_levels=True)
    assert there.levels == {("resupply", "sizes", "small", "reorder_point"): "14"}
    assert loaded(source, there).hospitals["mixed"].resupply.levels == ((6, 9), (14, 18))


def test_a_total_that_is_stated_moves_with_the_fleet_of_a_size():
    """22 in all become 28: else the file would be refused."""
    source = original_of(SIZED.replace("  filling_pressure", "  fleet: 22\n  filling_pressure"))
    hospital = loaded(source, changed(source, {PATH: "18"}, move_levels=True)).hospitals["mixed"]
    assert hospital.cylinders.fleet == 28


def test_totals_move_with_two_sizes_at_once():
    """Six more small ones and four more large ones are ten more in all."""
    source = original_of(SIZED.replace("  filling_pressure", "  fleet: 22\n  filling_pressure"))
    values = {PATH: "18", "cylinders.sizes.large.fleet": "14"}
    hospital = loaded(source, changed(source, values, move_levels=True)).hospitals["mixed"]
    assert (hospital.cylinders.fleet, hospital.resupply.levels) == (32, ((10, 13), (14, 18)))


def test_a_level_that_is_changed_itself_is_left():
    """Its own value stands."""
    source = original_of(SIZED)
    values = {PATH: "18", "resupply.sizes.small.reorder_point": "9"}
    there = changed(source, values, move_levels=True)
    assert there.levels == {}
    assert levels_beside(there.root, there.asked, ["mixed"]) == ((), ("resupply.sizes.small.reorder_point",))


def test_a_strategy_has_its_own_fleet_of_a_size():
    """Its levels move where it states its fleet; those of the others stay."""
    text = SIZED.replace(
        "cylinders only: {sources: [cylinder]}",
        "cylinders only: {sources: [cylinder], cylinders: {sizes: {small: {fleet: 20}}}}",
    )
    source = original_of(text)
    there = changed(source, {PATH: "26"}, "cylinders only", move_levels=True)
    hospitals = loaded(source, there).hospitals
    assert hospitals["cylinders only"].resupply.levels[1] == (14, 26)
    assert hospitals["mixed"].resupply.levels[1] == (8, 12)
