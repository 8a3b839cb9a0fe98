"""A stock is sized on supply alone: whatever the staff do, within the missing litres, at each share of a flow."""

import json

import pytest
from scipy import stats
from test_cli import call
from test_sizing import WARD

from o2sim.errors import O2simError
from o2sim.outcome import Cause
from o2sim.questions.size.sizing import size
from o2sim.questions.size.which_run import PERMILLES, counting, gives_parts
from o2sim.runs.study import run_replication, run_study
from o2sim.runs.supply_alone import supply_alone
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of

RULE = "shortfall: {enough: 50 %, recovery: 5 min, counted_by: supply clock}\n"
CALM = WARD.replace("horizon: 60", "horizon: 20").replace("warm_up: 7", "warm_up: 2") + RULE
WATCHED, UNWATCHED = "change_time: 0 min, gauge_check: watched", "change_time: 50 min, gauge_check: 8 h"
CARELESS = CALM.replace(WATCHED, UNWATCHED).replace("response_time: 0 min", "response_time: 2 h")
HIGHER = ("flow: 2 L/min", "flow: {triangular: {low: 2 L/min, mode: 4 L/min, high: 8 L/min}}")
LONG = CARELESS.replace("horizon: 20", "horizon: 60").replace(*HIGHER)
HIGH = (  # who needs 8 L/min gets 5 from a unit where no cylinder is free: 63 %
    CALM.replace(*HIGHER)
    .replace("reorder_point: 14", "reorder_point: 3")
    .replace("order_up_to: 20", "order_up_to: 6")
    .replace("fleet: 24", "fleet: 8")
    .replace("tolerated_gap: 0", "tolerated_gap: 10")
)
FLEET = "cylinders.fleet = 20..44 step 4"


def sized(text, strategy="cylinders only", **more):
    """Return the result of a sizing of a text."""
    return size(original_of(text), strategy, **{"replications": 60, "vary": FLEET, "target": 0.2, **more}).result


def bare(found):
    """Return a result without what the file's handling and its hash give."""
    left = {key: value for key, value in found.items() if key not in ("with_handling", "scenario_hash")}
    return {**left, "measured": {**left["measured"], "card": None}}


@pytest.mark.parametrize("more", [{}, {"causes": ["supply"]}])
def test_the_answer_is_the_same_however_the_staff_work(more):
    """By one batch and by a search: slow and careless staff change what stands beside it, and nothing of it."""
    quick, careless = sized(CALM, **more), sized(CARELESS, **more)
    assert bare(careless) == bare(quick)
    assert careless["with_handling"] != quick["with_handling"]


@pytest.mark.parametrize("strategy", ["cylinders only", "mixed"])
@pytest.mark.parametrize("permille", [1, *PERMILLES])
def test_one_batch_is_exact_for_the_companion_whatever_is_enough(strategy, permille):
    """A smaller stock, run by itself as the companion, runs short only where the batch at the largest says so."""
    fleets = "cylinders.fleet = 12..60 step 12"
    lowest = [each["failures"] for each in sized(LONG, strategy, replications=8, target=0.5, vary=fleets)["curve"]]
    for place, fleet in enumerate(range(12, 61, 12)):
        text = LONG.replace("fleet: 24", f"fleet: {fleet}")
        text = text.replace("reorder_point: 14", f"reorder_point: {fleet - 10}")
        scenario = loads(text.replace("order_up_to: 20", f"order_up_to: {fleet - 4}"))
        hospital = counting(permille)(scenario.hospitals[strategy])
        alone = type(scenario)("s", "", "", scenario.hash, {strategy: hospital})
        ran = [run_replication(alone, [strategy], 1, each, "kernel")[0] for each in range(8)]
        short = sum(each.stock_outs_by_cause[Cause.NO_CYLINDER] > 0 for each in ran)
        assert short <= lowest[place]
    assert lowest[0] > lowest[-1]


def test_the_measured_values_are_those_of_the_companion_and_of_the_file():
    """The same fresh replications of the answer, run by themselves with supply alone and as in the file."""
    found = size(original_of(CARELESS), "cylinders only", replications=60, vary=FLEET, target=0.2)
    seen, handled = found.result["measured"], found.result["with_handling"]
    first, stop = seen["first_replication"], seen["first_replication"] + seen["replications"]
    assert (handled["first_replication"], handled["replications"]) == (first, seen["replications"])
    for scenario, said in ((supply_alone(found.candidate.scenario), seen), (found.candidate.scenario, handled)):
        ran = [run_replication(scenario, ["cylinders only"], 1, each, "kernel")[0] for each in range(first, stop)]
        assert said["chance_of_a_stock_out"]["estimate"] == sum(each.stock_outs > 0 for each in ran) / len(ran)
        given = sum(each.cylinder_gas + each.concentrator_gas for each in ran)
        needed = sum(each.needed_gas for each in ran)
        assert said["litres_missing"]["mean"] == pytest.approx(1 - given / needed)
    assert handled["litres_missing"]["mean"] > seen["litres_missing"]["mean"]


@pytest.mark.parametrize("causes", [None, ["no cylinder", "no regulator"]])
def test_missing_litres_refuse_what_the_chance_would_pass(causes):
    """By one batch and by a search: without regulators most litres are missing, and no fleet cures that."""
    text = CALM.replace("regulators: 20", "regulators: 1")
    causes = causes or ["no cylinder"]
    loose = sized(text, most_missing="99.9 %", causes=["no cylinder"])
    tight = sized(text, causes=causes[:1], hold_levels=len(causes) > 1, vary="cylinders.fleet = 40, 44")
    assert loose["answer"] is not None
    assert loose["measured"]["litres_missing"]["mean"] > 0.3
    assert tight["answer"] is None
    assert "too many litres missing" in [point["status"] for point in tight["curve"]]
    assert tight["method"]["name"] == ("one batch" if len(causes) == 1 else "search")


