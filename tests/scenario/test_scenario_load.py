"""Scenario files against what the design says of their keys, defaults, strategies and hash."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from scenario_texts import SMALL, WHOLE

from o2sim.errors import ScenarioError
from o2sim.quantities import gas
from o2sim.scenario import Law, load, loads
from o2sim.scenario.keys.fields import TOP, documented
from o2sim.scenario.types.hospital import Grid, RoadClosure, Season, Shortfall

H, DAY = 3_600, 86_400


def hospital(text, strategy=None):
    """Return one hospital of a scenario text, the last one if no strategy is named."""
    hospitals = loads(text).hospitals
    return hospitals[strategy or list(hospitals)[-1]]


def refused(text):
    """Return the problems of a text that must be refused."""
    with pytest.raises(ScenarioError) as error:
        loads(text)
    return [str(problem) for problem in error.value.problems]


def line_of(text, part):
    """Return the number of the first line of a text that holds part."""
    return next(number for number, line in enumerate(text.splitlines(), 1) if part in line)


def test_what_a_small_file_leaves_out_has_the_documented_defaults():
    """Twelve lines give a complete hospital with the defaults of the design."""
    found = hospital(SMALL)
    times = (found.horizon_s, found.warm_up_s, found.tolerated_gap_s, found.response_time_s)
    assert times == (365 * DAY, 0, 600, 300)
    assert found.start == dt.date(2027, 1, 1)
    assert (found.concentrators, found.grid, found.costs) == (None, None, None)
    cylinders, resupply = found.cylinders, found.resupply
    assert (cylinders.regulators, cylinders.full_at_start, cylinders.leak_ml_min) == (4, 4, 100)
    assert (cylinders.gauge_check_s, cylinders.change_time_s) == (2 * H, 600)
    pressures = (cylinders.filling_pressure_kpa, cylinders.residual_pressure_kpa, cylinders.flow_lost_below_kpa)
    assert pressures == (13_700, 800, 400)
    assert (resupply.review_s, resupply.reorder_point, resupply.order_up_to) == (7 * DAY, 3, 4)
    assert (resupply.vehicle_capacity, resupply.minimum_order, resupply.overtaking) == (None, 1, False)
    child = found.patients[0]
    assert (child.hypoxaemic, child.priority, child.season, child.if_unserved) == (1.0, 1, None, "wait")
    assert found.shortfall == Shortfall(500, 300, "supply clock") != Shortfall()


def test_the_whole_example_is_read_in_internal_units():
    """Every quantity of the design's example stands in s, mL/min and kPa."""
    found = hospital(WHOLE)
    assert (found.warm_up_s, found.response_time_s) == (28 * DAY, 300)
    newborns, children, adults = found.patients
    assert (newborns.admissions_per_day, newborns.hypoxaemic, newborns.flow_ml_min) == (
        1.5, 0.22, Law("constant", (500.0,)),
    )  # fmt: skip
    assert newborns.duration_s == Law("lognormal", (math.log(60 * H), math.log(2.2)))
    assert children.flow_ml_min == Law("triangular", (500.0, 1000.0, 2000.0))
    assert children.season == Season(peak=dt.date(2027, 5, 15), ratio=1.8)
    assert (adults.priority, adults.if_unserved, newborns.if_unserved) == (2, "transfer", "wait")
    assert found.resupply.lead_time_s == Law("gamma", (4.0, 86_400.0))
    assert found.resupply.road_closures[0].start == dt.date(2027, 4, 1)
    assert found.resupply.road_closures[0].chance_per_day == 0.05
    assert found.concentrators.failure_s == Law("exponential", (4000.0 * H,))
    assert found.grid.up_s == Law("exponential", (36.0 * H,))
    assert (found.costs.refill, found.costs.cylinder.life_years, found.costs.trip) == (18.0, 20.0, 90.0)
    assert (found.costs.electricity_per_kwh, found.costs.consumables_per_patient) == (0.18, 1.5)


def test_gas_counts_are_litres_of_the_gas_floor_times_60_000():
    """A count is in 1/60 mL, rounded once: 60,000 to the litre."""
    found = hospital(WHOLE).cylinders
    litres = [gas.content_litres(47.0, gauge, 25.0) for gauge in (13_700, 800, 400)]
    assert [found.full_gas, found.residual_gas, found.lost_gas] == [round(each * 60_000) for each in litres]
    assert (found.water_capacity_l, found.fill_temperature_c) == (47.0, 25.0)


