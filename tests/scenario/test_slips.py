"""Slips of the pen: each is seen, with its line, and what the warning proposes to write is what was meant."""

from __future__ import annotations

import pytest
from slip_texts import CALM, applied, at, problems_of, with_value, without

from o2sim.scenario import loads, warnings
from o2sim.scenario.checks.slips import outside, slips
from o2sim.scenario.checks.stated import limit, stated, values_of
from o2sim.scenario.keys.fields import documented
from o2sim.scenario.keys.usual import USUAL
from o2sim.scenario.text import nodes
from o2sim.scenario.text.nodes import Scalar
from o2sim.scenario.text.problems import Problems

FIELDS = dict(documented())
MEANT = {  # path: texts with a slip, what is meant by each (the text that means the same), where it is held
    "cylinders.water_capacity": ("full_gas", {"6.8 m3": "content: 6.8 m3", "6800 L": "content: 6.8 m3",
        "7.100 m3": "content: 7100 L", "10.5 m3": "content: 10500 L", "47 mL": "47 L"}),
    "cylinders.filling_pressure": ("full_gas", {"137 kPa": "137 bar", "2000 kPa": "2000 psi",
        "13.7 bar": "13.7 MPa", "137 psi": "137 bar", "137 MPa": "137 bar", "13.7 kPa": "13.7 MPa"}),
    "cylinders.residual_pressure": ("residual_pressure_kpa", {"8 kPa": "8 bar"}),
    "cylinders.fill_temperature": ("full_gas", {"59 degC": "59 degF"}),
    "cylinders.change_time": ("change_time_s", {"10 h": "10 min", "10 days": "10 min"}),
    "cylinders.gauge_check": ("gauge_check_s", {"2 min": "2 h", "4 days": "4 h"}),
    "cylinders.leak": ("leak_ml_min", {"100 L/min": "100 mL/min"}),
    "patients.adults.flow": ("flow_ml_min", {"2 L/h": "2 L/min", "120 L/min": "2 L/min", "500 L/min": "500 L/h",
        "{triangular: {low: 60 L/min, mode: 120 L/min, high: 180 L/min}}":
            "{triangular: {low: 1 L/min, mode: 2 L/min, high: 3 L/min}}",
        "{uniform: {low: 1 L/min, high: 3000 mL/h}}": None}),
    "patients.adults.duration": ("duration_s", {"4 min": "4 days", "60 weeks": "60 days",
        "{gamma: {mean: 40 min, sd: 20 min}}": "{gamma: {mean: 40 days, sd: 20 days}}",
        "{lognormal: {median: 60 min, geometric_sd: 2.2}}": "{lognormal: {median: 60 h, geometric_sd: 2.2}}",
        "{uniform: {low: 5 min, high: 10 days}}": "{uniform: {low: 5 days, high: 10 days}}",
        "{lognormal: {median: {low: 40 min, likely: 60 min, high: 90 min}, geometric_sd: 2.2}}":
            "{lognormal: {median: {low: 40 h, likely: 60 h, high: 90 h}, geometric_sd: 2.2}}"}),
    "patients.adults.admissions": ("admissions_per_day", {"210 / day": "210 / month",
        "4000 / day": "4000 / year"}),
    "patients.adults.hypoxaemic": ("hypoxaemic", {"0.12 %": "12 %", "88 %": "100 %"}),
    "patients.adults.recognised": ("recognised", {"0.75 %": "75 %"}),
    "resupply.lead_time": ("lead_time_s", {"4 min": "4 days", "12 months": "12 days",
        "{gamma: {mean: 4 min, sd: 2 min}}": "{gamma: {mean: 4 days, sd: 2 days}}"}),
    "resupply.review": ("review_s", {"7 min": "7 days", "28 months": "28 days"}),
    "response_time": ("response_time_s", {"5 h": "5 min", "{gamma: {mean: 5 h, sd: 2 h}}":
        "{gamma: {mean: 5 min, sd: 2 min}}"}),
    "concentrators.rated_flow": ("rated_flow_ml_min", {"5 L/h": "5 L/min", "5000 L/min": "5 L/min"}),
    "concentrators.power": ("power_w", {"350 kW": "350 W", "0.35 W": "0.35 kW"}),
    "concentrators.failure": ("failure_s", {"4000 min": "4000 h", "{exponential: {mean: 4000 min}}":
        "{exponential: {mean: 4000 h}}"}),
    "concentrators.repair": ("repair_s", {"30 min": "30 days"}),
    "power.grid.up": ("up_s", {"{exponential: {mean: 90 s}}": "{exponential: {mean: 90 h}}"}),
    "power.grid.down": ("down_s", {"30 s": "30 min", "60 days": "60 min"}),
    "costs.concentrators.price": ("concentrator.price", {"1.450 USD": "1450 USD"}),
    "costs.cylinders.price": ("cylinder.price", {"0.250 USD": None, "1.450.000 USD": None}),
    "costs.transfer": ("per_transfer", {"1.200 USD": "1200 USD"}),
    "costs.cylinders.life": ("cylinder.life_years", {"20 days": "20 years"}),
    "costs.electricity": ("electricity_per_kwh", {"18 USD/kWh": "0.18 USD/kWh"}),
    "costs.discount_rate": ("discount_rate", {"0.03 %": "3 %"}),
    "horizon": ("horizon_s", {"365 min": "365 days"}), "warm_up": ("warm_up_s", {"28 s": "28 days"}),
}  # fmt: skip
SLIPS = [(path, slip) for path, (_, cases) in MEANT.items() for slip, meant in cases.items() if meant]
BESIDE = {  # slips that are seen only beside other sections or values
    "power.battery.usable": ("{usable: 3 Wh, charge: 600 W}", "usable: 3 kWh"),
    "power.battery.charge": ("{usable: 3 kWh, charge: 0.6 W}", "charge: 0.6 kW"),
    "power.generator.power": ("{power: 5 W}", "power: 5 kW"),
    "power.solar.peak": ("{peak: 2 W}", "peak: 2 kW"),
}
WORDS = {  # what is no unit's fault: a number, and the likely cause
    ("cylinders.fleet", "4000"): "how many there are, not how many are used in a year, nor litres of gas",
    ("cylinders.regulators", "1200"): "how many there are at the facility",
    ("concentrators.count", "400"): "how many there are at the facility",
    ("cylinders.gauge_check", "48 h"): "looks rarer than one a day",
    ("patients.adults.flow", "20 L/min"): "flowmeters end at 15 L/min",
    ("patients.adults.flow", "{triangular: {low: 1 L/min, mode: 2 L/min, high: 50 L/min}}"): "flowmeters end",
    ("concentrators.rated_flow", "0.3 L/min"): "what one unit can give, not what a patient needs",
    ("concentrators.power", "3500 W"): "what one unit draws, not all of them",
    ("costs.discount_rate", "35 %"): "of which whole is it the share?",
    ("costs.cylinders.refill", "3000 USD"): "is it the price of all together",
    ("costs.cylinders.refill", "0 USD"): "no price for a refill",
    ("tolerated_gap", "2 h"): "hours without oxygen would count as no interruption",
    ("cylinders.filling_pressure", "1.37 MPa"): "is a digit missing?",
}


