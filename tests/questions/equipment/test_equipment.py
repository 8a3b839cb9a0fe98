"""`o2sim equipment`: what is on the list, what is not, and where each number comes from."""

from __future__ import annotations

import csv
import json
import re

import pytest
from click.testing import CliRunner
from scipy.stats import poisson

from o2sim import cli
from o2sim.looks import cautions
from o2sim.questions.choose import text as decision_text
from o2sim.questions.choose.comparison import compare
from o2sim.questions.equipment.devices import bedside
from o2sim.questions.equipment.equipment import ENOUGH, equipment, size_of
from o2sim.questions.equipment.peaks import ALL, use_by_strategy
from o2sim.questions.equipment.result import BACK_UP
from o2sim.questions.equipment.text import cautions_for, equipment_tables, sources
from o2sim.runs.study import run_study
from o2sim.scenario import loads
from o2sim.typed import as_json

WARD = """
name: Reed Bank
horizon: 28 days
warm_up: 7 days
patients:
  newborns: {admissions: 1 / day, flow: 0.5 L/min, duration: 2 days, size: newborn}
  adults: {admissions: 1 / day, flow: 6 L/min, duration: 2 days}
cylinders: {content: 68000 L, fleet: 60, regulators: 30, gauge_check: watched, change_time: 0 min}
concentrators:
  count: 3
  rated_flow: 8 L/min
  outlets: 4
  power: 350 W
  failure: {exponential: {mean: 300 h}}
  repair: 10 days
power:
  grid: {up: {exponential: {mean: 20 h}}, down: {exponential: {mean: 4 h}}}
  battery: {usable: 10 kWh, charge: 600 W}
strategies:
  cylinders only: {sources: [cylinder]}
  concentrators only: {sources: [concentrator]}
  mixed: {sources: [concentrator, cylinder]}
"""
FULL = """
    concentrators: {crew: 1, service_every: 200 h, drift: 900 h, never_repaired: 10 %}
    power:
      stabiliser: true
      generator:
        start_delay: 1 min
        running_failure: {exponential: {mean: 100 h}}
        repair: 1 day
        base_load: 2 kW
        fuel: {idle: 1 L/h, per_kW: 0.3 L/h}
"""


@pytest.fixture(scope="module")
def listed():
    """Return the object for five replications of the ward under all strategies."""
    return equipment(run_study(loads(WARD), replications=5))


@pytest.fixture
def ward_file(tmp_path):
    """Write the ward to a file and return its path."""
    path = tmp_path / "reed.yaml"
    path.write_text(WARD, encoding="utf-8")
    return path


def call(*args):
    """Run a command and return click's result."""
    return CliRunner().invoke(cli.main, [str(arg) for arg in args])


def by_item(result, strategy, part="equipment"):
    """Return the entries of a strategy's list by item."""
    return {entry.item: as_json(entry) for entry in getattr(result.strategies[strategy], part)}


def test_a_strategy_lists_nothing_that_it_does_not_use(listed):
    """Nothing but a back-up goes with cylinders where there are none; no unit or filter without concentrators."""
    without_cylinders = " ".join(item for item in by_item(listed, "concentrators only") if "ack-up" not in item)
    without_units = " ".join(by_item(listed, "cylinders only"))
    for word in ("Cylinders", "egulators", "Spanners"):
        assert word not in without_cylinders
        assert word in without_units
    assert "ack-up" not in " ".join([without_units, *by_item(listed, "mixed")])
    for word in ("Concentrators", "filters", "analyser", "outlets", "splitters"):
        assert word not in without_units
        assert word in without_cylinders
    assert listed.strategies["cylinders only"].running_hours_by_unit == ()


def backed_up(result):
    """Return the back-up lines of concentrators only: item, quantity, basis, figures."""
    entries = result.strategies["concentrators only"].equipment
    return [(e.item, e.quantity, e.basis, e.figures) for e in entries if e.group == BACK_UP]