def test_a_stated_content_takes_the_place_of_the_water_capacity():
    """6,800 L are 408,000,000 counts, and a tenth of the gauge is the share the real gas gives it."""
    text = SMALL.replace("water_capacity: 47 L", "content: 6800 L").replace("fleet: 4", "fleet: 4\n  leak: 0")
    found = hospital(text.replace("fleet: 4", "fleet: 4\n  residual_pressure: 1.37 MPa")).cylinders
    assert (found.full_gas, found.water_capacity_l) == (408_000_000, None)
    share = gas.content_litres(1.0, 1_370, 15.0) / gas.content_litres(1.0, 13_700, 15.0)
    assert found.residual_gas == round(6800 * share * 60_000)


def test_strategies_see_only_the_parts_they_use():
    """Cylinders and resupply, or concentrators, are there only with their source; the grid always."""
    found = loads(WHOLE).hospitals
    parts = {name: (h.cylinders is None, h.resupply is None, h.concentrators is None) for name, h in found.items()}
    assert parts == {
        "cylinders only": (False, False, True),
        "concentrators only": (True, True, False),
        "mixed": (False, False, False),
    }
    assert all(h.grid is not None for h in found.values())
    assert found["mixed"].strategy.sources == ("concentrator", "cylinder")


def test_a_strategy_changes_only_what_it_states_and_only_for_itself():
    """A change goes down to the single key: three concentrators in mixed, five elsewhere, the rest alike."""
    found = loads(WHOLE).hospitals
    assert found["mixed"].concentrators.count == 3
    assert found["concentrators only"].concentrators.count == 5
    assert found["mixed"].concentrators.repair_s == found["concentrators only"].concentrators.repair_s


def test_a_change_leaves_the_strategies_after_it_alone():
    """A change in the first of three strategies is not seen by the third, nor by a change of the same section."""
    text = (
        WHOLE[: WHOLE.index("strategies:")]
        + """strategies:
  few: {sources: [concentrator], concentrators: {count: 1}, patients: {adults: {priority: 9}}}
  strong: {sources: [concentrator], concentrators: {rated_flow: 10 L/min}}
  plain: {sources: [concentrator]}
"""
    )
    found = loads(text).hospitals.values()
    assert [(h.concentrators.count, h.concentrators.rated_flow_ml_min) for h in found] == [
        (1, 5_000), (5, 10_000), (5, 5_000),
    ]  # fmt: skip
    assert [h.patients[2].priority for h in found] == [9, 2, 2]


def test_keys_that_do_not_fit_together_are_told_at_the_one_a_strategy_changed():
    """Twenty full at the start fit the fleet of the scenario but not that of the strategy: its line is told."""
    text = WHOLE.replace("regulators: 12", "regulators: 12\n  full_at_start: 20")
    text += "  small: {sources: [cylinder], cylinders: {fleet: 10}}\n"
    (found,) = refused(text)
    assert found.startswith(f"<text>:{line_of(text, 'small:')}: strategies.small.cylinders.fleet: found 20 full")


CHANGES = {
    "response_time: 1 min": lambda h: h.response_time_s == 60,
    "return_to_concentrator: false": lambda h: h.strategy.return_to_concentrator is False,
    "if_unserved: transfer": lambda h: [p.if_unserved for p in h.patients] == ["transfer"] * 3,
    "patients: {adults: {flow: 3 L/min}}": lambda h: h.patients[2].flow_ml_min == Law("constant", (3000.0,)),
    "patients: {children: {season: {monthly_factors: [1,1,1,1,1,1,1,1,1,1,1,1]}}}": lambda h: (
        h.patients[1].season == Season(monthly=(1.0,) * 12)
    ),
    "patients: {children: {season: none}}": lambda h: h.patients[1].season is None,
    "cylinders: {content: 6800 L}": lambda h: h.cylinders.full_gas == 408_000_000,
    "resupply: {vehicle_capacity: none}": lambda h: h.resupply.vehicle_capacity is None,
    "resupply: {review: continuous, overtaking: allowed}": lambda h: (
        h.resupply.review_s is None and h.resupply.overtaking
    ),
    "resupply: {road_closures: []}": lambda h: h.resupply.road_closures == (),
    "concentrators: {failure: never}": lambda h: (
        h.concentrators.failure_s is None and h.concentrators.repair_s is None
    ),
    "power: {grid: none}": lambda h: h.grid == Grid(never_on=True),
    "power: {grid: always}": lambda h: h.grid is None,
    "power: {grid: {down: 1 h}}": lambda h: (
        h.grid == Grid(Law("exponential", (36.0 * H,)), Law("constant", (3600.0,)))
    ),
    "costs: {cylinders: {refill: 20 USD}}": lambda h: (h.costs.refill, h.costs.trip) == (20.0, 90.0),
}


