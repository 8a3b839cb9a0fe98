"""What was counted, in the section `now` of a scenario: read, checked, and what a run begins from."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from scenario_texts import SMALL, WHOLE

from o2sim.errors import ScenarioError
from o2sim.quantities import gas
from o2sim.questions.documents.starter import starter
from o2sim.scenario import load, loads, warnings
from o2sim.scenario.checks.of_count import accounted
from o2sim.scenario.types.now import CountedCylinders, GridNow, OnOxygen, OrderUnderWay, UnitsNow

H, DAY = 3_600, 86_400
PLACE = WHOLE.replace(", concentrators: {count: 3}", "").replace("  count: 5\n", "  count: 6\n")
NOW = """
now:
  counted: 2027-05-03 07:30
  cylinders: {full: 7, part_used: [40 bar, 25 bar], empty: 18}
  on_order: [{ordered: 2027-04-29, count: 10}, {ordered: unknown, count: 4}]
  on_oxygen:
    - {class: children, flow: 1 L/min, begun: 2027-05-01, source: concentrator}
    - {class: adults, flow: 5 L/min, begun: 2027-05-02 22:00, source: cylinder, gauge: 80 bar}
    - {class: newborns, count: 2}
  concentrators: {working: 4, down: [{since: 2027-04-20}], meters: [8200 h, 5100 h]}
  grid: {up: true, since: unknown}
  next_review: 2027-05-05
"""
COUNTED = "now: {counted: 2027-05-03 07:30, cylinders: {full: 2, empty: 2}}\n"
SHIPPED = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
HASHES = {  # of the version before
    "bad_cylinders": "97212b33abecb74c",
    "border_hospital_field": "ee875fd4499d2028",
    "child_ward": "5169a882416b92ca",
    "city_hospital": "921ef3f2212aee97",
    "district_hospital": "041a812e5ec96836",
    "field_demand": "a9f0e83f8b5d44e1",
    "field_supply": "939e1ac08fd1ed82",
    "gathered_ward": "0d8e5ecb4ae590b2",
    "health_centre": "c83bd43569f08758",
    "hill_clinic_power": "a937125a2a822f67",
    "last_cylinders": "d5deff596141d130",
    "newborn_backups": "bf8561a493b0540a",
    "night_shift": "8cad934a355d7a64",
    "oximeter_round": "f7901e7f5728cdfd",
    "piped_ward": "69856a5d8f385b6e",
    "two_units": "f30ce3b814301441",
    "two_wards": "75739b25b79063a5",
    "uncertain_valley": "b69295c665a132d1",
    "what_to_buy": "4579a5a1e9e6b2e3",
}


def now_of(text, strategy="mixed"):
    """Return what a strategy's run begins from."""
    return loads(text).hospitals[strategy].now


def refused(text):
    """Return the problems of a text that must be refused, without the name of the file."""
    with pytest.raises(ScenarioError) as error:
        loads(text, "f")
    return [str(problem).partition(" ")[2] for problem in error.value.problems]


def test_a_count_is_what_the_file_says():
    """Ages are whole seconds before the count; gas is by the gauge; a count of two is two patients."""
    now = now_of(PLACE + NOW)
    assert now.counted == dt.datetime(2027, 5, 3, 7, 30)
    assert now.on_order == (OrderUnderWay(10, 4 * DAY + 27_000), OrderUnderWay(4, None))
    assert now.on_oxygen is not None
    child, adult, *newborns = now.on_oxygen
    assert child == OnOxygen(1, 1_000, 2 * DAY + 27_000, "concentrator")
    assert (adult.class_index, adult.flow_ml_min, adult.age_s, adult.source) == (
        2,
        5_000,
        int(9.5 * H),
        "cylinder",
    )
    assert newborns == [OnOxygen(0)] * 2
    assert now.units == UnitsNow(4, (13 * DAY + 27_000, None), (8_200 * H, 5_100 * H))
    assert now.grid == GridNow(True, None)
    assert now.next_review_s == DAY + int(16.5 * H)


def test_gauges_become_gas_by_the_relation_of_the_scenario():
    """A part-used cylinder of 47 L at 25 degC holds what the real gas does there, above gauge zero."""
    now = now_of(PLACE + NOW)
    expected = [round(60_000 * gas.content_litres(47.0, kpa, 25.0)) for kpa in (4_000.0, 2_500.0, 8_000.0)]
    assert [*now.cylinders.part_used, now.on_oxygen[1].gas] == pytest.approx(expected, abs=1)