def test_concentrators_alone_have_a_back_up_at_each_point_of_use(listed):
    """Three units of four outlets: twelve cylinders of the scenario's size, regulators, flowmeters, keys."""
    assert backed_up(listed) == [
        ("Back-up cylinders, full", 12, "common practice", "3 units of 4 outlets"),
        ("Back-up regulators", 12, "common practice", "3 units of 4 outlets"),
        ("Flowmeters, on back-up regulators", 12, "common practice", ""),
        ("Keys or spanners, for back-up cylinders", 12, "common practice", ""),
    ]
    told = " ".join(sources(listed))
    most = by_item(listed, "concentrators only")["Patients on units"]["highest"]
    point = (
        "one for each point of use, that is every outlet of every unit (a patient may be put on any of them; at "
        f"most {most} were in use at once); "
    )
    assert 0 < most < 12
    assert f"cylinders, full: {point}size as in the scenario, 68,000 L of gas; not simulated" in told
    assert (
        f"Back-up regulators: {point}not simulated, and in the costs only at a price of its own (common practice)"
        in told
    )
    assert {cautions.FITTING, cautions.AS_SPECIFIED, cautions.SPLITTER} <= set(cautions_for(listed))
    assert {cautions.HUMIDIFY, cautions.BUBBLE} <= set(cautions_for(listed))


def test_without_a_section_of_cylinders_their_size_is_a_local_choice():
    """A scenario without cylinders lists the back-up all the same; one that states litres of water says them."""
    alone = (
        re.sub(r"cylinders: \{content.*\n", "", WARD).split("strategies:")[0].replace("outlets: 4", "outlets: 1")
    )
    alone += "strategies: {concentrators only: {sources: [concentrator]}}\n"
    found = equipment(run_study(loads(alone), replications=1))
    assert backed_up(found)[0][1:] == (3, "common practice", "3 units of 1 outlet")
    assert "; size by local choice; not simulated" in " ".join(sources(found))
    stamped = WARD.replace("content: 68000 L", "water_capacity: 47 L, filling_pressure: 13.7 MPa")
    assert size_of(loads(stamped)) == "size as in the scenario, 47 L of water filled to 137 bar"


def test_the_back_up_is_in_the_list_to_buy_and_in_no_cost():
    """Chosen from options, concentrators alone have it on the list; the cheque says that it has no price."""
    prices = "costs: {currency: USD, concentrators: {price: 648 USD, life: 7 years}}\n"
    study = run_study(loads(WARD + prices), replications=2, strategies=["concentrators only"])
    decision = compare(study).decided
    bought = {e.item: e.quantity for e in decision.procurement if e.group == BACK_UP}
    assert set(bought.values()) == {12}
    assert [line.item for line in decision.cheque.purchases] == ["concentrators"]
    assert decision_text.cheque_tables(decision)[0].note.endswith(decision_text.BACK_UP_UNPRICED)
    assert "Back-up regulators" in str(decision_text.procurement_table(decision).rows)


def test_what_goes_with_a_cylinder_follows_the_cylinders_in_use(listed):
    """Cylinders only, ample stock: as many regulators are enough as patients at once; flowmeters by flow."""
    items = by_item(listed, "cylinders only")
    peak = items["Patients on oxygen"]["quantity"]
    assert items["Cylinders in use"]["quantity"] == items[ENOUGH]["quantity"] == peak
    assert items["Spanners or cylinder keys"]["quantity"] == items["Regulators"]["quantity"] == 30
    assert items["Cylinders, whole fleet"]["quantity"] == 60
    for kind, reach in (("  newborns", "0–2"), ("  adults", "0–15")):
        found = items[f"Flowmeters {reach} L/min, on regulators"]
        assert (found["quantity"], found["highest"]) == (items[kind]["quantity"], items[kind]["highest"])
    assert "Flowmeters above 15 L/min, on regulators" not in items
    assert items["Humidifiers with bottle"]["quantity"] == int(
        poisson(2).ppf(0.99)
    )  # adults, above 4 L/min: Little, 1961


def test_what_goes_with_units_follows_their_number(listed):
    """Three units: three splitters, six gross and six internal filters a year, one analyser; and spares."""
    items = by_item(listed, "mixed")
    quantities = [
        items[name]["quantity"] for name in ("Concentrators", "Flow splitters", "Gross particle filters")
    ]
    assert quantities == [3, 3, 6]
    assert (items["Internal filters"]["quantity"], items["Oxygen analyser"]["quantity"]) == (6, 1)
    assert 0 < items["Spare concentrators"]["quantity"] <= 3
    assert items["Units running"]["limited"] == (items["Units running"]["quantity"] == 3)