def held(text, path):
    """Return what the last strategy of a text holds at a key, by the name of its field."""
    *above, _ = path.split(".")
    where = ".".join([{"costs": "costs", "power": "power"}.get(above[0], above[0]) if above else ""]).strip(".")
    if above[:1] == ["patients"]:
        where = "patients.adults"
    if above == ["power", "grid"]:
        where = "grid"
    return at(loads(text), f"{where}.{MEANT[path][0]}".strip("."))


def test_an_ordinary_scenario_has_no_slips():
    """The example of the design with calmer flows: every figure is as usual."""
    assert list(slips(loads(CALM))) == []


@pytest.mark.parametrize(("path", "slip"), SLIPS)
def test_what_a_slip_is_taken_for_is_accepted_and_what_was_meant(path, slip):
    """The proposal is put in the place of the slip: it loads without that doubt, and holds the value meant."""
    text = with_value(path, slip)
    line = next(n for n, each in enumerate(text.splitlines(), 1) if each.startswith(path.split(".")[0]))
    problem = next(each for each in problems_of(text) if "write" in each.hint and path.split(".")[0] in each.field)
    mended = applied(text, problem)
    meant = MEANT[path][1][slip]
    if meant.startswith("content: "):
        wanted = with_value(
            "cylinders.content", meant.removeprefix("content: "), without("cylinders.water_capacity", CALM)
        )
        mended, wanted = (without("cylinders.fill_temperature", each) for each in (mended, wanted))
    else:
        wanted = with_value(path, meant)
    assert problem.line == line
    assert held(mended, path) == held(wanted, path)
    assert list(slips(loads(mended))) == []


