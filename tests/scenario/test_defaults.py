"""The defaults of 0.2.0 against what they rest on; those of 0.1.0, stated, give the results of 0.1.0."""

import hashlib
import math
from dataclasses import replace

import pytest
from small_ward import WARD

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Cause
from o2sim.questions.documents.starter import starter
from o2sim.scenario import loads
from o2sim.scenario.keys.fields import documented
from o2sim.scenario.keys.sources import RUNS_ON
from o2sim.scenario.types.hospital import Bedside, Hospital, Shortfall
from o2sim.statistics.intervals import wilson

AS_BEFORE = "shortfall: {enough: 0 %, recovery: 0 min, counted_by: cause at crossing}\n"
OLD_STOCK = "leak: 0 L/min, change_when: residual, rack: oldest that lasts, send_part_used: never"
OLD_CHANGES = {
    "change_when": "residual",
    "timed": None,
    "rack": "oldest that lasts",
    "send_part_used": None,
}
OLD = WARD.replace("gauge_check: 2 h", f"gauge_check: 2 h, {OLD_STOCK}").replace("350 W", "350 W, start_up: 0 min")


def outcomes(scenario):
    """Return the outcomes of three replications under each strategy."""
    return [simulate(scenario, name, Draws(1, k)) for name in scenario.strategies for k in range(3)]


def old_by_hand(hospital: Hospital) -> Hospital:
    """Return a hospital with the defaults of the code, those of 0.1.0, where the file's differ."""
    stock, units = hospital.cylinders, hospital.concentrators
    return replace(
        hospital,
        shortfall=Shortfall(),
        bedside=Bedside(),
        cylinders=replace(stock, leak_ml_min=0, **OLD_CHANGES) if stock else None,
        concentrators=replace(units, start_up_s=0) if units else None,
    )


def test_the_old_defaults_stated_give_the_results_of_before():
    """Bit for bit: the outcomes are those that 0.1.0 gave for this ward, which stated none of them."""
    found = outcomes(loads(OLD + AS_BEFORE))
    plain = loads(WARD)
    by_hand = replace(plain, hospitals={name: old_by_hand(each) for name, each in plain.hospitals.items()})
    assert found == outcomes(by_hand) != outcomes(plain)
    there = slice(Cause.NO_FUNDS)  # the causes of then
    told = [
        (each.served_cylinder_s, each.interruptions[there], each.unserved_s[there], each.daily.tobytes())
        for each in found
    ]
    assert hashlib.sha256(repr(told).encode()).hexdigest()[:16] == "75c314b32be7089a"


@pytest.mark.parametrize("key", ["enough: 0 %", "recovery: 0 min", "counted_by: cause at crossing"])
def test_a_key_of_shortfall_left_out_has_the_default_of_the_file(key):
    """Beside one that is stated the other two are those of a file that says nothing."""
    (name, _), left_out = key.split(": "), loads(WARD).hospitals["mixed"].shortfall
    stated = loads(f"{WARD}shortfall: {{{key}}}\n").hospitals["mixed"].shortfall
    field = {"enough": "enough_permille", "recovery": "recovery_s", "counted_by": "counted_by"}[name]
    assert stated == replace(left_out, **{field: getattr(Shortfall(), field)})
    assert left_out == Shortfall(500, 300, "supply clock")


def test_a_new_default_that_changes_results_changes_the_hash():
    """What the file leaves out counts as if it were stated, and differs from what was left out before."""
    hashes = [loads(text).hash for text in (WARD, OLD + AS_BEFORE, WARD + AS_BEFORE, OLD)]
    assert len(set(hashes)) == 4
    new = "shortfall: {enough: 50 %, recovery: 5 min, counted_by: supply clock}\n"
    assert loads(WARD + new).hash == loads(WARD).hash


