"""The power section of a scenario: what is read, recorded cut lists, warnings, planner's figures, cost."""

from dataclasses import replace

import pytest

from o2sim.errors import ScenarioError
from o2sim.money.cost import annual_cost
from o2sim.outcome import Outcome
from o2sim.planning.figures import planning_figures
from o2sim.questions.check import rules_in_words as field
from o2sim.questions.check import text as planner
from o2sim.scenario import load, loads, warnings
from o2sim.scenario.keys.record import section_of
from o2sim.scenario.types.hospital import (
    Battery,
    Concentrators,
    Costs,
    Equipment,
    Generator,
    Grid,
    Law,
    Power,
    Refuel,
    Solar,
    Voltage,
    Window,
)

HOUR_S, DAY_S = 3_600, 86_400
UNITS = """\
name: Powered
start: 2027-03-01
horizon: 10 days
patients:
  adults: {admissions: 2 / day, flow: 4 L/min, duration: 10 h}
concentrators: {count: 2, rated_flow: 5 L/min}
"""
WHOLE = """\
power:
  grid: {up: 20 h, down: 2 h}
  load_shedding: [{from: "18:00", to: "20:00", days: [mon, Tuesday]}, {from: "23:00", to: "1:30"}]
  voltage: {good: 10 h, bad: 1 h}
  stabiliser: true
  shed_first: fewest patients
  battery: {usable: 3 kWh, charge: 600 W, inverter: 2 kW}
  solar: {peak: 2 kW, clearness: {uniform: {low: 20 %, high: 80 %}}}
  generator:
    start_delay: 12 min
    night_delay: 40 min
    night: {from: "19:00", to: "07:00"}
    start_chance: 85 %
    running_failure: 300 h
    repair: 2 days
    hours: [{from: "17:00", to: "22:00"}]
    power: 5 kW
    base_load: 1.2 kW
    fuel: {idle: 0.95 L/h, per_kW: 0.26 L/h}
    tank: 80 L
    refuel: {reorder_at: 20 L, lead_time: 2 days}
"""


def built(text: str):
    """Return the only hospital of a text."""
    return loads(text).hospitals["concentrators only"]


def hours(value: float) -> Law:
    """Return the law that always gives so many hours."""
    return Law("constant", (value * HOUR_S,))


def test_every_key_of_the_power_section_is_read():
    """In whole W, s, mL and per mille; the grid stands apart."""
    hospital = built(UNITS + WHOLE)
    assert hospital.grid == Grid(hours(20), hours(2))
    assert hospital.power == Power(
        load_shedding=(Window(18 * HOUR_S, 20 * HOUR_S, (0, 1)), Window(23 * HOUR_S, 5_400)),
        voltage=Voltage(hours(10), hours(1)),
        stabiliser=True,
        generator=Generator(
            720, 2_400, Window(19 * HOUR_S, 7 * HOUR_S), 0.85, hours(300), hours(48),
            (Window(17 * HOUR_S, 22 * HOUR_S),), 5_000, 1_200, 950, 260, 80_000, Refuel(20_000, hours(48)),
        ),
        battery=Battery(3_000 * HOUR_S, 600, 850, 2_000, 900, 200),
        solar=Solar(2_000, Law("uniform", (0.2, 0.8)), 6 * HOUR_S, 18 * HOUR_S),
        shed_first="patients",
    )  # fmt: skip


def test_a_generator_may_wait_for_the_battery_and_lose_power_with_altitude():
    """At 1,800 m 10 % for each 1,000 m above 300 m leave 85 % of 5 kW; below 300 m all is left."""
    text = "altitude: 1800 m\n" + UNITS + WHOLE.replace("usable: 3 kWh", "usable: 3 kWh, gather: true")
    words = "    start_when: battery low\n    start_below: 25 %\n    derating: {lost: 10 %}\n"
    power = built(text.replace("    start_delay", words + "    start_delay")).power
    assert (power.generator.power_w, power.generator.start_below_permille, power.battery.gather) == (
        4_250,
        250,
        True,
    )
    low = text.replace("1800 m", "200 m").replace("    start_delay", words + "    start_delay")
    assert built(low).power.generator.power_w == built(text).power.generator.power_w == 5_000
    plain = text.replace("    start_delay", "    start_when: battery low\n    start_delay")
    assert built(plain).power.generator.start_below_permille == 300  # the default
    undone = text.replace("    start_delay", "    start_when: grid fails\n    start_below: 25 %\n    start_delay")
    assert built(undone) == built(text)