def test_consumables_are_patients_times_the_stated_factor(listed):
    """Prongs for newborns by their size, masks for adults at 6 L/min named by class; scaled to a year."""
    study = run_study(loads(WARD), replications=5, strategies=["mixed"])
    items = by_item(listed, "mixed")
    prongs, masks = items["Nasal prongs, newborn"], items["Face mask, for adults"]
    arrivals = sum(outcome.arrivals for outcome in study.outcomes["mixed"]) / 5 * 365 / 28
    assert 1.2 * arrivals <= prongs["quantity"] + masks["quantity"] < 1.2 * arrivals + 2
    assert (prongs["basis"], masks["unit"]) == ("assumption", "each a year")


def test_the_workshops_year_follows_the_totals(listed):
    """Failures, parts and hours are those of the replications, scaled to 365 days; days of crews are not known."""
    outcomes = run_study(loads(WARD), replications=5, strategies=["mixed"]).outcomes["mixed"]
    items, scale = by_item(listed, "mixed", "workshop"), 365 / 28 / 5
    failures = sum(outcome.concentrator_failures for outcome in outcomes) * scale
    assert items["Concentrator failures"]["quantity"] == pytest.approx(failures)
    assert failures <= items["Sets of repair parts"]["quantity"] < failures + 1
    hours = sum(outcome.concentrator_running_s for outcome in outcomes) / 3_600 * scale
    assert items["Running hours, all units"]["quantity"] == pytest.approx(hours)
    assert sum(listed.strategies["mixed"].running_hours_by_unit) == pytest.approx(hours)
    assert items["Concentrator failures"]["highest"] == max(o.concentrator_failures for o in outcomes) * 365 / 28
    out_s = sum(level * seconds for o in outcomes for level, seconds in enumerate(o.at_once.units_out))
    assert items["Units out of order"]["quantity"] == pytest.approx(out_s / 86_400 * scale)
    assert items["Load of the units"]["quantity"] == by_item(listed, "mixed")["Units running"]["quantity"] * 350
    assert items["Technician's time"]["quantity"] is None
    load = items["Units' load on the inverter"]
    assert load["quantity"] % 350 == 0
    assert items["Full battery lasts at that load"]["quantity"] == pytest.approx(10_000 * 0.9 / load["quantity"])