def test_the_run_begins_at_the_count():
    """Its first day is that of the count, so long before it lies midnight; start and warm_up are not run."""
    hospital = loads(PLACE + NOW).hospitals["mixed"]
    assert (hospital.start, hospital.warm_up_s) == (dt.date(2027, 5, 3), -27_000)
    assert (hospital.counted_from_s, hospital.end_s) == (0, 365 * DAY)


def test_a_strategy_leaves_out_what_it_does_not_have():
    """No cylinders without any, no units without any; who is on another source is left to its order."""
    alone, tanks = now_of(PLACE + NOW, "concentrators only"), now_of(PLACE + NOW, "cylinders only")
    assert (alone.cylinders, alone.on_order, alone.next_review_s, tanks.units) == (None, (), None, None)
    assert [each.source for each in alone.on_oxygen] == ["concentrator", None, None, None]
    assert [each.source for each in tanks.on_oxygen] == [None, "cylinder", None, None]


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ("start: 2027-01-01\n", 4 * DAY - 27_000),  # 18 weeks later is 7 May
        ("start: 2027-05-03\n", 0),  # of that day, so due at once
        ("start: 2027-05-04\n", DAY - 27_000),
    ],
)
def test_the_next_review_follows_the_calendar_of_the_file(stated, expected):
    """Left out, it is the next multiple of `review` from midnight of `start`; one of that day is due at once."""
    assert now_of(SMALL + stated + COUNTED, "cylinders only").next_review_s == expected


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ("2027-05-03", 0),
        ("2027-05-03 07:00", 0),
        ("2027-05-03 08:00", 1_800),
        ("2027-05-04", 59_400),
        ("unknown", 4 * DAY - 27_000),
    ],
)
def test_a_stated_review_of_the_day_is_due_at_once(stated, expected):
    """One that is past on the count's own day is due; unknown is as left out."""
    text = SMALL + COUNTED.replace("empty: 2}", f"empty: 2}}, next_review: {stated}")
    assert now_of(text, "cylinders only").next_review_s == expected


@pytest.mark.parametrize(
    "written", ["2027-05-03 07:30", '"2027-05-03 07:30"', "2027-05-03T07:30:00", "'2027-05-03  7:30'"]
)
def test_a_time_may_be_written_in_several_ways(written):
    """Quoted or not, with a T, with seconds."""
    assert now_of(SMALL + COUNTED.replace("2027-05-03 07:30", written), "cylinders only") == now_of(
        SMALL + COUNTED, "cylinders only"
    )


def test_nobody_on_oxygen_is_not_nobody_counted():
    """[] is nobody; left out is unknown."""
    nobody = COUNTED.replace("empty: 2}", "empty: 2}, on_oxygen: []")
    assert now_of(SMALL + nobody, "cylinders only").on_oxygen == ()
    assert now_of(SMALL + COUNTED, "cylinders only").on_oxygen is None


def test_a_continuous_review_has_no_next_one():
    """None is stated, none follows."""
    text = SMALL.replace("lead_time: 1 day", "lead_time: 1 day\n  review: continuous") + COUNTED
    assert now_of(text, "cylinders only").next_review_s is None


def test_units_not_accounted_for_are_down():
    """4 working of 6 are 2 down since nobody knows when; left out, all that are not down work."""
    four, one_down = "concentrators: {working: 4}", "concentrators: {down: [{}]}"
    before = NOW[NOW.index("  concentrators:") :].splitlines()[0]
    assert now_of(PLACE + NOW.replace(before, "  " + four)).units == UnitsNow(4, (None, None))
    assert now_of(PLACE + NOW.replace(before, "  " + one_down)).units == UnitsNow(5, (None,))


def test_battery_and_fuel_are_read():
    """A share of the charge, litres of fuel; a strategy without them leaves them out."""
    text = PLACE.replace(
        "power:\n", "power:\n  battery: {usable: 2 kWh, charge: 1 kW}\n  generator: {tank: 40 L}\n"
    )
    now = now_of(text + NOW + "  battery: 80 %\n  fuel: 35 L\n")
    assert (now.battery_permille, now.fuel_ml) == (800, 35_000)


def test_cylinders_not_accounted_for_are_named():
    """28 of a fleet of 40 are counted; on order is none of the fleet."""
    scenario = loads(PLACE + NOW, "f.yaml")
    assert accounted(scenario.hospitals["mixed"]) == (28, 40)
    assert accounted(scenario.hospitals["concentrators only"]) == (0, 0)
    (found,) = (each for each in warnings(scenario) if each.field == "now.cylinders")
    assert "28 of 40: 12 not accounted for" in found.found


