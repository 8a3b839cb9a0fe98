"""Doubts about legal scenarios: each appears where it should, with its place, and nowhere else."""

from __future__ import annotations

import pytest
from scenario_texts import SMALL, WHOLE

from o2sim.quantities import gas
from o2sim.scenario import load, loads, warnings
from o2sim.scenario.checks.demand import concentrator_litres_a_day, cylinder_litres_a_day

CALM = WHOLE.replace("high: 10 L/min", "high: 5 L/min").replace("vehicle_capacity: 12", "vehicle_capacity: 30")
CALM = CALM.replace("    hypoxaemic:", "    recognised: 100 %\n    hypoxaemic:")
ASKED_FOR = "patients.*.recognised"  # where a text does not state it
# What is changed in CALM: what to write instead, and fragments of the one warning that follows.
DOUBTS = {
    "response": ("response_time: 5 min", "response_time: 15 min", (
        "response_time: 15 min, longer than the tolerated gap of 10 min (in concentrators only, mixed)",)),
    "change": ("change_time: 10 min", "change_time: 11 min", (
        "cylinders.change_time: 11 min, longer than the tolerated gap", "in cylinders only, mixed")),
    "flow": ("high: 5 L/min", "high: 10 L/min", (
        "patients.adults.flow: 52.1 % of these patients need more than the rated flow of 5 L/min",
        "(in concentrators only)", "they get a part of it; give them cylinders as well")),
    "residual": ("residual_pressure: 800 kPa", "residual_pressure: 300 kPa", (
        "cylinders.residual_pressure: 300 kPa, below flow_lost_below of 400 kPa",)),
    "gauge": ("gauge_check: 2 h", "gauge_check: 24 h", (
        "cylinders.gauge_check: 24 h between checks, but at 5 L/min (adults) a full cylinder lasts 20.7 h",)),
    "warm_up": ("warm_up: 28 days", "warm_up: 0 days", (
        "warm_up: 0 days: the year starts with full stock", "warm_up: 28 days")),
    "order_up_to": ("order_up_to: 36", "order_up_to: 41", (
        "resupply.order_up_to: 41, above the fleet of 40", "no empties for so many")),
    "closure": ("from: 2027-04-01, to: 2027-06-30", "from: 2026-04-01, to: 2026-06-30", (
        "resupply.road_closures[1]: outside the run from 2026-12-04 to 2027-12-31", "check the dates")),
}  # fmt: skip


def told(text):
    """Return the warnings of a text."""
    return [str(problem) for problem in warnings(loads(text))]


def test_an_ordinary_scenario_raises_no_doubt():
    """Three strategies, supply above need, staff within the tolerated gap: nothing to say."""
    assert told(CALM) == []


@pytest.mark.parametrize("case", DOUBTS)
def test_each_doubt_is_told_once_with_its_line(case):
    """One key changed gives one warning, at that key's line."""
    before, after, parts = DOUBTS[case]
    text = CALM.replace(before, after)
    (problem,) = warnings(loads(text))
    line = next(n for n, each in enumerate(text.splitlines(), 1) if after in each)
    assert [part for part in parts if part not in str(problem)] == []
    assert problem.line == line


def test_a_slow_response_hides_a_lack_of_supply_only_by_cause_at_crossing():
    """By the supply clock it is asked second by second what would help; so only the old counting is doubted."""
    slow = CALM.replace("response_time: 5 min", "response_time: 15 min")
    before = slow + "shortfall: {enough: 0 %, recovery: 0 min, counted_by: cause at crossing}\n"
    hidden = "each loss of supply counts as handling, also where no supply stood behind it"
    assert [hidden in problem for text in (slow, before) for problem in told(text)] == [False, True]


def test_part_used_cylinders_that_count_and_are_sent_are_told():
    """Those with 20 to 25 % would count as full and go to be filled as empty; with no resupply none goes."""
    text = CALM.replace("change_time: 10 min", "change_time: 10 min\n  send_part_used: {below: 25 %}")
    counted = text.replace("reorder_point: 22", "reorder_point: 22\n  position_counts_above: 20 %")
    (problem,) = told(counted)
    assert "resupply.position_counts_above: 20 %, below the 25 % under which they are sent" in problem
    assert told(counted.replace("position_counts_above: 20 %", "position_counts_above: 25 %")) == []


