"""Sizing: which method and why, the exactness of one batch, the result's parts, and what is refused."""

import json
import math
import re

import pytest
from scipy import stats

from o2sim.errors import O2simError
from o2sim.money.cost import equivalent_annual_cost
from o2sim.outcome import SUPPLY_CAUSES, Cause
from o2sim.quantities.units import share
from o2sim.questions.size.candidate_runs import kept_of
from o2sim.questions.size.candidates import Question, field_of
from o2sim.questions.size.more_replications import more_of_batch
from o2sim.questions.size.one_batch import failures_at, why_not
from o2sim.questions.size.parts import next_one, rules_of_thumb
from o2sim.questions.size.result import Point
from o2sim.questions.size.sizing import read_causes, size
from o2sim.questions.size.which_run import runs_of
from o2sim.runs.executors import Processes
from o2sim.runs.study import run_replication
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.changing.splice import as_keys
from o2sim.statistics.sequential import most_failures

WARD = """
name: Small ward
start: 2027-01-01
horizon: 60 days
warm_up: 7 days
tolerated_gap: 0 min
response_time: 0 min
patients: {all: {admissions: 1 / day, recognised: 100 %, flow: 2 L/min, duration: {exponential: {mean: 40 h}}}}
cylinders: {content: 6800 L, fleet: 24, regulators: 20, change_time: 0 min, gauge_check: watched, leak: 0 L/min}
resupply:
  review: 7 days
  reorder_point: 14
  order_up_to: 20
  lead_time: {gamma: {mean: 3 days, sd: 2 days}}
  vehicle_capacity: 9
  minimum_order: 3
  part_delivery: {chance: 20 %, share: 50 %}
  road_closures: [{chance_per_day: 3 %, length: 4 days}]
concentrators:
  {count: 2, rated_flow: 5 L/min, outlets: 2, power: 350 W, failure: {exponential: {mean: 700 h}}, repair: 5 days}
power: {grid: {up: {exponential: {mean: 20 h}}, down: 6 h}}
costs: {cylinders: {price: 240 USD, life: 10 years, refill: 10 USD}}
strategies:
  cylinders only: {sources: [cylinder]}
  concentrators only: {sources: [concentrator]}
  mixed: {sources: [concentrator, cylinder]}
"""  # fmt: skip


def sized(text=WARD, strategy="cylinders only", **more):
    """Return a sizing of a text."""
    return size(original_of(text), strategy, **more)


OLDEST = WARD.replace(
    "gauge_check: watched", "gauge_check: watched, rack: oldest that lasts, send_part_used: never"
)


@pytest.mark.parametrize(
    ("ward", "strategy", "spared"),
    [(WARD, "cylinders only", 0), (WARD, "mixed", 0), (OLDEST, "cylinders only", 0), (OLDEST, "mixed", 1)],
)
def test_one_batch_is_exact_stock_by_stock(ward, strategy, spared):
    """A smaller stock, run by itself, leaves somebody without a cylinder where the lowest shelf says so.

    Never where it does not; and once it spares them: a unit takes over from a cylinder that cannot be changed.
    """
    text = ward.replace("warm_up: 7", "warm_up: 0").replace("horizon: 60", "horizon: 120")
    field = field_of(original_of(text), strategy, ["cylinders.fleet = 12..40 step 4"])
    top, seen = field.candidates[-1], set()
    for replication in range(7):
        outcome = run_replication(top.scenario, [strategy], 1, replication, "reference")[0]
        lowest = kept_of(top.hospital(strategy), outcome).lowest_shelf
        for candidate in field.candidates[:-1]:
            fewer = 40 - int(candidate.values["cylinders.fleet"])
            outcome = run_replication(candidate.scenario, [strategy], 1, replication, "reference")[0]
            short = outcome.unserved_s[Cause.NO_CYLINDER] + outcome.interruptions[Cause.NO_CYLINDER] > 0
            assert not short or failures_at([lowest], fewer)
            spared -= bool(failures_at([lowest], fewer)) and not short
            seen.add(short)
    assert spared == 0
    assert seen == {True, False}


