"""Cylinders of several sizes in a scenario file: what stands outside holds for all, totals, uses, levels."""

from __future__ import annotations

from dataclasses import replace

from scenario_texts import SMALL
from slip_texts import with_value

from o2sim.scenario import loads
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.types.hospital import SizeUse

TWO = """\
patients:
  children: {admissions: 1 / day, flow: 1 L/min, duration: 24 h}
cylinders:
  filling_pressure: 13.7 MPa
  gauge_error: 300 kPa
  sizes:
    large: {water_capacity: 47 L, valve: bullnose, fleet: 60, space: 6, refill: 16 USD, price: 240 USD}
    small:
      {content: 680 L, valve: pin-index, fleet: 12, full_at_start: 9, refill: 6 USD, leak: 0.05 L/min, owned: 3}
  use: {bedside: [small, large], backup: [small]}
  choose: smallest that lasts until the next look
  regulator_sets: [{count: 12, valve: bullnose}, {count: 6, valve: pin-index}, {count: 3, valve: CGA 540}]
resupply:
  lead_time: 1 day
  sizes: {small: {reorder_point: 8}}
  vehicle_space: 120
strategies: {cylinders only: {sources: [cylinder]}}
"""


def _hospital(text: str):
    (hospital,) = loads(text).hospitals.values()
    return hospital


def test_what_stands_outside_holds_for_each_size_that_says_no_other():
    """Pressures of all; leak, content and price of one; None where neither says it."""
    large, small = _hospital(TWO).cylinders.each
    assert (large.name, large.leak_ml_min, large.space, large.refill, large.price) == (
        "large",
        100,
        6,
        16.0,
        240.0,
    )
    assert (small.name, small.leak_ml_min, small.space, small.refill, small.price) == (
        "small",
        50,
        None,
        6.0,
        None,
    )
    assert small.full_gas == 680 * 60_000
    assert (large.filling_pressure_kpa, small.filling_pressure_kpa) == (13_700.0, 13_700.0)
    assert small.gauge_error_gas == round(small.full_gas * 300 / 13_700)


def test_totals_are_sums_and_one_cylinder_is_that_of_the_first_size_for_patients():
    """Fleet and full ones of all sizes; content of the small one, which is listed first."""
    stock = _hospital(TWO).cylinders
    assert (stock.fleet, stock.full_at_start, stock.regulators) == (72, 69, 21)
    assert stock.full_gas == stock.each[1].full_gas
    assert [each.count for each in stock.usable_sets] == [12, 6]
    assert [each.item for each in _hospital(TWO).owned] == ["cylinders"]


def test_uses_are_places_in_the_order_of_the_file():
    """As listed; where a use is left out all sizes in the order of the file."""
    stock = _hospital(TWO).cylinders
    assert [stock.places_for(use) for use in ("bedside", "backup", "transfer")] == [(1, 0), (1,), (0, 1)]


def test_levels_left_out_follow_from_the_fleet_of_the_size():
    """One below the fleet and the fleet; the sums beside them."""
    resupply = _hospital(TWO).resupply
    assert resupply.levels == ((59, 60), (8, 12))
    assert (resupply.reorder_point, resupply.order_up_to) == (67, 72)


def test_one_size_is_its_own_size_without_sizes():
    """`each` is the record itself, `levels` its one pair, and no use need be said."""
    hospital = _hospital(SMALL)
    assert hospital.cylinders.each == (hospital.cylinders,)
    assert (hospital.cylinders.name, hospital.cylinders.use) == ("", SizeUse())
    assert hospital.resupply.levels == ((3, 4),)


def test_one_named_size_is_as_the_same_cylinders_without_a_name():
    """All rules are the same but for the name."""
    text = SMALL.replace(
        "  water_capacity: 47 L\n  fleet: 4\n", "  sizes: {all: {water_capacity: 47 L, fleet: 4}}\n"
    )
    named, plain = _hospital(text).cylinders, _hospital(SMALL).cylinders
    assert replace(named.each[0], name="") == plain


def test_a_strategy_changes_one_size():
    """Its fleet, by a dotted key as every other."""
    assert _hospital(with_value("cylinders.sizes.small.fleet", "20", TWO)).cylinders.fleet == 80
    text = TWO.replace("{sources: [cylinder]}", "{sources: [cylinder], cylinders: {sizes: {small: {fleet: 40}}}}")
    assert _hospital(text).cylinders.fleet == 100


def test_cylinders_that_go_with_patients_are_kept_where_they_are_no_source():
    """A strategy of concentrators alone has the cylinders and their resupply."""
    text = with_value("transfer", "{after: 2 h, travel: 1 h, oxygen: cylinder}", TWO)
    text = with_value("concentrators", "{count: 1, rated_flow: 5 L/min}", text)
    hospital = _hospital(text.replace("[cylinder]}", "[concentrator]}"))
    assert (hospital.transfer.with_cylinder, hospital.transfer.back_after_s) == (True, 7_200)
    assert hospital.cylinders is not None
    assert hospital.resupply is not None


def test_perfect_handling_reads_the_gauges_of_all_sizes_without_error():
    """Each size has its own error as content."""
    stock = with_perfect_handling(_hospital(TWO)).cylinders
    assert [size.gauge_error_gas for size in stock.each] == [0, 0]