def test_part_used_cylinders_that_are_never_sent_are_told():
    """All 40 of the fleet are kept, or no supplier comes to whom anything could be handed over."""
    text = CALM.replace("change_time: 10 min", "change_time: 10 min\n  send_part_used: {keep: 40}")
    (problem,) = told(text)
    assert "cylinders.send_part_used.keep: 40 are kept, of a fleet of 40" in problem
    alone = loads(text[: text.index("resupply:")] + text[text.index("concentrators:") :])
    found = [each.found for each in warnings(alone) if each.field == "cylinders.send_part_used"]
    assert found == ["no resupply (in cylinders only, mixed)"]


IDLE = {  # what is said of timed changes and of who notices that comes to nothing, and the doubt
    "cylinders:\n  change_when: timed\n  timed: {kept: 0 %}\n": ("cylinders.timed.kept", "no note is kept"),
    "cylinders:\n  change_when: timed\n  timed: {margin: 200 h}\n": (
        "cylinders.timed.margin", "at 1 L/min a full cylinder lasts"),
    "store: {fetch_by_day: 20 min}\ncylinders:\n  change_when: timed\n": (
        "cylinders.timed.margin", "10 min, shorter than the 20 min to fetch"),
    "noticed: {by_relatives: {share: 50 %, after: 30 min}}\ncylinders:\n  gauge_check: watched\n": (
        "noticed", "gauges are watched"),
    "noticed: {by_oximeter: {count: 2, after: 3 min, cut_by_power: true}}\ncylinders:\n": (
        "noticed.by_oximeter.cut_by_power", "but no power cuts"),
}  # fmt: skip


@pytest.mark.parametrize("said", IDLE)
def test_what_comes_to_nothing_at_the_bedside_is_told(said):
    """A margin, a note or an oximeter that cannot help is doubted at its key."""
    field, found = IDLE[said]
    problems = [each for each in warnings(loads(SMALL.replace("cylinders:\n", said))) if each.field == field]
    assert [found in str(each) for each in problems] == [True]


def test_levels_at_or_above_the_fleet_are_told():
    """With 20 cylinders, ordering at 22 up to 36 in steps of 21 can never work out."""
    text = CALM.replace("fleet: 40", "fleet: 20").replace("minimum_order: 4", "minimum_order: 21")
    fields = [problem.field for problem in warnings(loads(text))]
    assert fields == ["resupply.reorder_point", "resupply.order_up_to", "resupply.minimum_order"]


def test_a_need_above_the_supply_is_told_for_the_strategy_it_is_true_of():
    """One concentrator of 5 L/min gives 7,200 L a day at most; the need of CALM is about 17,000 L."""
    (problem,) = told(CALM.replace("count: 5", "count: 1"))
    assert "patients: the need of 16," in problem
    assert "(in concentrators only)" in problem


def test_a_doubt_about_a_change_points_at_the_change():
    """The line and the path are those of the strategy's key."""
    text = CALM + "  slow: {sources: [cylinder], cylinders: {change_time: 20 min}}\n"
    (problem,) = warnings(loads(text))
    assert problem.field == "strategies.slow.cylinders.change_time"
    assert problem.line == len(text.splitlines())


def test_fewer_than_three_strategies_are_told_with_what_is_not_compared():
    """One strategy leaves two of the usual three out; two with both sources leave none."""
    last = told(SMALL)[-1]
    assert last.endswith("found 1 of the usual 3 strategies (not compared: concentrators only, both together)")
    two = (
        CALM[: CALM.index("strategies:")]
        + "strategies: {a: {sources: [cylinder]}, b: {sources: [concentrator]}}\n"
    )
    assert told(two)[-1].endswith("found 2 of the usual 3 strategies (not compared: both together)")
    both = "{sources: [concentrator, cylinder]}"
    same = CALM[: CALM.index("strategies:")] + f"strategies: {{a: {both}, b: {both}}}\n"
    assert told(same)[-1].endswith("(not compared: cylinders only, concentrators only)")


def test_a_default_has_no_line():
    """A warning about a key the file leaves out stands at line 0, in its section if there is one."""
    warm_up, asked, _ = warnings(loads(SMALL))
    assert (warm_up.field, warm_up.line) == ("warm_up", 0)
    assert (asked.field, asked.line) == (ASKED_FOR, 2)
    (change, *_) = warnings(loads("tolerated_gap: 1 min\n" + SMALL))
    assert (change.field, change.line) == ("cylinders.change_time", 8)


