"""What the starter scenario says: its head, an example for each key that a place must state, and where to look."""

from __future__ import annotations

from collections.abc import Mapping

from o2sim.scenario.keys.sources import BATTERY_CYCLES, BATTERY_YEARS, HYPOXAEMIA, SOLAR_STUDY, WORKING

_OURS = """\
# When every figure is your hospital's own, write figures: ours; until then each sheet to print says EXAMPLE.
"""
_NEXT = """\
# A number that nobody knows for sure may be a range, {low: 1 h, likely: 2 h, high: 6 h}: see o2sim drivers.
# After each change: o2sim check FILE. Then: o2sim compare FILE. For a reviewer: o2sim describe FILE.
"""
HEAD = f"""\
# A scenario to start from: what a place must state. All in it is an example: put in your own figures and sources;
# leave out what you do not have. Every key with its default (season, battery, wards): o2sim new --all FILE.
{_OURS}{_NEXT}"""
HEAD_OF_ALL = f"""\
# A scenario to start from. Everything in it is an example or a default: put in your own figures, with a source.
{_OURS}\
# A # directly before a key switches it off; what stands there is the default. Take the # away to change it.
{_NEXT}"""
_MEDIAN_STAY = "{lognormal: {median: 60 h, geometric_sd: 2.2}}"
_SOME_FOUND = "{low: 50 %, likely: 75 %, high: 95 %}"
EXAMPLES: Mapping[tuple[str, ...], str] = {  # by keys from the margin inwards: what the file says
    ("name",): "My hospital",
    ("about",): "where it lies, how many beds, what is hard",
    ("start",): "2027-01-01",
    ("warm_up",): "28 days",
    ("response_time",): "{lognormal: {median: 5 min, geometric_sd: 2}}",
    ("patients", "newborns", "admissions"): "1.5 / day",
    ("patients", "newborns", "hypoxaemic"): "24.5 %",
    ("patients", "newborns", "recognised"): _SOME_FOUND,
    ("patients", "newborns", "flow"): "0.5 L/min",
    ("patients", "newborns", "duration"): _MEDIAN_STAY,
    ("patients", "children", "admissions"): "6 / day",
    ("patients", "children", "hypoxaemic"): "12.1 %",
    ("patients", "children", "recognised"): _SOME_FOUND,
    ("patients", "children", "flow"): "{triangular: {low: 0.5 L/min, mode: 1 L/min, high: 2 L/min}}",
    ("patients", "children", "duration"): _MEDIAN_STAY,
    ("patients", "adults", "admissions"): "4 / day",
    ("patients", "adults", "hypoxaemic"): "10.8 %",
    ("patients", "adults", "recognised"): _SOME_FOUND,
    ("patients", "adults", "flow"): "{triangular: {low: 1 L/min, mode: 3 L/min, high: 5 L/min}}",
    ("patients", "adults", "duration"): _MEDIAN_STAY,
    ("cylinders", "water_capacity"): "47 L",
    ("cylinders", "filling_pressure"): "13.7 MPa",
    ("cylinders", "fleet"): "40",
    ("cylinders", "regulators"): "12",
    ("cylinders", "gauge_check"): "2 h",
    ("resupply", "reorder_point"): "25",
    ("resupply", "order_up_to"): "36",
    ("resupply", "lead_time"): "{gamma: {mean: 4 days, sd: 2 days}}",
    ("concentrators", "count"): "4",
    ("concentrators", "rated_flow"): "5 L/min",
    ("concentrators", "outlets"): "4",
    ("concentrators", "power"): "350 W",
    ("concentrators", "failure"): "{exponential: {mean: 4000 h}}",
    ("concentrators", "repair"): "{lognormal: {median: 110 days, geometric_sd: 2}}",
    ("concentrators", "never_repaired"): "10 %",
    ("power", "grid", "up"): "{exponential: {mean: 36 h}}",
    ("power", "grid", "down"): "{lognormal: {median: 2 h, geometric_sd: 2.5}}",
    ("costs", "cylinders", "price"): "240 USD",
    ("costs", "cylinders", "refill"): "30 USD",
    ("costs", "concentrators", "price"): "648 USD",
    ("costs", "transport", "trip"): "100 USD",
    ("costs", "electricity"): "0.20 USD/kWh",
    ("strategies", "cylinders only", "sources"): "[cylinder]",
    ("strategies", "concentrators only", "sources"): "[concentrator]",
    ("strategies", "mixed", "sources"): "[concentrator, cylinder]",
}
_STUDIED: Mapping[tuple[str, ...], str] = {
    ("costs", "analyser", "price"): "385 USD",
    ("costs", "oximeters", "price"): "250 USD",
}
PRICES: Mapping[tuple[str, ...], str] = {  # shown in place of 0 where prices and losses are switched off
    **_STUDIED,
    ("power", "battery", "fade", "per_cycle"): "0.04 %",
    ("power", "battery", "fade", "per_year"): "3 %",
}
COUNTED: Mapping[
    tuple[str, ...], str
] = {  # shown where a count, a row or the purse is switched off, and what a plate says; they fit together
    ("now", "counted"): "2027-05-03 07:30",
    ("now", "cylinders", "full"): "12",
    ("now", "cylinders", "part_used"): "[40 bar, 25 bar]",
    ("now", "cylinders", "empty"): "25",
    ("now", "on_order", "ordered"): "2027-04-29",
    ("now", "on_order", "count"): "10",
    ("now", "on_oxygen", "class"): "children",
    ("now", "on_oxygen", "flow"): "1 L/min",
    ("now", "on_oxygen", "begun"): "2027-05-02 22:00",
    ("now", "on_oxygen", "source"): "cylinder",
    ("now", "on_oxygen", "gauge"): "80 bar",
    ("now", "concentrators", "working"): "3",
    ("now", "concentrators", "down", "since"): "2027-04-20",
    ("now", "concentrators", "meters"): "[8200 h, 5100 h]",
    ("now", "grid", "up"): "true",
    ("now", "grid", "since"): "unknown",
    ("now", "road"): "open",
    ("now", "next_review"): "2027-05-05",
    ("power", "battery", "age"): "2 years",
    ("power", "battery", "peak"): "2 kW",
    ("funds", "opening"): "600 USD",
    ("funds", "allotment", "amount"): "900 USD",
    ("funds", "fees", "amount"): "2 USD",
    ("funds", "fees", "paid_by"): "60 %",
    ("funds", "pays_for"): "[oxygen]",
    ("funds", "approval"): "{gamma: {mean: 5 days, sd: 3 days}}",
    ("concentrators", "models", "a name", "rated_flow"): "5 L/min",
    ("concentrators", "units", "model"): "a name",
    ("concentrators", "units", "count"): "4",
    ("concentrators", "units", "age"): "9000 h",
    ("concentrators", "units", "working"): "3",
    ("power", "generator", "peak"): "10 kW",
}
STORM: Mapping[tuple[str, ...], str] = {  # shown where a shock is switched off
    ("shocks", "storm", "rate"): "4 / year",
    ("shocks", "storm", "months"): "[4, 5, 6]",
    ("shocks", "storm", "severity"): "{lognormal: {median: 1, geometric_sd: 1.5}}",
    ("shocks", "storm", "road"): "{exponential: {mean: 7 days}}",
    ("shocks", "storm", "power"): "{exponential: {mean: 3 days}}",
    ("shocks", "storm", "supplier"): "{gamma: {mean: 4 days, sd: 2 days}}",
    ("shocks", "storm", "patients", "multiplier"): "1.5",
    ("shocks", "storm", "patients", "length"): "10 days",
    ("shocks", "storm", "patients", "after"): "1 day",
    ("shocks", "storm", "patients", "classes"): "[children]",
}
WHENCE: Mapping[tuple[str, ...], str] = {  # where an example or a price comes from
    ("patients", "newborns", "hypoxaemic"): HYPOXAEMIA,
    ("concentrators", "repair"): WORKING,
    ("concentrators", "never_repaired"): "assumed",
    ("response_time",): "assumed; one in six is over 10 min",
    ("costs", "concentrators", "price"): SOLAR_STUDY,
    ("costs", "cylinders", "price"): "invented",
    ("costs", "cylinders", "refill"): "invented",
    ("costs", "transport", "trip"): "invented",
    ("costs", "electricity"): "invented",
    ("power", "battery", "fade", "per_cycle"): BATTERY_CYCLES,
    ("power", "battery", "fade", "per_year"): BATTERY_YEARS,
    **dict.fromkeys(_STUDIED, SOLAR_STUDY),
}
FOUND: Mapping[tuple[str, ...], str] = {  # where a place finds its own figure
    ("start",): "such as the day a grant begins",
    ("warm_up",): "so that wards do not start empty",
    ("response_time",): "ask the nurses, of day and of night",
    ("patients", "newborns", "admissions"): "the admission books",
    ("patients", "newborns", "hypoxaemic"): "an oximeter at the door for a month",
    ("patients", "newborns", "recognised"): "oximeter rounds of the ward",
    ("patients", "newborns", "flow"): "oxygen charts, a local guideline",
    ("patients", "newborns", "duration"): "oxygen charts",
    ("cylinders", "water_capacity"): "stamped on the shoulder",
    ("cylinders", "filling_pressure"): "the supplier's label",
    ("cylinders", "fleet"): "count empties too",
    ("cylinders", "regulators"): "count those that work",
    ("cylinders", "gauge_check"): "ask, of nights too",
    ("resupply", "reorder_point"): "the storekeeper",
    ("resupply", "order_up_to"): "the year's largest orders",
    ("resupply", "lead_time"): "orders and delivery notes",
    ("concentrators", "count"): "count those out of order too",
    ("concentrators", "rated_flow"): "its plate",
    ("concentrators", "outlets"): "count flowmeters",
    ("concentrators", "power"): "its plate",
    ("concentrators", "failure"): "the workshop's book",
    ("concentrators", "repair"): "the workshop's book",
    ("concentrators", "never_repaired"): "the store room",
    ("power", "grid", "up"): "a list of the cuts of a month or more",
    ("power", "grid", "down"): "the same list",
    ("costs", "cylinders", "price"): "an offer",
    ("costs", "cylinders", "refill"): "the supplier's bills",
    ("costs", "concentrators", "price"): "an offer",
    ("costs", "transport", "trip"): "the carrier's bills",
    ("costs", "electricity"): "the bills",
}