def test_levels_move_with_the_fleet_unless_held():
    """The stated levels keep their distance; held, or sized themselves, they stay."""
    source = original_of(WARD)
    moved = field_of(source, "mixed", ["cylinders.fleet = 30, 31"])
    assert moved.candidates[0].hospital("mixed").resupply.reorder_point == 20
    assert moved.candidates[1].hospital("mixed").resupply.order_up_to == 27
    held = field_of(source, "mixed", ["cylinders.fleet = 30, 31"], hold_levels=True)
    assert held.candidates[1].hospital("mixed").resupply.order_up_to == 20
    both = field_of(source, "mixed", ["cylinders.fleet = 30, 31", "resupply.reorder_point = 12, 13"])
    assert as_keys(both.candidates[-1].there, "mixed") == {
        "cylinders.fleet": "31", "resupply.reorder_point": "13", "resupply.order_up_to": "27"
    }  # fmt: skip


@pytest.mark.parametrize(
    ("before", "after", "more", "reason"),
    [
        ("", "", {}, None),
        ("", "", {"vary": "resupply.reorder_point = 10..12"}, "only the whole stock"),
        ("", "", {"hold_levels": True}, "the levels are held"),
        ("", "", {"causes": ["supply"]}, "names other causes"),
        (
            "  minimum_order: 3",
            "  minimum_order: 3\n  emergency: {below: 3, lead_time: 6 h}",
            {},
            "emergency orders",
        ),
        ("fleet: 24,", "fleet: 24, loss: 2 / year,", {}, "go missing"),
        ("fleet: 24,", "fleet: 24, unusable: 2 %,", {}, "a bad fill"),
        ("costs:", "allocation: {reserve: 2}\ncosts:", {}, "kept for a priority"),
    ],
)
def test_the_method_is_told_with_its_reason(before, after, more, reason):
    """One batch where nothing looks at an absolute level; else the reason why not."""
    source = original_of(WARD.replace(before, after))
    hold, causes = more.get("hold_levels", False), read_causes(more.get("causes", ["no cylinder"]))
    field = field_of(source, "mixed", [more.get("vary", "cylinders.fleet = 30, 31")], hold)
    found = why_not(source.scenario.hospitals["mixed"], field, causes)
    assert (found == ()) if reason is None else (reason in found[0])


def test_a_sizing_by_one_batch_holds_all_its_parts():
    """The answer is the first that fails in few enough replications; its neighbours stand on either side."""
    found = sized(replications=80, vary="cylinders.fleet = 20..60")
    result = found.result
    allowed = max(p["failures"] for p in result["curve"] if p["status"] == "enough in the simulation")
    assert result["method"] == {"name": "one batch", "why": []}
    first = next(p for p in result["curve"] if p["failures"] <= allowed)
    assert result["answer"] == {
        **first,
        "at_most": pytest.approx(stats.beta.ppf(0.95, first["failures"] + 1, 80 - first["failures"])),
        "to_write": as_keys(found.candidate.there, "cylinders only"),
    }
    assert result["answer"]["at_most"] <= 0.05
    fleets = [result["neighbours"][side]["values"]["cylinders.fleet"] for side in ("one_less", "one_more")]
    assert [int(each) - int(found.answer["cylinders.fleet"]) for each in fleets] == [-1, 1]
    yearly = equivalent_annual_cost(240, 10, 0.03)
    assert result["next_one"]["cost_a_year"] == pytest.approx(yearly)
    assert result["measured"]["chance_by_named_causes"]["estimate"] <= 0.1
    assert result["levels_moved"] == ["resupply.reorder_point", "resupply.order_up_to"]
    assert found.answer["cylinders.fleet"] in found._repr_html_()
    assert json.loads(json.dumps(result)) == result
    assert len(found.curve) == 41


def test_a_sizing_by_search_is_confirmed_on_fresh_replications():
    """Units are sized for all causes of supply; the answer's replications took no part in the scan."""
    calm = (
        WARD.replace("horizon: 60", "horizon: 20")
        .replace("down: 6 h", "down: 1 min")
        .replace("tolerated_gap: 0", "tolerated_gap: 10")
    )
    result = sized(calm, "concentrators only", vary="concentrators.count = 2..14 step 4", target=0.2,
                   replications=60).result  # fmt: skip
    assert result["method"]["name"] == "search"
    assert result["answer"]["status"] == "confirmed"
    assert result["answer"]["attempts"] >= 1
    assert result["answer"]["estimate"] < result["answer"]["at_most"] <= 0.2
    assert result["causes"] == [cause.label for cause in sorted(SUPPLY_CAUSES)]
    assert result["thumb"] == []
    assert [p["values"]["concentrators.count"] for p in result["curve"]] == ["2", "6", "10", "14"]