def test_a_warm_up_beside_a_count_is_not_run_and_said_so():
    """It may stay in the file; without a count nothing is said."""
    assert "warm_up" in [each.field for each in warnings(loads(PLACE + NOW))]
    assert "warm_up" not in [each.field for each in warnings(loads(PLACE))]


def test_more_patients_than_places_are_doubted():
    """13 on cylinders with 12 regulators; 9 on two units of four outlets."""
    many = NOW.replace(
        "count: 2}", "count: 12, source: cylinder}\n    - {class: newborns, count: 8, source: concentrator}"
    )
    many = many.replace("full: 7, part_used: [40 bar, 25 bar], empty: 18", "full: 2, empty: 18").replace(
        "working: 4", "working: 2"
    )
    many = many.replace(", meters: [8200 h, 5100 h]", "")
    found = [each.found for each in warnings(loads(PLACE + many)) if each.field == "now.on_oxygen"]
    assert [each.partition(" (in")[0] for each in found] == [
        "13 patients on cylinders, but 12 regulators",
        "9 patients on concentrators, but 2 units of 4 outlets that work",
    ]


def test_what_has_lasted_longer_than_its_law_is_doubted():
    """A stay of two days where all last 24 h; an order four days under way where all take one."""
    text = SMALL + COUNTED.replace("empty: 2}", "empty: 2}, on_oxygen: [{class: child, begun: 2027-05-01}], "
                                   "on_order: [{ordered: 2027-04-29, count: 1}]")  # fmt: skip
    found = {each.field: each.found for each in warnings(loads(text))}
    assert found["now.on_oxygen"] == "child on oxygen for 2.3 days, at most 24 h 00 min by patients.child.duration"
    assert found["now.on_order"] == "an order under way for 4.3 days, at most 24 h 00 min by resupply.lead_time"


@pytest.mark.parametrize("path", [each for each in SHIPPED if each.stem in HASHES], ids=lambda path: path.stem)
def test_a_file_without_a_count_keeps_its_hash(path):
    """The hashes of the shipped scenarios before there was such a section."""
    assert load(path).hash == HASHES[path.stem]


def test_a_count_changes_the_hash_and_its_writing_does_not():
    """What is counted is part of what a run is; how it is written is not."""
    text = SMALL + COUNTED
    assert loads(text).hash != loads(SMALL).hash
    assert loads(text.replace("full: 2", "full: 1")).hash != loads(text).hash
    assert loads(text.replace("2027-05-03 07:30", "'2027-05-03T07:30'")).hash == loads(text).hash


def test_a_strategy_with_a_fleet_of_its_own_is_named():
    """The count is that of the place: a strategy with fewer cylinders cannot begin from it."""
    text = SMALL.replace("{sources: [cylinder]}", "{sources: [cylinder], cylinders: {fleet: 3}}") + COUNTED
    (found,) = refused(text)
    assert found.startswith(
        "now.cylinders: found 4 counted of a fleet of 3: 2 full, 0 part-used, 0 on patients, 2 empty"
    )
    assert found.endswith("this fleet is that of strategies.cylinders only.cylinders.fleet)")


def test_the_starter_has_a_count_that_loads_once_switched_on():
    """Its # taken away, the example fits the starter's hospital: all 40 cylinders are accounted for."""
    text = starter(every=True)
    start = text.index("#now:")
    end = text.index("\n\n", start)
    on = "\n".join(line.removeprefix("#") for line in text[start:end].splitlines())
    on = "\n".join(
        line
        for line in on.splitlines()
        if not line.endswith(("battery:", "fuel:")) and "  battery: " not in line and "  fuel: " not in line
    )
    scenario = loads(text[:start] + on + text[end:])
    assert accounted(scenario.hospitals["mixed"]) == (40, 40)
    assert scenario.hospitals["mixed"].now.cylinders == CountedCylinders(
        12, 25, scenario.hospitals["mixed"].now.cylinders.part_used
    )


def test_a_road_that_is_shut_must_be_able_to_open():
    """Shut without closures by which it opens again would change nothing; open may always be said."""
    shut = COUNTED.replace("empty: 2}", "empty: 2}, road: shut")
    (found,) = refused(SMALL + shut)
    assert "found the road shut, but by the scenario it is open" in found
    assert now_of(SMALL + shut.replace("shut", "open"), "cylinders only").road == "open"