@pytest.mark.parametrize(("power", "chart_l_h"), [("20 kW", 0.95), ("8 kW", 0.352)])
def test_idle_fuel_goes_by_the_power_of_the_generator(power, chart_l_h):
    """Within 5 % of what straight lines through trade fuel charts give without load; 0.95 L/h without a power."""
    text = WARD.replace("power: {grid", f"power: {{generator: {{power: {power}}}, grid")
    assert loads(text).hospitals["mixed"].power.generator.idle_ml_h == pytest.approx(1_000 * chart_l_h, rel=0.05)
    unknown = loads(text.replace(f"{{power: {power}}}", "{start_delay: 5 min}"))
    assert unknown.hospitals["mixed"].power.generator.idle_ml_h == 950
    stated = loads(text.replace(f"power: {power}", f"power: {power}, fuel: {{idle: 0.5 L/h}}"))
    assert stated.hospitals["mixed"].power.generator.idle_ml_h == 500


@pytest.mark.parametrize(("failed", "hours", "mean"), [(0.5, 48, "69 h"), (0.2, 14 * 24, "1,506 h")])
def test_the_means_to_a_failure_are_those_of_the_published_shares(failed, hours, mean):
    """Marqusee and Jenket 2020, highlights: half by 48 h, a fifth by two weeks; 1 - exp(-t / mean)."""
    assert f"{-hours / math.log(1 - failed):,.0f} h" == mean
    assert mean in RUNS_ON


def test_lives_go_by_the_kind_of_thing():
    """At 3 % a thing of 7 years costs 0.161 of its price a year, one of 20 years 0.067, of 10 years 0.117."""
    costs = loads(WARD.replace("life: 20 years, ", "").replace(", life: 7 years", "")).hospitals["mixed"].costs
    lives = {
        "cylinder": 20,
        "concentrator": 7,
        "regulator": 7,
        "splitter": 5,
        "battery": 4,
        "solar": 25,
        "humidifier": 3,
    }
    assert {name: getattr(costs, name).life_years for name in lives} == lives
    spread = {years: 0.03 / (1 - 1.03**-years) for years in (7, 10, 20)}
    assert [round(each, 3) for each in spread.values()] == [0.161, 0.117, 0.067]


def test_the_share_of_units_that_work_in_the_starter_is_near_what_was_observed():
    """28 of 36 and 13 of 25 (La Vincente and others 2011, abstract): 41 of 61, and Wilson's interval."""
    scenario, observed = loads(starter()), wilson(41, 61)
    levels = [simulate(scenario, "concentrators only", Draws(1, k)).at_once.units_out for k in range(20)]
    out = sum(units * seconds for each in levels for units, seconds in enumerate(each))
    working = 1 - out / (4 * sum(map(sum, levels)))
    assert observed.low < working < observed.high
    assert working == pytest.approx(41 / 61, abs=0.05)


def test_a_default_that_is_no_convention_names_its_source():
    """Each of these keys says who found it and where it was read, that it is assumed, or that it is asked for."""
    marks = {path: field.mark for path, field in documented()}
    assert all("assum" in marks[path] for path in ("cylinders.leak", "concentrators.start_up", "shortfall.enough"))
    asked = ("patients.*.recognised", "power.generator.start_chance", "power.generator.running_failure")
    assert all(marks[path].startswith("state your own") for path in asked)
    read = ("cylinders.leak", "concentrators.start_up", "costs.concentrators.life", "power.generator.start_chance")
    assert all("read in" in marks[path] for path in read)
    memory = ("bedside.humidify_above", "costs.battery.life", "concentrators.alarm_level")
    assert all("from memory" in marks[path] for path in memory)


def test_the_range_in_the_help_of_recognised_can_be_written():
    """The example is one that a file may state."""
    (field,) = (field for path, field in documented() if path == "patients.*.recognised")
    example = field.help[field.help.index("{") : field.help.index("}") + 1]
    (found,) = loads(WARD.replace("flow: 2 L/min", f"recognised: {example}, flow: 2 L/min")).uncertain
    assert found.texts == ("50 %", "75 %", "95 %")