def test_the_limit_passes_where_it_is_surely_kept():
    """The upper end of the interval of the answer's missing litres lies within the limit."""
    found = sized(CALM)
    assert found["most_missing"] == 0.05
    assert found["measured"]["litres_missing"]["high"] <= 0.05


def test_what_counts_as_enough_moves_nothing_but_the_count():
    """Levels of what is enough give the same gas, the same stock and the same seconds without, event by event."""
    scenario, ran = loads(HIGH), []
    for permille in PERMILLES:
        hospital = counting(permille)(scenario.hospitals["mixed"])
        alone = type(scenario)("s", "", "", scenario.hash, {"mixed": hospital})
        ran.append([run_replication(alone, ["mixed"], 1, each, "kernel")[0] for each in range(8)])
    physical = [
        [
            (e.cylinder_gas, e.concentrator_gas, e.unserved_s, e.fewest_full, e.cylinders_opened, e.orders,
             e.daily.tolist(), e.under_served_s + e.short_served_s)
            for e in outcomes
        ]
        for outcomes in ran
    ]  # fmt: skip
    assert physical[0] == physical[1] == physical[2]
    short = [sum(each.short_served_s for each in outcomes) for outcomes in ran]
    assert short[0] < short[1] < short[2]


def test_the_answer_at_each_share_is_that_of_a_file_which_says_so():
    """By a search, where parts of a flow are given: each row is the answer of the file with that share."""
    asked = {
        "vary": "concentrators.count = 2..11 step 3", "target": 0.3, "replications": 40, "most_missing": "99 %",
        "causes": ["concentrators full", "flow too high for the source"],
    }  # fmt: skip
    found = sized(HIGH, "concentrators only", **asked)
    assert [each["enough"] for each in found["by_enough"]] == [0.5, 0.8, 1.0]
    for each in found["by_enough"]:
        text = HIGH.replace("enough: 50 %", f"enough: {100 * each['enough']:g} %")
        there = sized(text, "concentrators only", **asked)
        assert (there["answer"] and there["answer"]["values"]) == each["values"]
        assert (there["answer"] and there["answer"]["at_most"]) == each["at_most"]
    assert len({json.dumps(each["values"]) for each in found["by_enough"]}) > 1


def test_where_nobody_is_given_a_part_the_answer_is_shared():
    """Cylinders give all or nothing, and so do units that may not reduce: no run is needed for other shares."""
    found = sized(CALM, causes=["supply"])
    assert [each["shared"] for each in found["by_enough"]] == [False, True, True]
    assert {json.dumps(each["values"]) for each in found["by_enough"]} == {json.dumps(found["answer"]["values"])}
    scenario = loads(CALM.replace("costs:", "allocation: {reduced_flow: never}\ncosts:"))
    assert not any(map(gives_parts, scenario.hospitals.values()))
    assert gives_parts(loads(CALM).hospitals["mixed"])


def test_what_was_written_gives_what_was_promised(tmp_path):
    """The next step, followed: compare --supply-alone on the written file meets the target and the other limit."""
    path, copy = tmp_path / "ward.yaml", tmp_path / "sized.yaml"
    path.write_text(CARELESS, encoding="utf-8")
    asked = ("size", path, "--strategy", "cylinders only", "--replications", 150, "--range", "20..44 step 4")
    shown = call(*asked, "--target", "20 %", "--write", copy)
    (step,) = [line for line in shown.stdout.splitlines() if line.startswith("o2sim compare")]
    assert step.split()[-1] == "--supply-alone"
    found = json.loads(call(*step.split()[1:], "--replications", 300, "--json").stdout)
    alone = found["supply_alone"]["strategies"]["cylinders only"]["supply_alone"]
    seen = round(alone["stock_out_probability"]["estimate"] * 300)
    assert stats.binomtest(seen, 300, 0.2, alternative="greater").pvalue > 0.001
    study = run_study(supply_alone(loads(copy.read_text(encoding="utf-8"))), replications=300)
    ran = study.outcomes["cylinders only"]
    given = sum(each.cylinder_gas + each.concentrator_gas for each in ran)
    assert 1 - given / sum(each.needed_gas for each in ran) <= 0.05


@pytest.mark.parametrize("count", [65, 125])
def test_ctrl_c_after_the_curve_leaves_it_without_an_answer_not_looked_at(monkeypatch, count):
    """In the fresh replications the curve stands and no answer; in those with handling the answer too."""
    from o2sim.questions.size import candidate_runs

    whole, done = candidate_runs.run_replication, []

    def stopping(*args):
        if len(done) == count:
            raise KeyboardInterrupt
        done.append(args)
        return whole(*args)

    monkeypatch.setattr(candidate_runs, "run_replication", stopping)
    found = sized(CALM)
    assert not found["complete"]
    assert len(found["curve"]) == 7
    assert (found["answer"] is None) == (count == 65)


def test_a_run_from_a_count_is_not_sized():
    """How much is enough is asked of usual years; a count is of one morning."""
    counted = CALM + "now: {counted: 2027-01-05 07:30, cylinders: {full: 9, empty: 9}}\n"
    with pytest.raises(O2simError, match=r"now: found a count; .* take the section out"):
        size(loads(counted), "cylinders only", target="5 %", vary="cylinders.fleet = 20..30")