def test_several_fields_are_tried_by_their_cost():
    """Of all combinations that would do, one is taken before which only cheaper ones were tried and failed."""
    priced = WARD.replace("costs: {", "costs: {concentrators: {price: 5000 USD}, ")
    result = sized(priced, "mixed", vary=["cylinders.fleet = 26, 40", "concentrators.count = 2, 4"], target="40 %",
                   causes=["no cylinder"], replications=40).result  # fmt: skip
    costs = {tuple(p["values"].values()): p["annual_cost"] for p in result["curve"]}
    chosen = tuple(result["answer"]["values"].values())
    tried = [p for p in result["curve"] if p["status"] not in ("dearer, not tried", "confirmed")]
    assert all(p["annual_cost"] <= costs[chosen] for p in tried)
    assert any(p["status"] == "dearer, not tried" and p["replications"] == 20 for p in result["curve"])
    sides = result["neighbours"]["by_field"]["concentrators.count"]
    assert (sides["one_less"], sides["one_more"]["values"]) == (
        None,
        {**result["answer"]["values"], "concentrators.count": "4"},
    )
    assert result["measured"]["replications"] == result["answer"]["replications"]  # the fresh ones
    assert len(costs) == 4
    assert result["next_one"] is None
    values = [None, *(p["values"] for p in result["curve"])]
    assert all(
        item[bound] in values for item in result["more_replications"] for bound in ("values", "least", "most")
    )


def test_no_value_is_enough():
    """The result has no answer and tells what happens at the last value."""
    found = sized(replications=60, vary="cylinders.fleet = 18, 20")
    assert found.answer is None
    assert found.result["measured"]["values"] == {"cylinders.fleet": "20"}
    assert found.result["measured"]["chance_by_cause"]["no cylinder"] > 0.05
    assert "None of the values tried is shown to be enough" in found._repr_html_()


def test_rules_of_thumb_worked_by_hand():
    """2 a day over 7 + 3 days, z at 5 %, variance 7/7 x 10 + (2 x 2)^2 of the lead time; 17 days in all."""
    hospital = original_of(WARD).scenario.hospitals["mixed"]
    (_, by_sd, _), (_, by_reserve, _) = rules_of_thumb(hospital, 2.0, 7**0.5, 0.05)
    assert by_sd == pytest.approx(20 + 1.6448536 * (10 + 16) ** 0.5, rel=2e-3)  # the sd from 2,000 points
    assert by_reserve == pytest.approx(34, rel=1e-3)


def test_ctrl_c_leaves_a_curve(monkeypatch):
    """What was done is told as such; the number of replications is that of those done."""
    done = 0

    def stop(count, total):
        nonlocal done
        done = count
        if count == 70:
            raise KeyboardInterrupt

    result = sized(replications=100, vary="cylinders.fleet = 20..40", progress=stop).result
    assert not result["complete"]
    assert result["replications_done"] == done == 70
    assert all(point["replications"] == 70 for point in result["curve"])


@pytest.mark.parametrize(
    ("strategy", "more", "message"),
    [
        ("concentrators only", {}, "uses no cylinders, so cylinders.fleet cures none of its shortfalls"),
        (
            "cylinders only",
            {"vary": "power.battery.usable = 1 kWh, 2 kWh"},
            "uses no concentrators, so power.battery",
        ),
        ("mixed", {"vary": "power.battery.usable = 1 kWh, 2 kWh"}, "state the rest of it in the file first"),
        ("mixd", {}, "no strategy is named 'mixd'"),
        ("mixed", {"vary": []}, "found nothing to vary"),
        ("mixed", {"vary": "cylinders.left_open"}, "the file says nothing of it, so the range must be stated"),
        ("mixed", {"vary": "resupply.review = continuous, 7 days"}, "allowed to size: numbers with a unit"),
        ("mixed", {"vary": "cylinders.fleet = 1, 2"}, "none of the values makes a scenario"),
        ("mixed", {"vary": "cylinders.fleet = 30 L, 40 L"}, "found '30 L'; allowed: a whole number"),
        ("mixed", {"vary": "cylinders.fleet = 1e9..2e9"}, "cylinders.fleet"),
        ("mixed", {"target": "5"}, "target: found"),
        ("mixed", {"target": 1.0}, "allowed: a share above 0 and below 1"),
        ("mixed", {"confidence": "101 %"}, "confidence: "),
        ("mixed", {"causes": ["no cylinders"]}, "causes: found 'no cylinders'; allowed: supply, any, changeover"),
        ("mixed", {"replications": 58}, "it takes at least 59"),
    ],
)
def test_what_cannot_be_sized_is_refused(strategy, more, message):
    """Each with what was found and what is allowed."""
    with pytest.raises(O2simError) as error:
        sized(strategy=strategy, **more)
    assert message in str(error.value)