def test_parts_are_undone_by_a_strategy():
    """`none` takes a part of the chain away; what is left at its default leaves no chain at all."""
    text = (
        UNITS
        + WHOLE
        + (
            "strategies: {bare: {sources: [concentrator], power: {grid: always, load_shedding: [], voltage: none, "
            "stabiliser: false, battery: none, solar: none, generator: none, shed_first: highest number}}}\n"
        )
    )
    assert (loads(text).hospitals["bare"].grid, loads(text).hospitals["bare"].power) == (None, None)
    assert loads(text).hash == loads(UNITS + "strategies: {bare: {sources: [concentrator]}}\n").hash


@pytest.mark.parametrize(
    "rows",
    [
        "start,end\n2027-03-01 18:30,2027-03-01 21:00\n2027-03-01T20:00,2027-03-02 00:30\n2027-02-27,2027-02-28\n",
        "start,hours\n2027-02-27,24\n2027-03-01 18:30,2.5\n2027-03-01 21:00,3.5\n",
    ],
)
def test_recorded_cuts_are_joined_and_counted_from_the_start(tmp_path, rows):
    """With an end or with hours, in any order."""
    (tmp_path / "cuts.csv").write_text(rows)
    (tmp_path / "s.yaml").write_text(UNITS + "power: {grid: {file: cuts.csv, from: 2027-02-20, to: 2027-03-21}}\n")
    (hospital,) = load(tmp_path / "s.yaml").hospitals.values()
    assert hospital.grid == Grid(cuts=((-2 * DAY_S, -DAY_S), (66_600, DAY_S + 1_800)), first_day=-9, days=30)
    assert planning_figures(hospital).grid_share == pytest.approx(1 - 6 / 240)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (
            "start,end\n2027-03-01 18:30,2027-03-01 18:30\n",
            "cuts.csv:2: end: found '2027-03-01 18:30': ends on 1 March 18:30, as it begins, and lasts no time",
        ),
        ("start,hours\n2027-03-01 18:30,x\n", "cuts.csv:2: hours: found a text of 1 character"),
        ("start,hours\n2027-03-01,inf\n", "cuts.csv:2: hours: found a text of 3 characters"),
        ("begin,end\n1,2\n", "cuts.csv: found no column 'start' in its 2 columns"),
        ("start,end\n", "cuts.csv: has 0 rows below the names"),
        ("", "cuts.csv is empty"),
        ('start,end\n"a\n', "cuts.csv:2 is not CSV"),
    ],
)
def test_a_bad_cut_list_is_refused_with_its_line(tmp_path, rows, told):
    """What is wrong with the file, and what it should look like."""
    (tmp_path / "cuts.csv").write_text(rows)
    (tmp_path / "s.yaml").write_text(UNITS + "power: {grid: {file: cuts.csv}}\n")
    with pytest.raises(ScenarioError) as error:
        load(tmp_path / "s.yaml")
    (problem,) = error.value.problems
    assert problem.found.startswith(told)
    assert problem.allowed != ""


def test_sources_that_carry_no_unit_and_a_record_of_other_years_are_doubtful(tmp_path):
    """Each is told at its key."""
    text = UNITS + "power: {battery: {usable: 1 kWh, charge: 1 kW, inverter: 300 W}, generator: {power: 300 W}}\n"
    told = {problem.field for problem in warnings(loads(text))}
    assert {"power.battery.inverter", "power.generator.power"} <= told
    (tmp_path / "cuts.csv").write_text("start,hours\n2019-03-01,2\n")
    (tmp_path / "s.yaml").write_text(UNITS + "power: {grid: {file: cuts.csv, from: 2019-03-01, to: 2027-12-31}}\n")
    assert "power.grid.file" in {problem.field for problem in warnings(load(tmp_path / "s.yaml"))}


def test_the_planner_says_how_long_the_battery_carries_all_units():
    """3 kWh at 90 % of the inverter over 700 W; windows of 2 h on two days and 2.5 h daily, a grid up 10 in 11."""
    figures = {"units": planning_figures(built(UNITS + WHOLE))}
    assert figures["units"].battery == (2, pytest.approx(3_000 * 0.9 / 700))
    # Ten days from Monday 1 March: two Mondays, two Tuesdays; ten nights from 23:00, the last cut short at its end
    # as the first is at the start.
    assert figures["units"].grid_share == pytest.approx(10 / 11 * (1 - (4 * 2 + 10 * 2.5) / 240))
    assert "A full battery carries them all for 3 h 51 min." in " ".join(planner.sentences(figures))
    (table,) = planner.supply_tables(figures)
    assert ("units a full battery carries", "2 for 3.86 h") in table.rows
    weak = built(UNITS + WHOLE.replace("inverter: 2 kW", "inverter: 400 W"))
    assert "A full battery carries 1 of them for 7 h 42 min." in " ".join(
        planner.sentences({"units": planning_figures(weak)})
    )
    none = built(UNITS + WHOLE.replace("inverter: 2 kW", "inverter: 100 W"))
    assert planning_figures(none).battery == (0, 0.0)