@pytest.mark.parametrize("change", CHANGES)
def test_every_section_can_be_changed_by_a_strategy(change):
    """A strategy lays its keys over the scenario; lists, laws and words replace what was there."""
    text = WHOLE + f"  changed: {{sources: [concentrator, cylinder], {change}}}\n"
    assert CHANGES[change](hospital(text, "changed"))
    assert not CHANGES[change](hospital(text, "mixed"))


def test_without_strategies_each_source_makes_one_and_both_a_third():
    """The sections present decide: one source gives one strategy, two sources three."""
    both = WHOLE[: WHOLE.index("strategies:")]
    assert loads(both).strategies == ("cylinders only", "concentrators only", "mixed")
    assert loads(SMALL[: SMALL.index("strategies:")]).strategies == ("cylinders only",)


def test_the_power_of_a_concentrator_follows_its_rated_flow():
    """Left out it is 70 W per L/min (WHO-UNICEF 2019, from memory): 8 L/min draw 560 W."""
    text = WHOLE.replace("  power: 350 W\n", "").replace("rated_flow: 5 L/min", "rated_flow: 8 L/min")
    assert hospital(text).concentrators.power_w == pytest.approx(560)


def test_monthly_factors_have_a_mean_of_one_weighted_by_days():
    """Factors 1, 2, 1, 1... over a common year: the mean day weighs 1 after loading, the ratios stay."""
    text = SMALL.replace(
        "    flow", "    season: {monthly_factors: [1, 2, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]}\n    flow"
    )
    monthly = hospital(text).patients[0].season.monthly
    days = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    assert math.fsum(f * n for f, n in zip(monthly, days, strict=True)) == pytest.approx(365)
    assert monthly[0] == pytest.approx(365 / (365 + 28))
    assert monthly[1] == pytest.approx(2 * monthly[0])


@pytest.mark.parametrize(
    ("peak", "date"),
    [("may", dt.date(2027, 5, 15)), ("Sept", dt.date(2027, 9, 15)), ("2026-12-24", dt.date(2026, 12, 24))],
)
def test_a_month_as_peak_means_its_15th_in_the_year_of_the_start(peak, date):
    """Names may be short or long; a date is taken as it is."""
    assert hospital(WHOLE.replace("peak: may", f"peak: {peak}")).patients[1].season.peak == date


@pytest.mark.parametrize(
    ("text", "closure"),
    [
        ("{from: 2027-04-01, to: 2027-04-02}", RoadClosure(dt.date(2027, 4, 1), dt.date(2027, 4, 2))),
        ("{chance_per_day: 1 %, length: 2 days}", RoadClosure(None, None, 0.01, Law("constant", (172_800.0,)))),
        (
            "{from: 2027-04-01, chance_per_day: 1 %, length: 1 day}",
            RoadClosure(dt.date(2027, 4, 1), None, 0.01, Law("constant", (86_400.0,))),
        ),
    ],
)
def test_road_closures_are_dated_or_drawn(text, closure):
    """Two dates close all days between; a chance closes by luck, in a window or the whole run."""
    assert hospital(SMALL.replace("1 day\n", f"1 day\n  road_closures: [{text}]\n", 1)).resupply is not None
    small = SMALL.replace("  lead_time: 1 day\n", f"  lead_time: 1 day\n  road_closures: [{text}]\n")
    assert hospital(small).resupply.road_closures == (closure,)


