"""What a message proposes to write is accepted in its place, and is what was meant; none goes untested."""

from __future__ import annotations

import pytest
from proposal_scan import proposals
from slip_texts import CALM, problems_of, with_value, without

from o2sim.errors import O2simError
from o2sim.scenario import loads
from o2sim.scenario.changing.levers import lever

TIMED = with_value("cylinders.timed", "{margin: 5 min}")
SOLAR = with_value("power.solar", "{peak: 2 kW}")
BATTERY = with_value("power.battery", "{usable: 1 kWh, charge: 1 kW}")
SOLAR_ALONE = with_value("power.solar", "{peak: 2 kW}", BATTERY)
GENERATOR = with_value("power.generator", "{power: 5 kW, repair: 2 days}")
MONITOR = with_value("concentrators.oxygen_monitor", "true")
CREDIT = with_value("funds", "{opening: 600 USD, supplier: {terms: credit, limit: 90 USD}}")
SHILLINGS = CALM.replace("USD", "UGX")
MODELS = with_value(
    "concentrators",
    "{failure: {exponential: {mean: 4000 h}}, repair: 30 days, rated_flow: 5 L/min, outlets: 4, "
    "models: {five: {power: 350 W}}, units: [{model: five, count: 5}]}",
    without("strategies.mixed.concentrators", CALM),  # a plain count would stand in place of the list
)
MASK = with_value("patients.adults.flow", "3 L/min")
# The text that proposes, as in the sources: (scenario, key, what is wrong there, what is said, what is then
# written, what is meant by it). What is written at another key is `key = value`; what is said is in the message.
CASES = {
    "write {}": [  # decimal commas, groups, points, ranges of times, fortnights, units
        (CALM, "cylinders.filling_pressure", '"16,5 MPa"', "write 16.5 MPa", "16.5 MPa", "16500 kPa"),
        (CALM, "patients.children.flow", '"1,5 L/min"', "write 1.5 L/min", "1.5 L/min", "1500 mL/min"),
        (CALM, "cylinders.water_capacity", "1 047 mL", "write 1047 mL", "1047 mL", "1.047 L"),
        (CALM, "costs.concentrators.price", "1'450 USD", "write 1450 USD", "1450 USD", "1450 USD"),
        (CALM, "costs.concentrators.price", "1.450.000 USD", "write 1450000 USD", "1450000 USD", "1450000 USD"),
    ],
    "write {} {}": [
        (CALM, "cylinders.gauge_check", "2 h 30 min", "write 150 min", "150 min", "2.5 h"),
        (CALM, "resupply.review", "1 day 12 h", "write 36 h", "36 h", "1.5 days"),
    ],
    "write {} days": [(CALM, "resupply.review", "2 fortnights", "write 28 days", "28 days", "4 weeks")],
    "write one number, such as {} {}, or where a law may stand {}": [
        (CALM, "patients.children.flow", "1-2 L/min", "such as 1.5 L/min", "1.5 L/min", "1500 mL/min"),
        (CALM, "patients.children.flow", "1 to 2 L/min", "{uniform: {low: 1 L/min, high: 2 L/min}}",
         "{uniform: {low: 1 L/min, high: 2 L/min}}", "{uniform: {low: 1000 mL/min, high: 2 L/min}}"),
        (CALM, "cylinders.gauge_check", "2-4 h", "such as 3 h", "3 h", "180 min"),
    ],
    "write one number": [
        (CALM, "patients.children.flow", "1 - 2.2.2 L/min", "write one number", "1 L/min", "1 L/min")],
    "write one of them": [
        (CALM, "cylinders.water_capacity", "47 litres 3 ml", "write one of them", "47 L", "47000 mL"),
    ],
    "a comma may be read two ways: write {}": [
        (CALM, "costs.concentrators.price", '"1,450 USD"', "write 1450 USD", "1450 USD", "1450 USD"),
        (CALM, "costs.concentrators.price", '"1,450 USD"', "or 1.450 USD", "1.450 USD", "1.45 USD"),
        (CALM, "costs.concentrators.price", '"1,450,000 USD"', "write 1450000 USD", "1450000 USD", "1450000 USD"),
    ],
    "write a decimal point and no thousands separators": [
        (CALM, "cylinders.water_capacity", '"4,7,1 L"', "a decimal point", "4.71 L", "4710 mL")],
    "write {} %": [
        (CALM, "patients.adults.hypoxaemic", "0.12", "write 12 %", "12 %", "12 %"),
        (CALM, "patients.adults.hypoxaemic", "12", "write 12 %", "12 %", "12 %"),
        (CALM, "costs.discount_rate", "3", "write 3 %", "3 %", "3 %"),
    ],
    "write for example {} {}": [  # and without a usual range, the first unit of its kind
        (CALM, "resupply.lead_time", "4", "write 4 days", "4 days", "96 h"),
        (CALM, "cylinders.filling_pressure", "137", "write 137 bar", "137 bar", "13.7 MPa"),
        (CALM, "cylinders.filling_pressure", "13.7", "write 13.7 MPa", "13.7 MPa", "137 bar"),
        (CALM, "horizon", "365", "write 365 days", "365 days", "1 year"),
        (CALM, "costs.transport.trip", "90", "write for example 90 USD", "90 USD", "90 USD"),
        (SHILLINGS, "costs.transport.trip", "90000", "write for example 90000 UGX", "90000 UGX", "90000 UGX"),
        (CALM, "costs.electricity", "0.18", "write for example 0.18 USD/kWh", "0.18 USD/kWh", "180 USD/MWh"),
    ],
    "write for example {}": [
        (CALM, "cylinders.water_capacity", "large", "write for example 47 L", "47 L", "47 L"),
        (SHILLINGS, "costs.transport.trip", "free", "write for example 648 UGX", "648 UGX", "648 UGX"),
    ],
    "write /{} after the currency": [
        (CALM, "costs.concentrators.service", "60 USD", "write /year", "60 USD/year", "5 USD/month"),
        (CALM, "costs.electricity", "0.18 USD", "write /kWh", "0.18 USD/kWh", "0.18 USD/kWh"),
    ],
    "write {}, without separators": [
        (CALM, "cylinders.fleet", "1.040", "write 1040", "1040", "1040"),
        (CALM, "cylinders.fleet", "1 040", "write 1040", "1040", "1040"),
    ],
    "write {}, the number alone": [
        (CALM, "cylinders.fleet", "40 cylinders", "write 40", "40", "40"),
        (CALM, "cylinders.fleet", "40.0", "write 40", "40", "40"),
    ],
    "write min for minutes, months for months": [
        (CALM, "cylinders.gauge_check", "90 M", "write min", "90 min", "1.5 h")],
    "mW is a milliwatt; write W, kW or MW": [
        (CALM, "concentrators.power", "350 mW", "write W", "350 W", "0.35 kW")],
    "write W, kW or MW: capital and small letters differ": [
        (CALM, "concentrators.power", "350 mw", "write W", "350 W", "0.35 kW")],
    "1 kPa is 10 mbar; write kPa": [
        (CALM, "cylinders.filling_pressure", "137000 mbar", "10 mbar", "13700 kPa", "13.7 MPa")],
    "1 atm is 101.325 kPa; write kPa": [
        (CALM, "cylinders.filling_pressure", "135.2 atm", "101.325 kPa", "13699.14 kPa", "13.69914 MPa")],
    "write bar: every pressure is a gauge pressure": [
        (CALM, "cylinders.filling_pressure", "137 bar(g)", "write bar", "137 bar", "13.7 MPa")],
    "write kPa: every pressure is a gauge pressure": [
        (CALM, "cylinders.filling_pressure", "13700 kPa(g)", "write kPa", "13700 kPa", "13.7 MPa")],
    "gauge pressure is meant: take 1.013 bar off and write bar": [
        (CALM, "cylinders.filling_pressure", "138.013 bara", "1.013 bar", "137 bar", "13.7 MPa")],
    "gauge pressure is meant: take 14.7 psi off and write psi": [
        (CALM, "cylinders.filling_pressure", "2014.7 psia", "14.7 psi", "2000 psi", "2000 psig")],
    "write the power in kW: kVA times the power factor": [
        (GENERATOR, "power.generator.power", "5 kVA", "in kW", "4 kW", "4000 W")],
    "write the power in W: VA times the power factor": [
        (GENERATOR, "power.generator.power", "5000 VA", "in W", "4000 W", "4 kW")],
    "write the energy in kWh: Ah times the battery's volts, over 1000": [
        (CALM, "power.battery", "{usable: 200 Ah, charge: 1 kW}", "in kWh", "{usable: 2.4 kWh, charge: 1 kW}",
         "{usable: 2400 Wh, charge: 1 kW}")],
    "work it out and write one number and one unit": [
        (CALM, "cylinders.gauge_check", "2*3 h", "one number", "6 h", "360 min")],
    "write change_when: timed, or timed: none": [
        (TIMED, "cylinders.change_when", "residual", "change_when: timed", "timed", "timed"),
        (TIMED, "cylinders.change_when", "residual", "timed: none", "cylinders.timed = none", "none"),
    ],
    "panels feed the units through the battery, so none at all lets no sun in; write usable: 3 kWh, or ": [
        (SOLAR_ALONE, "power.battery.usable", "0 kWh", "write usable: 3 kWh", "3 kWh", "3000 Wh"),
        (SOLAR_ALONE, "power.battery.usable", "0 kWh", "or leave solar out", "power.solar = none", "none")],
    "write fade: {per_cycle: 0.04 %, per_year: 3 %}": [
        (BATTERY, "power.battery.age", "2 years", "write fade: {per_cycle: 0.04 %, per_year: 3 %}",
         "power.battery.fade = {per_cycle: 0.04 %, per_year: 3 %}", "{per_year: 3 %, per_cycle: 0.04 %}"),
        (BATTERY, "power.battery.fade", "{heat: 33 degC}", "write fade: {per_cycle: 0.04 %, per_year: 3 %}",
         "{per_cycle: 0.04 %, per_year: 3 %}", "{per_year: 3 %, per_cycle: 0.04 %}")],
    "write terms: credit, or leave {} out": [
        (CREDIT, "funds.supplier.terms", "prepaid", "write terms: credit", "credit", "credit"),
        (CREDIT, "funds.supplier.terms", "prepaid", "leave limit out", "funds.supplier = {}", "{terms: prepaid}")],
    "or write regulators": [
        (without("cylinders.regulators", CALM), "cylinders.regulator_sets", "[]", "write regulators", None, None)],
    "write crew: 1": [
        (CALM, "concentrators.travel", "2 days", "write crew: 1", "concentrators.crew = 1", "1")],
    "write crew: 1 under concentrators": [
        (MODELS, "concentrators.models.five.travel", "2 days", "crew: 1 under", "concentrators.crew = 1", "1")],
    "write how many of each, such as units: [{model: NAME, count: 3}]": [
        (without("concentrators.units", MODELS), "concentrators.units", None, "units: [{model: NAME, count: 3}]",
         "[{model: five, count: 3}]", "[{count: 3, model: five}]")],
    "write owned: true, and age, in the entries of units": [
        (MODELS, "concentrators.owned", "2", "write owned: true, and age", None, None)],
    "by such a law no unit lasts beyond its longest life; write repaired_as: new, or another law": [
        (with_value("concentrators.failure", "4000 h"), "concentrators.repaired_as", "old",
         "write repaired_as: new", "new", "new")],
    "write peak under power.battery or power.generator, or leave start_surge out": [
        (with_value("power.battery", "{usable: 1 kWh, charge: 1 kW}"), "concentrators.start_surge", "2.5",
         "write peak under", "power.battery.peak = 2 kW", "2000 W")],
    "write start_surge under concentrators, or leave peak out": [
        (with_value("power.battery", "{usable: 1 kWh, charge: 1 kW}"), "power.battery.peak", "2 kW",
         "write start_surge under", "concentrators.start_surge = 2.5", "2.5")],
    "write 0 where 0 is meant": [
        (CALM, "warm_up", "0.2 s", "write 0", "0", "0 days"),
        (CALM, "cylinders.leak", "0.2 mL/min", "write 0", "0", "0 L/min"),
    ],
    "write a list in brackets": [
        (CALM, "strategies.cylinders only.sources", "cylinder", "in brackets", "[cylinder]", "[cylinder]")],
    "write the number itself": [
        (CALM, "cylinders.fleet", "{low: 40, likely: 40, high: 40}", "the number itself", "40", "40")],
    "write the quantity itself": [
        (CALM, "resupply.lead_time", "{constant: 4 days}", "the quantity itself", "4 days", "96 h")],
    "for no spread write the quantity itself": [
        (CALM, "resupply.lead_time", "{uniform: {low: 4 days, high: 4 days}}", "the quantity itself", "4 days",
         "96 h")],
    "{} in place of {}? write {}: {} {}": [
        (CALM, "concentrators.failure.exponential.mean", "40 s", "write mean: 40 days", "40 days", "960 h"),
        (CALM, "power.grid.down", "30 s", "write down: 30 min", "30 min", "0.5 h"),
    ],
    "write a law, such as {exponential: {mean: 69 h}} for a set ill kept, 1506 h for one well kept, or never": [
        (GENERATOR, "power.generator.running_failure", None, "{exponential: {mean: 69 h}}",
         "{exponential: {mean: 69 h}}", "{exponential: {mean: 4140 min}}"),
        (GENERATOR, "power.generator.running_failure", None, "or never", "never", "never")],
    "write the share: maintained sets of power stations and fleets had 94 to 98 %, no hospital's are known": [
        (GENERATOR, "power.generator.start_chance", None, "94 to 98 %", "94 %", "94 %")],
    "write the share; where nobody has counted, for example {low: 50 %, likely: 75 %, high: 95 %}": [
        (without("patients.adults.recognised", CALM), "patients.adults.recognised", None,
         "{low: 50 %, likely: 75 %, high: 95 %}", "{low: 50 %, likely: 75 %, high: 95 %}",
         "{low: 50 %, likely: 75 %, high: 95 %}")],
    "write drift, the running time to low concentration, or leave the monitor out": [
        (MONITOR, "concentrators.drift", None, "write drift", "8000 h", "8000 h")],
    "the same as change_when: residual; write timed: none, and change_when: residual": [
        (with_value("cylinders.change_when", "residual"), "cylinders.timed", None, None, "none", "none")],
    "write for example warm_up: 28 days": [
        (CALM, "warm_up", "0 days", "warm_up: 28 days", "28 days", "4 weeks")],
    "if they wear prongs write delivery: nasal prongs": [
        (MASK, "patients.adults.delivery", "face mask", "delivery: nasal prongs", "nasal prongs", "nasal prongs")],
    "if they have no reservoir write delivery: face mask": [
        (with_value("patients.adults.flow", "8 L/min"), "patients.adults.delivery", "non-rebreather mask",
         "delivery: face mask", "face mask", "face mask")],
    "usually with a reservoir; if they have one write delivery: non-rebreather mask": [
        (with_value("patients.adults.flow", "12 L/min"), "patients.adults.delivery", "face mask",
         "delivery: non-rebreather mask", "non-rebreather mask", "non-rebreather mask")],
    ", or if they wear masks write delivery: face mask": [
        (with_value("patients.adults.flow", "8 L/min"), "patients.adults.delivery", "nasal prongs",
         "delivery: face mask", "face mask", "face mask")],
    "shorter than a week: stock and lead times do not show; write horizon: 365 days": [
        (CALM, "horizon", "5 days", "horizon: 365 days", "365 days", "1 year")],
    "hours without oxygen would count as no interruption; write tolerated_gap: 10 min": [
        (CALM, "tolerated_gap", "2 h", "tolerated_gap: 10 min", "10 min", "600 s")],
    "looks rarer than one a day; write the time between two looks, such as gauge_check: 4 h": [
        (CALM, "cylinders.gauge_check", "2 days", "gauge_check: 4 h", "4 h", "240 min")],
    "does a delivery cost nothing? write the carrier's price of a trip, or under transport the price of each "
    "cylinder": [(with_value("costs.transport", "{trip: 0 USD}"), "costs.transport", None, "under transport",
                  "{trip: 0 USD, cylinder: 2 USD}", "{cylinder: 2 USD}")],
    "no price for a refill: is the gas free? write the supplier's price of one cylinder": [
        (CALM, "costs.cylinders.refill", "0 USD", "the supplier's price", "18 USD", "18 USD")],
    "the share of all admissions in need; where admissions counts only those in need, write hypoxaemic: 100 %": [
        (CALM, "patients.adults.hypoxaemic", "88 %", "hypoxaemic: 100 %", "100 %", "100 %")],
}  # fmt: skip
BY_SLIPS = {  # proposals with values in them, applied by test_slips.py
    "a share such as 0.2 is 20 %; write {}: {}", "is it in hundredths? write {}: {}",
    "it looks like the gas in a full cylinder; write {}: {} in place of {}",
    "the point looks like a thousands separator; write {}: {}", "{} in place of {}? write {}: {}",
}  # fmt: skip
LEVERS = {  # values of --vary: what is wrong, and what is then written
    "vary {}: a value stands twice in {}; write each once": ("40, 60, 40", "40, 60", ("40", "60")),
    "vary {}: found {} in more than one unit; write the range in one": (
        "30 min..2 h step 30 min", "0.5..2 h step 0.5", ("0.5 h", "1 h", "1.5 h", "2 h")),
}  # fmt: skip
NO_VALUE = {  # what is asked for is no value in the place of another, and where the message is tried
    "# When every figure is your hospital's own, write figures: ours; until then each sheet to print says "
    "EXAMPLE.\n": "questions/size/test_sheets.py",
    "write it out": "scenario/bad_input/expected.txt",
    "; write each option once": "looks/test_frames.py",
    **dict.fromkeys((
        "write separator: {}", "the file has both: write all numbers alike", "write the year with four digits",
        "write columns: {...: [date, time]} where they stand apart", "write columns: {{}: [{}]}",
        "write columns: {{}: [{}, {}]}, or remove the column of times", "write columns: {{}: {}}",
        "write columns: {{}: NAME}{}, with the file's own name", "look at the day, or write dates: {}",
        "write time_zone: {}, or the offset of the place where it is another: times are turned to it",
        "the file has dates of several forms: write all alike",
        "a decimal comma between commas makes one too many: save the file with semicolons and write separator: "
        "semicolon and decimal: {}, or put quotes around such cells",
        "for a decimal comma write separator: semicolon and decimal: {}",
    ), "scenario/test_tables.py"),
    **dict.fromkeys((
        "write use: resample, or use: replay with a run within these days",
        "shorten the horizon or move start; or write use: resample (whole recorded days are drawn at random), or, "
        "from a whole year on, use: repeat by year",
        "write the {} day on which the {} was kept, perhaps `{}: {}`, the day of the {} row of {}: check that in "
        "the book, for days without {} count too{}",
        "delete it, or write file", "write warm_up: 0 days, or {} from earlier on",
        "write the days between which it was kept: days without {} before and after count too",
    ), "scenario/test_followed_records.py"),
    "or write up and down in place of file": "scenario/test_recorded_varied.py",
    "for a law write it whole, such as {gamma: {mean: 4 days, sd: 2 days}}": "scenario/test_override.py",
    "{}: a copy of {} there would miss the files it names; write it into {}, or copy these too ({})":
        "questions/size/test_written_answer.py",
    "{}: it would not say the same; write the values by hand": "questions/size/test_written_answer.py",
    "{}: there is no text of this scenario to write the answer into": "no proposal: a text is missing",
}  # fmt: skip
EACH = [
    pytest.param(text, *case, id=f"{text[:40]}-{place}")
    for text, cases in CASES.items()
    for place, case in enumerate(cases)
]


