"""What is there at a count where concentrators are of several models: outlets, and how long the battery lasts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from today_ward import TEXT, count, hospital, patients

from o2sim.questions.bedside.dusk_page import power_cut
from o2sim.questions.today import cover
from o2sim.questions.today.there import _battery
from o2sim.questions.today.unknown import _on_units, _which_work
from o2sim.scenario.types.now import UnitsNow

UNITS = """concentrators:
  failure: {exponential: {mean: 900 days}}
  repair: 9 days
  models:
    two: {rated_flow: 5 L/min, outlets: 2, power: 350 W, start_up: 5 min}
    four: {rated_flow: 10 L/min, outlets: 4, power: 700 W, start_up: 9 min, drift: 3 years, oxygen_monitor: true}
  units: [{model: two, count: 3, owned: true, working: 2}, {model: four, count: 1}]
power:
  grid: {up: {exponential: {mean: 20 h}}, down: {exponential: {mean: 4 h}}}
  battery: {usable: 1.4 kWh, charge: 600 W, inverter_efficiency: 100 %}
strategies: {both: {sources: [concentrator, cylinder]}}
"""
WARD = TEXT.replace("strategies: {cylinders: {sources: [cylinder]}}\n", UNITS)


def at_count(working: int | None, on_units: int = 0):
    """Return the ward from a count of units that work, None: nobody has looked, and patients on them."""
    units = None if working is None else UnitsNow(working)
    return hospital(count(units=units, on_oxygen=patients(source="concentrator", gas=None)[:on_units]), WARD)


@pytest.mark.parametrize(
    ("working", "outlets"),
    [(4, 2 + 2 + 2 + 4), (3, 2 + 2 + 2), (1, 2), (None, 2 + 2 + 4)],
)
def test_outlets_are_those_of_the_units_that_work(working, outlets):
    """Counted ones are the first, as in a run; without a count those that the file says."""
    assert cover.outlets_left(at_count(working)) == outlets


def test_the_battery_lasts_by_the_units_of_the_most_watts():
    """1.4 kWh carry one unit of 700 W for 2 h; a second patient adds one of 350 W: 1.333 h."""
    one, two = at_count(4, on_units=1), at_count(4, on_units=2)
    assert [_battery(each)[0] for each in (one, two)] == pytest.approx([2.0, 1.4 / 1.05])


def test_more_patients_than_outlets_are_said():
    """Three on units, of which one that works has two outlets."""
    (said,) = _on_units(at_count(1, on_units=3))
    assert "1 that work have 2 outlets" in said
    assert list(_on_units(at_count(2, on_units=3))) == []


def test_which_units_work_is_said_where_they_differ():
    """One that works is the first; where all or none work there is nothing to say."""
    (said,) = _which_work(at_count(1))
    assert "the first of the list is taken to" in said
    assert [list(_which_work(at_count(working))) for working in (0, 4, None)] == [[], [], []]


def test_the_dusk_page_waits_for_the_slowest_model():
    """The start-up time is the longest; one model has a monitor, the other has not."""
    said = power_cut(at_count(None))[-1]
    assert "start-up time of 9 min " in said
    assert "its oxygen monitor, or the analyser where it has none, shows at least 82 % oxygen" in said


def test_units_listed_alike_are_as_those_that_are_counted():
    """Like units of two rows have the outlets of a plain count."""
    plain = WARD[: WARD.index("concentrators:")] + "concentrators: {rated_flow: 5 L/min, outlets: 2, UNITS}\n"
    plain += "strategies: {both: {sources: [concentrator, cylinder]}}\n"
    now = replace(count(units=UnitsNow(2)), on_oxygen=())
    texts = (plain.replace("UNITS", "count: 3"), plain.replace("UNITS", "units: [{count: 1}, {count: 2}]"))
    assert [cover.outlets_left(hospital(now, text)) for text in texts] == [4, 4]