def test_zero_cylinders_and_a_lead_time_of_nothing_are_allowed():
    """An empty fleet never orders, and a supplier next door needs no time."""
    found = hospital(SMALL.replace("fleet: 4", "fleet: 0").replace("lead_time: 1 day", "lead_time: 0"))
    assert (found.resupply.reorder_point, found.resupply.order_up_to) == (0, 0)
    assert found.resupply.lead_time_s == Law("constant", (0.0,))


def test_the_hash_counts_content_and_not_layout():
    """Comments, order of keys, other units, a default written out, another name: the same hash."""
    same = SMALL.replace("1 L/min", "60 L/h  # a comment").replace("One bed", "Another name")
    same = same.replace("  fleet: 4\n", "").replace(
        "water_capacity", "fleet: 4\n  residual_pressure: 8 bar\n  water_capacity"
    )
    assert loads(same, "other.yaml").hash == loads(SMALL).hash
    assert loads(SMALL.replace("1 L/min", "1.001 L/min")).hash != loads(SMALL).hash
    assert loads(SMALL.replace("cylinders only", "only cylinders")).hash != loads(SMALL).hash


def test_the_hash_is_the_same_everywhere():
    """A constant written down once; it changes only with what a scenario holds, a change in results."""
    assert loads(SMALL).hash == "be297cccd3025f39"


def test_a_default_written_out_changes_nothing():
    """For every key with a fixed default of a top-level key, stating it gives the same hash."""
    hashes = set()
    for field in TOP.fields:
        if field.default is not None and field.name not in ("about",):
            hashes.add(loads(f"{field.name}: {field.default}\n{SMALL}").hash)
    assert hashes == {loads(SMALL).hash}


def test_every_key_is_documented_once():
    """Each key has help (groups of prices need none); a default says where it comes from (prices of 0 apart)."""
    keys = dict(documented())
    assert len(keys) == len(list(documented()))
    groups = {"costs.cylinders", "costs.regulators", "costs.concentrators", "costs.transport"}
    assert {path for path, field in keys.items() if not field.help} == groups
    unmarked = {path for path, f in keys.items() if f.default not in (None, "", "0") and not f.mark}
    assert unmarked == set()


def test_a_file_gives_its_name_and_lines(tmp_path):
    """The name is the file's stem if none is stated, and each path knows its line."""
    file = tmp_path / "two_beds.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("name: One bed\n", "").replace("\n", "\r\n").encode())
    scenario = load(file)
    assert (scenario.name, scenario.file) == ("two_beds", str(file))
    assert (scenario.lines["cylinders.fleet"], scenario.lines["patients.child"]) == (8, 2)
    assert load(str(file)) == scenario


def test_a_column_of_a_file_beside_the_scenario_is_a_law(tmp_path):
    """Cells carry their unit, or the law states one for all; the values are sorted."""
    (tmp_path / "stays.csv").write_text("ward,hours,stay\na,30,2 days\nb,5.5,3 h\n")
    scenario = tmp_path / "s.yaml"
    for form, values in [("column: hours, unit: h", (5.5 * H, 30.0 * H)), ("column: stay", (3.0 * H, 2.0 * DAY))]:
        scenario.write_text(
            SMALL.replace("duration: 24 h", f"duration: {{empirical: {{file: stays.csv, {form}}}}}")
        )
        assert load(scenario).hospitals["cylinders only"].patients[0].duration_s == Law("empirical", values)


def test_all_problems_of_a_file_are_told_at_once_by_line():
    """Ten faults, eleven problems in the order of the file: a needed key misspelt is a key missing as well."""
    faults = {
        "horizon: 365 days": "horizon: 365", "hypoxaemic: 22 %": "hypoxaemic: 122 %", "peak: may": "peak: mai",
        "fleet: 40": "fleet: forty", "leak:": "leek:", "minimum_order: 4": "minimum_order: 13",
        "outlets: 4": "outlets: 0", "down:": "dwn:", "250 USD": "250 EUR", "count: 3": "count: -3",
    }  # fmt: skip
    text = WHOLE
    for good, bad in faults.items():
        assert text.count(good) == 1
        text = text.replace(good, bad)
    found = refused(text)
    fields = [problem.split(": ")[1] for problem in found]
    assert fields == [
        "horizon", "patients.newborns.hypoxaemic", "patients.children.season.peak", "cylinders.fleet",
        "cylinders.leek", "resupply.minimum_order", "concentrators.outlets",
        "power.grid.down", "power.grid.dwn", "costs.cylinders.price", "strategies.mixed.concentrators.count",
    ]  # fmt: skip
    assert all("allowed: " in problem for problem in found)
    assert found[4].startswith(f"<text>:{line_of(text, 'leek')}: cylinders.leek: the key 'leek' is unknown")
    assert found[4].endswith("(did you mean leak?)")