def test_every_proposal_in_the_sources_has_a_case():
    """A message that proposes something new fails here until what it proposes is tried."""
    listed = {text for _, text in proposals("scenario", "quantities")}
    assert listed == set(CASES) | BY_SLIPS | set(NO_VALUE) | set(LEVERS)


@pytest.mark.parametrize("text", LEVERS)
def test_values_to_vary_are_accepted_as_proposed(text):
    """Each value once, and a range in one unit, give the values that were meant."""
    wrong, right, meant = LEVERS[text]
    with pytest.raises(O2simError, match=text.rpartition("; ")[2]):
        lever("cylinders.gauge_check", wrong)
    assert lever("cylinders.gauge_check", right).values == meant


@pytest.mark.parametrize(("text", "scenario", "path", "wrong", "said", "right", "meant"), EACH)
def test_a_proposal_is_accepted_and_means_what_was_meant(text, scenario, path, wrong, said, right, meant):
    """The message says so; what it says is put in the place, loads, and is the same scenario as what was meant."""
    before = scenario if wrong is None else with_value(path, wrong, scenario)
    if said is not None:
        assert [each for each in problems_of(before) if said in each.hint] != []
    if right is None:
        loads(without(path, with_value("cylinders.regulators", "12", scenario)))
        return
    where, _, value = right.partition(" = ") if " = " in right else (path, "", right)
    base = before if where != path else scenario
    mended, wanted = (with_value(where, each, base) for each in (value, meant))
    assert loads(mended).hash == loads(wanted).hash
    if said is not None:
        assert [each for each in problems_of(mended) if said in each.hint and said not in ("or 1.450 USD",)] == []
