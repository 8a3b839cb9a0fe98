"""The keys of a costing as a file states them: units, what follows from others, changes by a strategy, ranges."""

from __future__ import annotations

import pytest
from small_ward import WARD

from o2sim.errors import ScenarioError
from o2sim.money.added import connect_time_s
from o2sim.scenario import loads
from o2sim.scenario.types.costing import StaffTime

KEYS = """costs:
  staff: {wage: 300 USD/month, filter: 10 min, filter_every: 14 days}
  training: {price: 40 USD, persons: 6, every: 730 days}
  other: {shelter: {once: 2500 USD, life: 20 years, paid_by: donor}}
"""
COSTED = WARD.replace("costs:\n", KEYS)


def test_keys_are_read_in_the_units_inside():
    """A month's pay is a twelfth of a year's; times are seconds, lives and courses years."""
    costs = loads(COSTED).hospitals["mixed"].costs
    assert costs.staff == StaffTime(wage_per_year=3_600, filter_s=600, filter_every_s=14 * 86_400)
    assert (costs.training.price, costs.training.persons, costs.training.every_years) == (40, 6, 2)
    (shelter,) = costs.other
    assert (shelter.name, shelter.once, shelter.life_years, shelter.paid_by) == ("shelter", 2_500, 20, "donor")
    assert (costs.perspective, costs.price_year, costs.freight) == ("health service", None, None)


def test_a_strategy_changes_a_line_and_adds_none():
    """Concentrators need no shelter: 0 there, 2,500 elsewhere; a line that the scenario has not is refused."""
    change = "concentrators only: {sources: [concentrator]"
    own = COSTED.replace(change, f"{change}, costs: {{other: {{shelter: {{once: 0 USD}}}}}}")
    hospitals = loads(own).hospitals
    assert [hospitals[name].costs.other[0].once for name in ("mixed", "concentrators only")] == [2_500, 0]
    with pytest.raises(
        ScenarioError, match="the line 'shed' is unknown; allowed: a line of the scenario: shelter"
    ):
        loads(own.replace("{other: {shelter:", "{other: {shed:"))


def test_the_time_to_connect_follows_from_the_run_unless_it_is_costed():
    """5 min of staff.connect_time are costed; 2 min stated go before; without either nothing is."""
    plain = loads(COSTED).hospitals["mixed"]
    assert connect_time_s(plain, plain.costs) is None
    ran = loads(COSTED + "staff: {day: 2, night: 1, connect_time: 5 min}\n").hospitals["mixed"]
    assert connect_time_s(ran, ran.costs) == 300
    stated = COSTED.replace("filter: 10 min", "filter: 10 min, connect: 2 min")
    found = loads(stated).hospitals["mixed"]
    assert connect_time_s(found, found.costs) == 120


def test_prices_of_the_costing_may_be_ranges():
    """A wage and a line of other costs that nobody knows for sure are uncertain numbers like any other."""
    wage = "{low: 200 USD/month, likely: 300 USD/month, high: 500 USD/month}"
    once = "{low: 2000 USD, likely: 2500 USD, high: 4000 USD}"
    scenario = loads(COSTED.replace("300 USD/month", wage).replace("2500 USD", once))
    assert [each.path for each in scenario.uncertain] == ["costs.staff.wage", "costs.other.shelter.once"]
    assert scenario.hospitals["mixed"].costs.staff.wage_per_year == 3_600


def test_new_keys_left_out_leave_the_hash():
    """A key at its default is in no hash; one that is stated is."""
    assert loads(WARD.replace("costs:\n", "costs:\n  perspective: health service\n")).hash == loads(WARD).hash
    assert loads(COSTED).hash != loads(WARD).hash