def test_energy_and_fuel_are_paid_for():
    """Grid energy of units and charger, fuel used for oxygen, and a year of what is owned; by hand."""
    hospital = replace(built(UNITS + WHOLE), horizon_s=365 * DAY_S)
    costs = Costs(
        "USD", discount_rate=0.0, electricity_per_kwh=0.2, fuel_per_litre=1.5,
        generator=Equipment(1_000.0), generator_service_per_year=50.0, battery=Equipment(500.0),
        solar=Equipment(300.0), stabiliser=Equipment(100.0),
    )  # fmt: skip
    outcome = Outcome(
        0, 365 * DAY_S, concentrator_running_s=300 * HOUR_S, off_grid_running_s=100 * HOUR_S,
        grid_charging_ws=30_000 * HOUR_S, fuel_used=10**12, fuel_for_oxygen=20 * 3_600_000_000,
    )  # fmt: skip
    assert annual_cost(replace(hospital, costs=costs), outcome) == pytest.approx(
        {"electricity": (200 * 0.35 + 30) * 0.2, "fuel": 30.0, "generator": 150.0, "battery": 50.0,
         "solar panels": 30.0, "stabiliser": 10.0}
    )  # fmt: skip
    assert set(annual_cost(replace(hospital, costs=costs, power=None), outcome)) == {"electricity"}


def test_monitors_and_analyser_are_paid_for():
    """A monitor for each of two units, one analyser where units are checked; nothing where there are none."""
    prices = (
        "costs: {discount_rate: 0 %, oxygen_monitor: {price: 150 USD, life: 5 years}, "
        "analyser: {price: 400 USD, salvage: 40 USD}}\n"
    )
    watched = UNITS.replace(
        "rated_flow: 5 L/min",
        "rated_flow: 5 L/min, oxygen_monitor: true, drift: 900 h, analyser_check: 7 days, repair: 3 days",
    )
    outcome = Outcome(0, 365 * DAY_S)
    assert annual_cost(built(watched + prices), outcome) == {"oxygen monitors": 60.0, "analyser": 36.0}
    assert annual_cost(built(UNITS + prices), outcome) == {}
    idle = UNITS.replace("rated_flow: 5 L/min", "rated_flow: 5 L/min, oxygen_monitor: true")
    assert annual_cost(built(idle + prices), outcome) == {"oxygen monitors": 60.0}


def test_prices_of_power_are_read():
    """A price a litre, of what is owned, and of the generator's upkeep."""
    text = UNITS + (
        "costs: {fuel: 1.10 USD/L, generator: {price: 900 USD, service: 60 USD/year}, battery: {price: 700 USD}, "
        "solar: {price: 650 USD}, stabiliser: {price: 80 USD, life: 5 years}}\n"
    )
    costs = built(text).costs
    assert (costs.fuel_per_litre, costs.generator_service_per_year) == (1.1, 60.0)
    assert [each.price for each in (costs.generator, costs.battery, costs.solar)] == [900.0, 700.0, 650.0]
    assert costs.stabiliser == Equipment(80.0, 5.0, 0.0)


def test_altitude_takes_from_the_rated_flow():
    """At 3,000 m a unit of 5 L/min gives 4.4 L/min."""
    assert built("altitude: 3 km\n" + UNITS).concentrators.rated_flow_ml_min == 4_409
    assert built("altitude: 1500 m\n" + UNITS) == built(UNITS)