def test_mean_supply_of_concentrators_is_rated_flow_by_shares_of_time():
    """Two of 5 L/min, up 3 days of 4 and in order 9 of 10: 2 x 7,200 L x 0.75 x 0.9 = 9,720 L a day."""
    text = CALM.replace("count: 5", "count: 2").replace("up: {exponential: {mean: 36 h}}", "up: 3 days")
    text = text.replace("down: {lognormal: {median: 2 h, geometric_sd: 2.5}}", "down: 1 day")
    text = text.replace("repair: {lognormal: {median: 30 days, geometric_sd: 2.0}}", "repair: 10 days")
    text = text.replace("failure: {exponential: {mean: 4000 h}}", "failure: 90 days")
    hospital = loads(text).hospitals["concentrators only"]
    assert concentrator_litres_a_day(hospital) == pytest.approx(9_720)
    assert cylinder_litres_a_day(hospital) == 0
    steady = loads(text.replace("failure: 90 days", "failure: never"))
    assert concentrator_litres_a_day(steady.hospitals["concentrators only"]) == pytest.approx(10_800)
    dark = loads(text.replace("    up: 3 days\n    down: 1 day\n", "").replace("grid:", "grid: none"))
    assert concentrator_litres_a_day(dark.hospitals["concentrators only"]) == 0


SUPPLY = {  # resupply of four cylinders: most cylinders a day (Little's law: on order = rate x lead time)
    "{lead_time: 1 day}": 4 / 7,
    "{lead_time: 1 day, review: continuous}": 4.0,
    "{lead_time: 8 days, review: continuous}": 0.5,
    "{lead_time: 1 day, vehicle_capacity: 2}": 2 / 7,
    "{lead_time: 1 day, order_up_to: 3, review: continuous}": 3.0,
    "{lead_time: 0, review: 1 day}": 4.0,
    "{lead_time: 1 day, order_up_to: 0, review: continuous}": 0.0,
}


@pytest.mark.parametrize("resupply", SUPPLY)
def test_mean_supply_of_cylinders_is_bounded_by_road_review_and_vehicle(resupply):
    """Usable litres by the most cylinders a day, and the first fill spread over the year."""
    text = SMALL.replace("resupply:\n  lead_time: 1 day\n", f"resupply: {resupply}\n")
    usable = gas.content_litres(47, 13_700, 15) - gas.content_litres(47, 800, 15)
    expected = usable * (SUPPLY[resupply] + 4 / 365)
    assert cylinder_litres_a_day(loads(text).hospitals["cylinders only"]) == pytest.approx(expected, rel=1e-6)


def test_without_resupply_the_first_fill_is_all_there_is():
    """Four cylinders for a year, and no cylinders give nothing at once or never."""
    text = SMALL.replace("resupply:\n  lead_time: 1 day\n", "")
    usable = gas.content_litres(47, 13_700, 15) - gas.content_litres(47, 800, 15)
    assert cylinder_litres_a_day(loads(text).hospitals["cylinders only"]) == pytest.approx(
        usable * 4 / 365, rel=1e-6
    )
    assert [problem.field for problem in warnings(loads(text))] == ["patients", ASKED_FOR, "strategies"]
    none = SMALL.replace("fleet: 4", "fleet: 0").replace("lead_time: 1 day", "lead_time: 0\n  review: continuous")
    assert cylinder_litres_a_day(loads(none).hospitals["cylinders only"]) == 0


def test_a_ward_that_no_source_reaches_and_units_with_nowhere_to_go_are_told():
    """Patients on a ward with neither regulators nor units; moving beside a single ward."""
    base = """
warm_up: 9 days
patients:
  adults: {admissions: 1 / day, recognised: 100 %, flow: 1 L/min, duration: 20 h, ward: south}
concentrators: {rated_flow: 5 L/min}
moving: {time: 30 min}
strategies: {one: {sources: [concentrator]}, two: {sources: [concentrator]}, three: {sources: [concentrator]}}
"""
    apart = "wards: {north: {concentrators: 3}, south: {}}\n"
    found = told(base + apart.replace("{}", "{concentrators: 0}"))
    assert found == []  # a unit may be moved there
    (found,) = told(base.replace("moving: {time: 30 min}\n", "") + apart.replace("{}", "{concentrators: 0}"))
    assert "wards.south: patients, but no regulators and no concentrators" in found
    (found,) = told(base + "wards: {south: {concentrators: 3}}\n")
    assert "moving: fewer than two wards" in found