def test_values_that_make_no_scenario_are_left_out_and_told():
    """A level that would fall below zero leaves the rest to be sized."""
    field = field_of(original_of(WARD), "mixed", ["cylinders.fleet = 5, 30"])
    assert [each.values["cylinders.fleet"] for each in field.candidates] == ["30"]
    assert "cylinders.fleet = 5" in field.refused[0]


def test_a_range_that_is_not_stated_ends_where_there_is_nothing_more_to_order():
    """A level is tried up to the fleet, a reorder point up to the level; what is stated is taken as it is."""
    source = original_of(WARD)
    (level,) = field_of(source, "mixed", ["resupply.order_up_to"]).levers
    assert (level.values[0], level.values[-1]) == ("10", "24")
    field = field_of(source, "mixed", ["resupply.reorder_point"])
    assert (field.levers[0].values[-1], field.refused) == ("20", ())
    (first, *_) = field_of(source, "mixed", ["resupply.order_up_to"]).candidates
    assert first.values == {"resupply.order_up_to": "14"}  # below the reorder point there is no scenario
    assert len(field_of(source, "mixed", ["resupply.reorder_point = 19..21"]).refused) == 1


def test_the_best_of_those_that_failed_is_looked_at_closely():
    """Two failures out of two tell nothing of why: it is run on, and its causes are those of all its runs."""
    result = sized(replications=80, vary="cylinders.fleet = 18, 20", hold_levels=True).result
    assert result["answer"] is None
    assert result["measured"]["replications"] == 80
    assert result["measured"]["values"] == result["curve"][-1]["values"]


def test_the_next_one_tells_the_first_that_lowers_the_chance():
    """Where the next one changes nothing the first that does is named."""
    curve = [
        Point({"f": str(k)}, 100, failures, failures / 100, 0, 1, "") for k, failures in enumerate((9, 2, 2, 2, 1))
    ]
    found = next_one(curve, 1, 5.0)
    assert (found.lowers_the_chance_by, found.first_that_lowers) == (0, {"f": "4"})
    assert found.which_lowers_by == pytest.approx(0.01)
    assert next_one(curve, 0, 5.0).first_that_lowers == {"f": "1"}
    assert next_one(curve[:4], 2, None).first_that_lowers is None


def test_the_next_step_costs_as_many_cylinders_as_it_has():
    """A step of ten cylinders costs ten times what one costs a year."""
    found = sized(replications=60, vary="cylinders.fleet = 30..90 step 10").result["next_one"]
    assert found["cost_a_year"] == pytest.approx(10 * equivalent_annual_cost(240, 10, 0.03))


def test_ranges_that_are_not_stated_are_around_the_file():
    """Half to twice what stands there, whole numbers one by one."""
    (lever,) = field_of(original_of(WARD), "mixed", ["concentrators.count"]).levers
    assert lever.values == ("1", "2", "3", "4")
    (lever,) = field_of(original_of(WARD), "mixed", ["concentrators.repair"]).levers
    assert (lever.values[0], lever.values[-1], lever.unit) == ("2.5 days", "10 days", "days")


def test_several_ranges_that_are_not_stated_are_thinner():
    """All combinations of two stay few enough to be run; ends and whole numbers are kept."""
    fleet, repair = field_of(original_of(WARD), "mixed", ["cylinders.fleet", "concentrators.repair"]).levers
    assert (fleet.values[:2], fleet.values[-1], len(fleet.values)) == (("12", "15"), "48", 13)
    assert len(fleet.values) * len(repair.values) < 225
    (*_, last) = field_of(
        original_of(WARD), "mixed", ["cylinders.fleet", "concentrators.repair", "concentrators.power"]
    ).levers
    assert last.values == ("175 W", "280 W", "385 W", "490 W", "595 W", "700 W")