def test_a_section_no_strategy_uses_is_still_checked():
    """A typing error in the concentrators is told although only cylinders are compared."""
    text = WHOLE[: WHOLE.index("strategies:")] + "strategies: {plain: {sources: [cylinder]}}\n"
    loads(text)
    (found,) = refused(text.replace("count: 5", "count: five"))
    assert found.startswith(f"<text>:{line_of(text, 'count: 5')}: concentrators.count: found 'five'")


def test_a_new_class_in_a_strategy_is_refused():
    """All strategies meet the same patients: a change may name only a class of the scenario."""
    text = WHOLE + "  new: {sources: [cylinder], patients: {adult: {priority: 3}}}\n"
    (found,) = refused(text)
    assert found.startswith(
        f"<text>:{line_of(text, 'new:')}: strategies.new.patients.adult: the class 'adult' is unknown"
    )
    assert found.endswith("(did you mean adults?)")


LIMITS = {  # what is put into SMALL (before, after), and the beginning of the only problem
    "classes": (
        "  child:\n", "".join(f"  c{i}: {{}}\n" for i in range(50)) + "  child:\n",
        "patients: found 51 names; allowed: at most 50",
    ),
    "name of a class": ("  child:", f"  {'c' * 61}:", f"patients.{'c' * 61}: the name cannot be used"),
    "name of a strategy": ("only:", "o" * 61 + ":", f"strategies.cylinders {'o' * 61}: the name cannot be used"),
    "control character": ("  child:", '  "chi\\nld":', "patients.chi\\nld: the name cannot be used"),
    "length of a text": ("One bed", "b" * 2_001, "name: found 'bbb"),
    "closures": (
        "1 day\nstrat", "1 day\n  road_closures: [" + "{}, " * 101 + "]\nstrat",
        "resupply.road_closures: found 101 entries; allowed: at most 100",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", LIMITS)
def test_numbers_of_things_and_lengths_of_names_are_limited(case):
    """What a hostile file could have by the thousand is told once, with its limit."""
    before, after, start = LIMITS[case]
    assert SMALL.count(before) == 1
    (found,) = refused(SMALL.replace(before, after))
    assert found.split(": ", 1)[1].startswith(start)


def test_the_stated_number_of_full_cylinders_and_regulators_holds():
    """Three of four full at the start, one regulator."""
    found = hospital(SMALL.replace("fleet: 4", "fleet: 4\n  full_at_start: 3\n  regulators: 1")).cylinders
    assert (found.fleet, found.full_at_start, found.regulators) == (4, 3, 1)


def test_failure_never_and_a_calendar_clock_are_read():
    """A word undoes a law in the scenario itself too; the clock is a word of its own."""
    assert hospital(WHOLE.replace("clock: running", "clock: calendar")).concentrators.failure_clock == "calendar"
    assert hospital(WHOLE.replace("{exponential: {mean: 4000 h}}", "never")).concentrators.failure_s is None


def test_prices_left_out_cost_nothing():
    """An empty section of costs is legal: no price, 3 % a year, in USD, and a life for each kind of thing."""
    costs = hospital(SMALL + "costs: {}\n").costs
    assert (costs.currency, costs.discount_rate, costs.refill) == ("USD", 0.03, 0.0)
    assert (costs.cylinder.price, costs.cylinder.life_years, costs.cylinder.salvage) == (0.0, 20.0, 0.0)
    lives = {
        name: getattr(costs, name).life_years for name in ("concentrator", "regulator", "splitter", "battery")
    }
    assert lives == {"concentrator": 7.0, "regulator": 7.0, "splitter": 5.0, "battery": 4.0}
    assert (costs.solar.life_years, costs.humidifier.life_years, costs.generator.life_years) == (25.0, 3.0, 10.0)