def test_a_monitor_and_an_unsure_generator_need_nothing_else():
    """A monitor without drift is legal and told to be idle; a generator that may fail has a documented repair."""
    text = """
patients:
  adults: {admissions: 2 / day, flow: 4 L/min, duration: 60 h}
concentrators: {count: 2, rated_flow: 5 L/min, oxygen_monitor: true}
power:
  grid: {up: {exponential: {mean: 36 h}}, down: 2 h}
  battery: {usable: 3 kWh, charge: 600 W}
  generator: {start_delay: 12 min, start_chance: 85 %, tank: 80 L, fuel: {idle: 0.95 L/h, per_kW: 0.26 L/h}}
"""
    scenario = loads(text)
    generator = scenario.hospitals["concentrators only"].power.generator
    assert (generator.start_chance, generator.repair_s.parameters) == (0.85, (2 * 86_400.0,))
    assert [each.found for each in warnings(scenario) if each.field.endswith("oxygen_monitor")] == [
        "a monitor, but no drift: it never alarms"
    ]


def asked(text):
    """Return what a text is asked to state: (field, what is taken)."""
    wanted = ("recognised", "start_chance", "running_failure")
    return [(each.field, each.found) for each in warnings(loads(text)) if each.field.endswith(wanted)]


def test_what_has_no_default_to_rely_on_is_asked_for():
    """Who is found to be in need, whether a generator starts, how long it runs; not once they are stated."""
    text = CALM.replace("    recognised: 100 %\n", "", 1) + "  with_set: {sources: [concentrator]}\n"
    text = text.replace("power:\n", "power:\n  generator: {start_delay: 5 min}\n")
    assert asked(text) == [
        ("patients.*.recognised", "not stated (newborns): 100 % is taken, everyone in need is found"),
        ("power.generator.start_chance", "not stated: it always starts"),
        ("power.generator.running_failure", "not stated: it never fails while it runs"),
    ]
    told_all = text.replace("{start_delay: 5 min}", "{start_chance: 95 %, running_failure: never}")
    assert (
        asked(
            told_all.replace(
                "  newborns:\n", "  newborns:\n    recognised: {low: 50 %, likely: 75 %, high: 95 %}\n"
            )
        )
        == []
    )
    in_strategy = "with_set: {sources: [concentrator], power: {generator: {start_chance: 95 %}}}"
    assert asked(CALM + f"  {in_strategy}\n") == [asked(text)[2]]


def test_nobody_is_missing_from_a_register(tmp_path):
    """A register holds those who were given oxygen: which share was recognised is not asked for."""
    (tmp_path / "r.csv").write_text("arrival,class,flow,hours\n2027-01-02 10:00,child,1,20\n")
    plain = "    admissions: 1 / day\n    flow: 1 L/min\n    duration: 24 h\n"
    (tmp_path / "s.yaml").write_text(
        SMALL.replace(plain, "    register: {file: r.csv, from: 2027-01-01, to: 2027-12-31}\n")
    )
    assert ASKED_FOR not in {each.field for each in warnings(load(tmp_path / "s.yaml"))}
    assert ASKED_FOR in {each.field for each in warnings(loads(SMALL))}


def test_a_flow_too_high_is_told_by_what_becomes_of_it():
    """Without reduced flow they go without; two units of 5 L/min are enough for all."""
    high = CALM.replace("high: 5 L/min", "high: 10 L/min")
    (problem,) = told(high + "allocation: {reduced_flow: never}\n")
    assert "they go without" in problem
    assert told(high + "allocation: {two_units: true}\n") == []
    more = high.replace("high: 10 L/min", "high: 15 L/min") + "allocation: {two_units: true}\n"
    assert sum("of 10 L/min of two units" in each for each in told(more)) == 1


def test_a_step_after_the_longest_stay_is_told():
    """Stays of 60 h: a step after 60 h changes nothing, one after 2 days does."""
    stay = "    duration: {lognormal: {median: 60 h, geometric_sd: 2.2}}\n    priority: 2\n"
    steps = "[{after: 2 days, share: 50 %}, {after: 60 h, share: 9 %}]"
    stepped = f"    duration: 60 h\n    priority: 2\n    flow_steps: {steps}\n"
    assert CALM.count(stay) == 1
    (problem,) = told(CALM.replace(stay, stepped))
    assert "patients.adults.flow_steps[2]: after the longest stay" in problem


def test_the_need_that_is_compared_with_the_supply_steps_down():
    """Three concentrators are too few for the full flow, and enough where it falls to a tenth at once."""
    needs = "patients: {all: {admissions: 8 / day, flow: 4 L/min, duration: 1 day%s}}\n"
    units = "concentrators: {count: 3, rated_flow: 5 L/min}\nstrategies: {only: {sources: [concentrator]}}\n"
    above = "is above the supply"
    assert above in " ".join(told(needs % "" + units))
    assert above not in " ".join(told(needs % ", flow_steps: [{after: 1 min, share: 10 %}]" + units))