def test_shares_and_causes_are_read():
    """Texts and numbers; words for many causes."""
    assert share("5 %", "target") == share(0.05, "target") == 0.05
    assert set(read_causes(["supply"])) == set(SUPPLY_CAUSES)
    assert read_causes(["any"]) == tuple(Cause)
    assert read_causes([" no power", Cause.NO_CYLINDER]) == (Cause.NO_POWER, Cause.NO_CYLINDER)


def test_what_more_replications_would_buy_holds_when_tried():
    """In 12 batches of 400 the answer of all lies within what the first 100 promised of it, at least 10 times."""
    short = original_of(WARD.replace("horizon: 60", "horizon: 20").replace("warm_up: 7", "warm_up: 1"))
    over = field_of(short, "cylinders only", ["cylinders.fleet = 12..60"])
    question = Question(short, "cylinders only", 0.05, 0.95, (Cause.NO_CYLINDER,), 100, 1, "kernel", 0.05)
    batch = runs_of(question, over.candidates, Processes(1)).batch(len(over.candidates) - 1, 0, 4_800)
    inside = 0
    for first in range(0, 4_800, 400):
        curves = []
        for n in (100, 400):
            lowest = [each.lowest_shelf for each in batch[first : first + n]]
            counts = [failures_at(lowest, 60 - int(each.values["cylinders.fleet"])) for each in over.candidates]
            curves.append([Point(each.values, n, count, count / n, 0, 1, "")
                           for each, count in zip(over.candidates, counts, strict=True)])  # fmt: skip
        (bounds, _) = more_of_batch(question, curves[0], 100)
        answer = next(each.values for each in curves[1] if each.failures <= most_failures(400, 0.05, 0.95))
        least, answer, most = (int(each["cylinders.fleet"]) for each in (bounds.least, answer, bounds.most))
        assert bounds.replications == 400
        inside += least <= answer <= most
    assert inside >= 10


def test_a_range_that_is_not_stated_goes_as_far_as_one_batch_needs():
    """Half of what the file says is not enough and twice is not either: every stock up to one that is."""
    few = WARD.replace("fleet: 24", "fleet: 10").replace("order_up_to: 20", "order_up_to: 9")
    found = sized(few.replace("reorder_point: 14", "reorder_point: 4"), replications=100)
    fleets = [int(point["values"]["cylinders.fleet"]) for point in found.curve]
    assert found.answer is not None
    assert int(found.answer["cylinders.fleet"]) > 20
    assert fleets == list(range(fleets[0], fleets[-1] + 1))
    assert fleets[-1] > int(found.answer["cylinders.fleet"])
    chances = [point["estimate"] for point in found.curve]
    assert chances == sorted(chances, reverse=True)


def test_replications_that_are_not_stated_depend_on_method_and_target(monkeypatch):
    """Many by one batch, fewer in a search, and more where the target is rare."""
    asked = []
    for method in ("by_one_batch", "by_search"):
        monkeypatch.setattr(
            f"o2sim.questions.size.sizing.{method}", lambda question, *_: asked.append(question) or 1 / 0
        )
    for more in ({}, {"hold_levels": True}, {"target": "0.1 %"}):
        with pytest.raises(ZeroDivisionError):
            sized(vary="cylinders.fleet = 20, 24", **more)
    assert [each.replications for each in asked] == [4_000, 400, 4 * 2_995]


def test_the_printed_sum_of_a_rule_of_thumb_is_its_value():
    """Worked out as it is printed it gives the level and, rounded up, the value."""
    rules = sized(replications=80, vary="cylinders.fleet = 20..60").result["thumb"]
    assert len(rules) == 2
    for rule in rules:
        total, parts = rule["figures"].split(" = ")[1].split(",")[0], re.findall(r"[0-9.]+", rule["figures"])
        a_day, days, *rest = map(float, parts[:-1])
        spread = (
            [rest[0] * rest[1], *rest[2:]] if len(rest) == 3 else rest
        )  # z x sd, then how far the fleet is above
        assert a_day * days + sum(spread) == pytest.approx(float(total), abs=1e-4)
        assert rule["value"] == math.ceil(float(total))
