"""A better reorder rule before buying: found where there is one, never by luck, its advice followed to the end."""

import json
import shlex

import pytest
from scipy import stats
from test_cli import call
from test_sizing import WARD, sized

from o2sim.errors import O2simError
from o2sim.outcome import Cause
from o2sim.questions.size.better_rule_text import pair_lines, rule_first, rule_on_the_card
from o2sim.questions.size.candidates import field_of
from o2sim.questions.size.charts import sizing_chart
from o2sim.questions.size.content import content
from o2sim.runs.study import run_study
from o2sim.runs.supply_alone import supply_alone
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of

POOR = (
    WARD.replace("reorder_point: 14", "reorder_point: 5")
    .replace("order_up_to: 20", "order_up_to: 12")
    .replace("horizon: 60", "horizon: 40")
)  # the fleet is 24: half of it is never ordered
BEST = (
    WARD.replace("reorder_point: 14", "reorder_point: 23")
    .replace("order_up_to: 20", "order_up_to: 24")
    .replace("minimum_order: 3", "minimum_order: 1")
    .replace("horizon: 60", "horizon: 40")
)
PAIRS = "resupply.levels"
ASKED = {"target": 0.3, "replications": 120, "most_missing": "50 %"}


@pytest.fixture(scope="module")
def beside():
    """Return a sizing of the fleet whose present levels are poor."""
    return sized(POOR, vary="cylinders.fleet = 24..60 step 4", **ASKED)


@pytest.fixture(scope="module")
def pairs():
    """Return a sizing of the levels alone."""
    return sized(POOR, vary=PAIRS, **ASKED)


def failing(pair, first, stop):
    """Return how many replications fail for want of a cylinder with a pair of levels, run by themselves."""
    point, upto = pair.split("/")
    text = POOR.replace("reorder_point: 5", f"reorder_point: {point}").replace("to: 12", f"to: {upto}")
    study = run_study(supply_alone(loads(text)), strategies=["cylinders only"], replications=stop)
    ran = study.outcomes["cylinders only"][first:stop]
    return sum(Cause.NO_CYLINDER in each.went_wrong for each in ran)


def test_a_better_rule_stands_before_buying_and_is_what_its_levels_give(beside):
    """The first line; its counts are those of the two pairs, each run by itself."""
    rule = beside.result["better_rule"]
    assert content(beside.record)[0].startswith(
        "First a better reorder rule, nothing to buy: levels "
        f"{rule['other']['levels']} in place of 5/12 with the 24 cylinders"
    )
    first, stop = rule["first_replication"], rule["first_replication"] + rule["replications"]
    for said in (rule["present"], rule["other"]):
        assert said["failures"] == failing(said["levels"], first, stop)
    assert int(beside.answer["cylinders.fleet"]) > rule["fleet"] == 24


def test_better_is_what_the_exact_test_says_against_scipy(beside):
    """McNemar's exact test (1947) of the discordant replications, by scipy's binomial test."""
    rule = beside.result["better_rule"]
    one, other = rule["only_present_fails"], rule["only_other_fails"]
    assert one - other == rule["present"]["failures"] - rule["other"]["failures"]
    assert rule["by_luck"] == pytest.approx(stats.binomtest(one, one + other, 0.5, alternative="greater").pvalue)
    assert rule["is_better"] == (rule["by_luck"] <= 0.05)


def test_levels_are_sized_with_the_fleet_as_it_is(pairs):
    """The cheapest pair that is enough, confirmed; the fleet is as it was, and compared is on fresh ones."""
    answer, rule = pairs.result["answer"], pairs.result["better_rule"]
    point, upto = answer["values"][PAIRS].split("/")
    assert answer["to_write"] == {"resupply.reorder_point": point, "resupply.order_up_to": upto}
    assert pairs.hospital.cylinders.fleet == 24
    costs = {each["values"][PAIRS]: each["annual_cost"] for each in pairs.result["curve"]}
    tried = [
        each for each in pairs.result["curve"] if each["status"] in ("fails too often", "not shown to be enough")
    ]
    runs = {each["values"][PAIRS]: each["replications"] for each in pairs.result["curve"]}
    assert runs["5/12"] == runs[answer["values"][PAIRS]] >= 120  # one common batch
    assert set(costs) == set(runs)
    assert tried
    assert rule["other"]["levels"] == answer["values"][PAIRS]
    assert rule["first_replication"] >= 2 * 120
    assert rule["is_better"]
    assert "Against the levels of the file, nothing to buy" in " ".join(pair_lines(pairs.record))


def test_where_the_rule_is_as_good_as_it_gets_nothing_is_claimed():
    """Ordered up to the whole fleet as soon as one is taken: no pair is higher, so nothing is said."""
    found = sized(BEST, vary="cylinders.fleet = 24..60 step 4", **ASKED)
    assert found.result["better_rule"] is None
    assert rule_first(found.record) == rule_on_the_card(found.record) == ""