def test_a_workshop_with_a_crew_a_generator_and_services():
    """Technician's time is known; services, write-offs, stabilisers, generator hours and fuel are told."""
    text = WARD.replace(
        "  mixed: {sources: [concentrator, cylinder]}\n", "  mixed:\n    sources: [concentrator]" + FULL
    )
    result = equipment(run_study(loads(text), replications=3, strategies=["mixed"]))
    items = by_item(result, "mixed", "workshop")
    for name in ("Technician's time", "Preventive services", "Units written off", "Generator running", "Fuel"):
        assert items[name]["quantity"] > 0, name
    repaired = items["Concentrator failures"]["quantity"] - items["Units written off"]["quantity"]
    assert items["Repairs by a technician"]["quantity"] == pytest.approx(repaired)
    hours = items["Generator running"]["quantity"]
    assert items["Generator services"]["quantity"] == -(-hours // 250)
    assert items["Fuel"]["quantity"] > hours * 1.6  # idle 1 L/h and 2 kW of other load
    assert items["Units' load on the generator"]["figures"] == "beside 2,000 W of other load"
    assert by_item(result, "mixed")["Voltage stabilisers, all together"]["quantity"] == 1


def test_the_need_is_that_of_the_horizon(listed):
    """Five replications of 28 days are looked at; the warm-up is not. Behind units the highest need counts."""
    study = run_study(loads(WARD), replications=5, strategies=["mixed"])
    assert use_by_strategy(study)["mixed"].need[ALL].seconds == 5 * 28 * 86_400
    items = by_item(listed, "mixed")
    for kind, reach in (("  newborns", "0–2"), ("  adults", "0–15")):
        most = min(items[ENOUGH]["quantity"], items[kind]["highest"])
        assert items[f"Flowmeters {reach} L/min, on regulators"]["quantity"] == most


def test_the_longest_list_leads_the_order_of_lines(listed):
    """Cylinders before units, whichever strategy comes first in the file."""
    (table,) = (table for table in equipment_tables(listed) if table.columns[0] == "At once")
    heads = [row[0] for row in table.rows]
    assert heads[-3:] == ["Cylinders in use", "Patients on units", "Units running"]


def test_a_rare_reserve_is_not_listed_as_nothing():
    """Cylinders used for under 1 % of the time behind a unit: none in use for 99 % of it, yet one regulator."""
    text = (
        WARD.replace("count: 3", "count: 30")
        .replace("mean: 300 h", "mean: 300000 h")
        .replace("mean: 4 h", "mean: 1 min")
    )
    text = text.replace("{usable: 10 kWh, charge: 600 W}", "none")
    result = equipment(run_study(loads(text), replications=20, strategies=["mixed"]))
    items, load = by_item(result, "mixed"), by_item(result, "mixed", "workshop")["Load of the units"]
    assert items["Cylinders in use"]["quantity"] == 0
    assert items[ENOUGH]["quantity"] > 0
    running = items["Units running"]
    assert running["quantity"] < running["highest"] < 30
    assert (load["quantity"], load["highest"]) == (350 * running["quantity"], 350 * running["highest"])


def test_a_number_the_scenario_limits_is_marked():
    """With two regulators both are in use most of the time: told with the share, and starred in the table."""
    result = equipment(run_study(loads(WARD.replace("regulators: 30", "regulators: 2")), replications=2))
    found = by_item(result, "cylinders only")[ENOUGH]
    assert (found["quantity"], found["limited"]) == (2, True)
    assert found["figures"].startswith("all 2 there are were in use ")
    (table,) = (table for table in equipment_tables(result) if table.columns[0] == "At the bedside")
    (row,) = (row for row in table.rows if row[0] == ENOUGH)
    assert row[1:3] == ("2*", "-")
    assert table.note.startswith("* all that the scenario has")


@pytest.mark.parametrize(
    ("flow", "device", "flowmeter", "humidifier"),
    [
        (500, "nasal prongs", "0–2 L/min", False),
        (2_000, "nasal prongs", "0–2 L/min", False),
        (2_001, "nasal prongs", "0–15 L/min", False),
        (4_000, "nasal prongs", "0–15 L/min", False),
        (4_001, "nasal prongs", "0–15 L/min", True),
        (5_000, "nasal prongs", "0–15 L/min", True),
        (5_001, "face mask", "0–15 L/min", True),
        (10_001, "non-rebreather mask", "0–15 L/min", True),
        (15_001, "non-rebreather mask", "above 15 L/min", True),
    ],
)
def test_bedside_by_flow(flow, device, flowmeter, humidifier):
    """Prongs to 5, masks to 10, reservoirs above; humidified above 4 L/min (both WHO 2016, from memory)."""
    hospital = loads(WARD).hospitals["mixed"]
    newborns, adults = hospital.patients
    found = bedside(hospital, adults, flow)
    assert (found.device, found.flowmeter, found.humidifier) == (device, flowmeter, humidifier)
    assert (found.size, bedside(hospital, newborns, flow).size) == ("for adults", "newborn")


def test_the_command_prints_tables_sources_and_cautions(ward_file):
    """Strategies side by side, each number's basis, the cautions that belong to it, how to repeat it."""
    shown = call("equipment", ward_file, "--replications", "2")
    assert shown.exit_code == 0
    assert max(len(line) for line in shown.stdout.splitlines()) <= 100
    text = " ".join(shown.stdout.split())
    assert "enough for 99 % of the time, simulated over 2 runs of 28 days; in brackets the highest" in text
    for words in (
        "At once cylinders only concentrators only mixed",
        "Running hours a year by unit",
        "Oxygen analyser: one for the facility, to check what units give at their total flow (common practice)",
        "This plans supply and prescribes nothing",
        "Never adapt or force a fitting",
        "Behind a flow splitter each patient has a flowmeter: check at every outlet the concentration",
        "Humidify for nasopharyngeal catheters",
        "seed 1 | 2 replications",
    ):
        assert words in text
    assert "Run generators outdoors" not in text


def test_one_strategy_as_json(ward_file):
    """One object with provenance, the strategy asked for alone, and the cautions; the seed repeats it."""
    shown = call("equipment", ward_file, "--strategy", "cylinders only", "--replications", "2", "--json")
    found = json.loads(shown.stdout)
    assert list(found["strategies"]) == ["cylinders only"]
    assert (found["replications"], found["seed"], found["share_of_time"], found["complete"]) == (2, 1, 0.99, True)
    assert set(found["strategies"]["cylinders only"]) == {
        "equipment",
        "workshop",
        "running_hours_by_unit",
        "to_buy",
        "capital",
        "unpriced",
    }
    for entry in found["strategies"]["cylinders only"]["equipment"]:
        assert entry["basis"]
        assert entry["rule"]
    assert found["cautions"][0].startswith("This plans supply")
    again = call("equipment", ward_file, "--strategy", "cylinders only", "--replications", "2", "--json")
    assert again.stdout == shown.stdout


def test_a_csv_to_buy_from(ward_file, tmp_path):
    """A row a strategy and item with quantity, unit and why; not overwritten without --force."""
    place = tmp_path / "list.csv"
    assert call("equipment", ward_file, "--replications", "2", "--csv", place).exit_code == 0
    with place.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    (regulators,) = (r for r in rows if (r["strategy"], r["item"]) == ("mixed", ENOUGH))
    assert int(regulators["quantity"]) > 0
    assert (regulators["unit"], regulators["basis"]) == ("each", "simulated peak")
    assert "99 % of the time" in regulators["why"]
    (unknown,) = (r for r in rows if (r["strategy"], r["item"]) == ("mixed", "Technician's time"))
    assert unknown["quantity"] == ""
    refused = call("equipment", ward_file, "--replications", "2", "--csv", place)
    assert refused.exit_code == 1
    assert "--force" in refused.stderr
    assert call("equipment", ward_file, "--replications", "2", "--csv", place, "--force").exit_code == 0


@pytest.mark.parametrize(
    ("line", "whose", "words"),
    [
        ("", "example", "The figures of the scenario are an example: order and buy nothing by them."),
        ("figures: ours\n", "ours", "By its author the figures of the scenario are the hospital's own."),
    ],
)
def test_a_list_to_buy_from_says_whose_the_figures_are(tmp_path, line, whose, words):
    """On the terminal, in every row of the CSV and in the JSON."""
    ward, place = tmp_path / "ward.yaml", tmp_path / "list.csv"
    ward.write_text(line + WARD, encoding="utf-8")
    asked = ("equipment", ward, "--replications", "1", "--strategy", "cylinders only")
    assert words in call(*asked, "--csv", place).stdout
    with place.open(encoding="utf-8", newline="") as file:
        assert {row["whose_figures"] for row in csv.DictReader(file)} == {whose}
    assert json.loads(call(*asked, "--json").stdout)["figures"] == whose


def test_an_unknown_strategy_is_told_with_the_nearest(ward_file):
    """Misspelt, it costs no run."""
    shown = call("equipment", ward_file, "--strategy", "mixd")
    assert shown.exit_code == 2
    assert "Did you mean 'mixed'?" in shown.stderr


def test_what_the_scenario_says_of_the_bedside_is_in_the_list() -> None:
    """Two splitters stated are two to have, and humidifiers are for those above the flow that is stated."""
    text = WARD.replace("regulators: 30,", "regulators: 30, splitters: {count: 2, outlets: 3},")
    text = f"{text}bedside: {{humidifiers: 9, humidify_above: 7 L/min}}\n"
    study = run_study(loads(text), strategies=["cylinders only"], replications=1)
    entries = {entry.item: entry for entry in equipment(study).strategies["cylinders only"].equipment}
    assert entries["Flow splitters, on cylinders"].quantity == 2
    assert entries["Humidifiers, as limited"].quantity == 9
    assert "Humidifiers with bottle" not in entries  # their number is limited