@pytest.mark.parametrize("path", BESIDE)
def test_a_slip_in_a_section_of_power_is_mended_by_what_is_proposed(path):
    """Battery, generator and panels: W and kW, Wh and kWh mixed up; the proposal is read and raises no doubt."""
    said, wanted = BESIDE[path]
    section = path.rpartition(".")[0]
    text = CALM if section != "power.solar" else with_value("power.battery", "{usable: 3 kWh, charge: 600 W}")
    text = with_value(section, said, text)
    (problem,) = slips(loads(text))
    assert (problem.field, f"write {wanted}" in problem.hint) == (path, True)
    assert list(slips(loads(applied(text, problem)))) == []


@pytest.mark.parametrize(("path", "value"), WORDS)
def test_a_number_that_no_unit_explains_is_doubted_with_its_cause(path, value):
    """A number far from the usual: the warning says what it was probably taken for."""
    found = [each for each in slips(loads(with_value(path, value))) if each.field == path]
    assert [WORDS[path, value] in each.hint for each in found] == [True]
    assert [", usually " in each.found for each in found] == [True]


def test_a_trip_for_nothing_is_doubted_unless_cylinders_are_paid_for():
    """A delivery that costs nothing at all; where each cylinder delivered has a price nothing is said."""
    free = with_value("costs.transport", "{trip: 0 USD}")
    assert [each.field for each in slips(loads(free))] == ["costs.transport.trip"]
    assert list(slips(loads(with_value("costs.transport", "{trip: 0 USD, cylinder: 2 USD}")))) == []


def test_three_decimals_of_a_price_are_doubted_but_in_currencies_that_have_them():
    """1.450 is 1450 in many a hand; the dinars of ISO 4217 with three decimals are left alone."""
    for currency, doubts in (("UGX", 1), ("KWD", 0)):
        text = with_value("costs.concentrators.price", f"1.450 {currency}", CALM.replace("USD", currency))
        assert [each.field for each in slips(loads(text))] == ["costs.concentrators.price"] * doubts


def test_prices_in_a_currency_of_another_worth_are_not_judged_by_their_range():
    """A concentrator of two million shillings and a refill of sixty thousand are ordinary."""
    text = with_value("costs.concentrators.price", "2000000 UGX", CALM.replace("USD", "UGX"))
    assert list(slips(loads(with_value("costs.cylinders.refill", "60000 UGX", text)))) == []


def test_a_warm_up_longer_than_the_horizon_is_doubted():
    """Two weeks are counted after four that are not."""
    (problem,) = slips(loads(with_value("horizon", "14 days")))
    assert str(problem).startswith("<text>:5: warm_up: 28 days, longer than the horizon of 14 days")


def test_a_slip_in_a_strategy_points_there():
    """The strategy's own value, not that of the scenario."""
    text = with_value("strategies.mixed.cylinders", "{fleet: 4000}")
    assert [each.field for each in slips(loads(text))] == ["strategies.mixed.cylinders.fleet"]


def test_slips_are_among_the_warnings():
    """`check`, `run` and `compare` print what `warnings` gives."""
    text = with_value("cylinders.water_capacity", "6.8 m3")
    assert next(slips(loads(text))) in warnings(loads(text))


@pytest.mark.parametrize("pattern", USUAL)
def test_each_usual_range_is_of_a_key_and_holds_its_default(pattern):
    """The ends can be read, least below most, and what stands for a key that is left out raises no doubt."""
    field, usual = FIELDS[pattern], USUAL[pattern]
    assert limit(usual.least, field) < limit(usual.most, field)
    values = values_of(Scalar(0, "", field.default), field) if field.default else []
    assert [outside(value, usual, field) for value in values if not usual.zero] == [""] * len(
        [value for value in values if not usual.zero]
    )
    assert usual.source != ""


def test_each_number_that_is_stated_is_found_with_its_pattern():
    """Every key of the calm text that a table could name: classes as *, places in a list as []."""
    found = {each.pattern for each in stated(nodes.parse(CALM, Problems("")))}
    assert {"patients.*.flow", "resupply.road_closures[].length", "costs.cylinders.refill"} <= found
    assert found - {"sources"} <= set(FIELDS)  # of a strategy alone