@pytest.mark.parametrize("seed", range(1, 9))
def test_luck_is_not_called_better(seed):
    """A vehicle that brings one cylinder makes all levels alike: whatever luck shows, no line is printed."""
    alike = POOR.replace("vehicle_capacity: 9", "vehicle_capacity: 1").replace(
        "minimum_order: 3", "minimum_order: 1"
    )
    alike = alike.replace("reorder_point: 5", "reorder_point: 22").replace("order_up_to: 12", "order_up_to: 23")
    found = sized(alike, vary="cylinders.fleet = 24, 60", seed=seed, **ASKED)
    assert rule_first(found.record) == ""


def test_nothing_is_said_where_nothing_is_to_be_bought():
    """The fleet of the file is enough: other levels are not looked for."""
    found = sized(POOR, vary="cylinders.fleet = 20..60 step 4", target=0.9, replications=60, most_missing="90 %")
    assert int(found.answer["cylinders.fleet"]) <= 24
    assert found.result["better_rule"] is None


def test_the_advice_followed_to_the_end_keeps_its_promise(tmp_path, monkeypatch):
    """size, its first command, what that writes, and compare on it: the chance is lower, as was promised."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "ward.yaml").write_text(POOR, encoding="utf-8")
    shown = call("size", "ward.yaml", "--strategy", "cylinders only", "--range", "24..60 step 4", "--target",
                 "30 %",
                 "--replications", 120, "--most-missing", "50 %").stdout  # fmt: skip
    steps = [line for line in shown.splitlines() if line.startswith("o2sim ")]
    assert f"--vary {PAIRS} --write ward-levels.yaml" in steps[0]
    found = call(*shlex.split(steps[0])[1:], "--json")
    rule = json.loads(found.stdout)["better_rule"]
    assert shlex.split(steps[1])[1:3] == ["compare", "ward-levels.yaml"]
    compared = json.loads(call(*shlex.split(steps[1])[1:], "--replications", 300, "--json").stdout)
    alone = compared["supply_alone"]["strategies"]["cylinders only"]["supply_alone"]["stock_out_probability"]
    seen, n = round(alone["estimate"] * 300), rule["replications"]
    promised = [rule[which]["failures"] for which in ("other", "present")]
    assert stats.fisher_exact([[seen, 300 - seen], [promised[0], n - promised[0]]])[1] > 0.001
    assert stats.fisher_exact([[seen, 300 - seen], [promised[1], n - promised[1]]], alternative="less")[1] < 0.001


def test_a_better_pair_that_is_not_enough_is_written_all_the_same():
    """No pair meets a hard target: there is no answer, and the pair that surely helps is what is written."""
    found = sized(POOR, vary=f"{PAIRS} = 5/12, 15/18, 18/24", target=0.06, replications=120, most_missing="50 %")
    assert found.answer is None
    assert found.record.can_be_written
    assert found.hospital.resupply.order_up_to == int(found.record.better_rule.other.levels.split("/")[1])
    assert loads(found.scenario_text()).hospitals["cylinders only"] == found.hospital


def test_the_card_on_the_wall_says_it(beside, tmp_path):
    """One sentence with the numbers to order by, on the reorder card alone."""
    point, upto = beside.result["better_rule"]["other"]["levels"].split("/")
    said = f"with 24 in all, order at {point} or fewer up to {upto}"
    assert [said in path.read_text() for path in beside.write_sheets(tmp_path)] == [False, False, True]


def test_pairs_are_drawn_each_on_a_line(pairs):
    """As many lines as pairs, the answer and the target named."""
    figure = sizing_chart(pairs.record)
    (axes,) = figure.axes
    assert len(axes.get_yticks()) == len(pairs.curve)
    named = [text.get_text() for text in figure.legends[0].get_texts()]
    assert f"enough: {pairs.answer[PAIRS]}" in named
    assert "as in the file: 5/12" in named


@pytest.mark.parametrize(
    ("vary", "message"),
    [
        ([f"{PAIRS} = 26"], "found '26'; allowed: resupply.levels = 26/34, 30/34"),
        ([f"{PAIRS} = 10..20"], "found '10..20'; allowed: resupply.levels"),
        (
            [f"{PAIRS} = 20/10"],
            "none of the pairs makes a scenario that can be run; the first: resupply.levels = 20/",
        ),
        ([f"{PAIRS} = 10/20, 10 / 20"], "found 2 values, 1 of them different"),
        ([PAIRS, "cylinders.fleet"], "holds the fleet, so it is sized alone"),
    ],
)
def test_pairs_that_cannot_be_tried_are_refused(vary, message):
    """Each with what was found and what is allowed."""
    with pytest.raises(O2simError) as error:
        field_of(original_of(POOR), "mixed", vary)
    assert message in str(error.value)