FIELD = UNITS.replace(
    "rated_flow: 5 L/min}",
    "rated_flow: 5 L/min, failure: {exponential: {mean: 3000 h}}, repair: 10 days, crew: 1, drift: 4000 h, "
    "service_every: 9000 h, cut_damage: 1 %}",
)
SAID = {  # each key of groups that `o2sim check` must tell: another value of it
    "concentrators": {
        "count": "3", "rated_flow": "4 L/min", "failure": "2000 h", "repair": "20 days", "never_repaired": "10 %",
        "cut_damage": "2 %", "crew": "2", "travel": "3 days", "start_up": "6 min", "drift": "2000 h",
        "oxygen_monitor": "true", "analyser_check": "30 days", "service_every": "1000 h", "service_time": "8 h",
        "repaired_as": "old", "start_surge": "2.5", "units": "[{count: 1}, {count: 1, age: 1 year}]",
    },
    "power": {
        "grid": "{up: 10 h, down: 2 h}", "load_shedding": "[]", "voltage": "{good: 9 h, bad: 1 h}",
        "stabiliser": "false", "shed_first": "highest number",
    },
    "power.battery": {
        "usable": "4 kWh", "charge": "500 W", "charge_efficiency": "80 %", "inverter": "1 kW",
        "inverter_efficiency": "85 %", "reconnect": "30 %", "gather": "true", "fade": "{per_cycle: 0.04 %}",
        "peak": "2 kW",
    },
    "power.solar": {"peak": "1 kW", "clearness": "70 %", "sunrise": '"05:00"', "sunset": '"19:00"'},
    "power.generator": {
        "start_when": "battery low", "started_by": "staff", "start_delay": "9 min", "night_delay": "50 min",
        "night": '{from: "21:00", to: "05:00"}', "start_chance": "80 %", "running_failure": "200 h",
        "repair": "3 days", "hours": '[{from: "16:00", to: "22:00"}]', "power": "4 kW", "base_load": "1 kW",
        "fuel": "{idle: 0.8 L/h}", "tank": "90 L", "refuel": "{reorder_at: 30 L, lead_time: 2 days}",
    },
}  # fmt: skip
OWNED = ("owned", "owned_age", "monitors_owned", "monitors_owned_age", "analyser_owned", "analyser_owned_age")
NOT_SAID = {  # told in another way, or only by what they change
    "concentrators": {"outlets", "power", "failure_clock", "alarm_level", "models", *OWNED},
    "power": {"generator", "battery", "solar", "stabiliser_owned", "stabiliser_owned_age"},
    "power.generator": {"start_below", "derating", "peak", *OWNED[:2]},  # a peak with start_surge
    "power.battery": {"age", "peak", *OWNED[:2]},  # the age beside fade: test_battery_fade_scenarios.py
    "power.solar": set(OWNED[:2]),
}


def checked(text: str, section: str, key: str, value: str) -> str:
    """Return what `o2sim check` tells of a text, one strategy of which has another value of a key."""
    change = f"{key}: {value}"
    for name in reversed(section.split(".")):
        change = f"{name}: {{{change}}}"
    scenario = loads(f"{text}strategies: {{a: {{sources: [concentrator], {change}}}}}\n")
    figures = {name: planning_figures(hospital) for name, hospital in scenario.hospitals.items()}
    return "\n".join(
        [*planner.sentences(figures), *field.sentences(scenario), *map(str, planner.supply_tables(figures))]
    )


@pytest.mark.parametrize(("section", "key"), [(section, key) for section, keys in SAID.items() for key in keys])
def test_check_tells_each_rule_of_units_and_power(section, key):
    """Another value of a key changes what is told."""
    text = FIELD + WHOLE
    if key in ("cut_damage", "voltage"):  # which a stabiliser keeps away
        text = text.replace("stabiliser: true", "stabiliser: false")
    if key == "started_by":
        text += "staff: {day: 2, night: 1}\n"
    assert checked(text, section, key, SAID[section][key]) != checked(
        text, "power", "shed_first", "fewest patients"
    )


def test_what_check_tells_of_units_and_power_is_complete():
    """Every key there is, is tried above or named as told otherwise."""
    tables = {
        "concentrators": Concentrators, "power": Power, "power.battery": Battery, "power.solar": Solar,
        "power.generator": Generator,
    }  # fmt: skip
    for name, table in tables.items():
        assert set(section_of(table).names) == set(SAID[name]) | NOT_SAID.get(name, set())


def test_check_says_what_a_waiting_generator_and_a_gathering_battery_do():
    """The words for both, and for the generator's power left at an altitude beside its base load."""
    text = "altitude: 1800 m\n" + FIELD + WHOLE.replace("usable: 3 kWh", "usable: 3 kWh, gather: true")
    words = "    start_when: battery low\n    derating: {lost: 10 %}\n    start_delay"
    told = checked(text.replace("    start_delay", words), "power", "stabiliser", "false")
    for said in (
        "A full battery carries them all for 3 h 51 min, or one on which all are gathered for 7 h 42 min.",
        "3,050 W it has for them; it is started when the battery is down to 30 %.",
        "with a usable voltage 90.9 % of that time",
        "Not among these breakdowns: waiting for the technician, surges as the grid comes back, low con",
        "patients are gathered on as few of them as will do",
        "It gives at most 4,250 W",
    ):
        assert said in told
