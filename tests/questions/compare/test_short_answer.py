"""The answer in two sentences: short, with the figures of the table, and as a range while figures are open."""

import re
from pathlib import Path

import pytest
from small_ward import WARD

from o2sim.measures.measures import summarise
from o2sim.questions.compare import brief, tables
from o2sim.questions.compare.short_answer import MOST_WORDS, Tried, chance_parts, range_answer, short_answer
from o2sim.questions.drivers.drivers import drivers
from o2sim.questions.drivers.short_range import in_words, tried
from o2sim.runs.study import run_study
from o2sim.scenario import loads
from o2sim.scenario.building.loading import of_tree
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import Problems

SHIPPED = sorted(Path("scenarios").glob("*.yaml"))
FIGURE = re.compile(r"[0-9](?:[0-9,.]*[0-9])?")
COUNTS = re.compile(r"only [0-9]+ simulated|[0-9]+ more not|the [0-9]+ others")  # of runs and of strategies


def chance(estimate, low, high):
    """Return a chance as a summary has it."""
    return {"estimate": estimate, "low": low, "high": high, "confidence": 0.95}


def strategy(chance_of, supply_h, handling_h, cost, fill=1.0):
    """Return what the answer looks at of one strategy."""
    hours = {"no cylinder": {"mean": supply_h}, "changeover": {"mean": handling_h}}
    return {
        "stock_out_probability": chance_of,
        "interruption_probability": chance(1.0, 0.98, 1.0),
        "unserved_patient_hours": {"mean": supply_h + handling_h, "low": 0, "high": 9},
        "unserved_hours_by_cause": hours,
        "fill_rate": {"mean": fill},
        "transferred_patients": {"mean": 0},
        "annual_cost": cost and {"mean": cost, "low": cost, "high": cost},
    }


def summary(strategies, count=200, unclear=()):
    """Return a summary of some strategies; unclear: pairs that the replications do not separate."""
    return {
        "replications": count, "horizon_days": 365.0, "currency": "USD", "strategies": strategies,
        "differences": [{"measure": "stock_out_probability", "from": one, "to": other, "low": -0.1, "high": 0.1}
                        for one, other in unclear],
    }  # fmt: skip


MIXED = strategy(chance(0.1, 0.062, 0.15), 6.59, 515.0, 19_600.0)
CYLINDERS = strategy(chance(0.655, 0.585, 0.72), 685.0, 641.0, 29_700.0)
UNITS = strategy(chance(1.0, 0.98, 1.0), 4340.0, 113.0, 5_520.0, 0.789)
THREE = {"cylinders only": CYLINDERS, "concentrators only": UNITS, "mixed": MIXED}


def test_the_two_sentences():
    """How often, against which others; what is left, why, at what cost."""
    assert short_answer(summary(THREE)) == (
        "With “mixed”, somebody goes without because supply ran out in 10 of 100 years (6 to 15); with “cylinders "
        "only” in 66 of 100; with “concentrators only” in all 200.",
        "It leaves 6.59 patient-hours a year unserved because supply ran out and 515 by handling, where more "
        "stock does not help; total cost a year about USD 19,600.",
    )


@pytest.mark.parametrize(
    ("found", "count", "days", "parts"),
    [
        (chance(0.155, 0.1, 0.2), 200, 365.0, ("16 in 100", "10–20")),
        (chance(0.25, 0.1, 0.45), 20, 180.0, ("5 of 20", "10–45 %")),
        (chance(0.25, 0.1, 0.45), 200, 180.0, ("25 in 100", "10–45")),
        (chance(0.0, 0.0, 0.018), 200, 180.0, ("none in 200", "to 2 %")),
        (chance(1.0, 0.98, 1.0), 200, 365.0, ("all 200", "98–100 %")),
        (chance(1.0, None, None), 1, 365.0, ("the only year", "")),
    ],
)
def test_a_chance_and_its_interval_have_the_figures_of_the_table(found, count, days, parts):
    """Without the word for runs, which the head of the table says, whatever the horizon."""
    assert chance_parts(found, count, days) == parts


def test_no_clear_difference_is_said():
    """Neither is called better than the other where the replications do not separate them."""
    twins = {"one": MIXED, "other": strategy(chance(0.12, 0.08, 0.17), 7.0, 515.0, None)}
    first, second = short_answer(summary(twins, unclear=[("one", "other")]))
    assert first.endswith("; with “other” in 12 of 100 (no clear difference).")
    assert second.endswith("USD 19,600.")
    many = {f"a strategy with a rather long name {place}": MIXED for place in range(6)}
    names = list(many)
    first, _ = short_answer(summary(many, unclear=[(names[0], each) for each in names[1:]]))
    assert first.endswith("of 100 years (6 to 15); no clear difference from the 5 others.")
    first, _ = short_answer(summary(many, unclear=[(names[0], names[1])]))
    assert first.endswith("of 100 years (6 to 15); the 5 others not below that.")


def test_what_could_hurt_is_said():
    """Another strategy that leaves far fewer hours, oxygen that is not delivered, few runs."""
    rival = {"rare": strategy(chance(0.0, 0.0, 0.12), 0.0, 2530.0, 6_300.0, 0.886), "mixed": MIXED}
    first, second = short_answer(summary(rival, count=29))
    assert "in none of 29 years (to 12 %; only 29 simulated)" in first
    assert second == (
        "But it leaves 2,530 patient-hours a year unserved, “mixed” 522; of the litres needed they deliver 88.6 % "
        "and 100 %; total cost a year about USD 6,300 and USD 19,600."
    )
    _, alone = short_answer(summary({"units": {**UNITS, "annual_cost": None}}))
    assert alone.endswith("113 by handling, where more stock does not help; it delivers only 78.9 % of the litres "
                          "needed.")  # fmt: skip


@pytest.fixture(scope="module", params=SHIPPED, ids=lambda path: path.stem)
def shipped(request):
    """Return the summary of a shipped scenario, cut to three weeks."""
    text = re.sub(r"(?m)^horizon: .*$", "horizon: 21 days", request.param.read_text(encoding="utf-8"))
    text = re.sub(r"(?m)^warm_up: .*$", "warm_up: 0 days", text)
    root = nodes.parse(text, Problems("cut"))
    return summarise(run_study(of_tree(root, Problems("cut"), request.param.parent, "cut"), replications=30))


def test_of_every_shipped_scenario_they_are_short_and_have_the_figures_of_the_table(shipped):
    """At most 35 words each; each figure stands in a table in the same digits."""
    shown = [brief.to_decide_by(shipped, 600, "USD"), *tables.all_tables(shipped, shipped["currency"] or "")]
    cells = [cell for table in shown for row in table.rows for cell in row]
    known = {figure for cell in cells for figure in FIGURE.findall(cell)}
    for sentence in short_answer(shipped):
        assert len(sentence.split()) <= MOST_WORDS
        found = set(FIGURE.findall(COUNTS.sub("", re.sub("“[^”]*”", "", sentence))))
        assert found - known == set()
        assert sentence.endswith(".")
        assert not re.search("nan|None|  |unknown", sentence)


def test_the_range_of_what_is_not_known():
    """From the least to the greatest chance, which unknown makes it, and whether the choice holds."""
    likely = {"mixed": 0.1, "cylinders only": 0.66}
    ends = [Tried({"mixed": 0.02, "cylinders only": 0.5}, "days to delivery"),
            Tried({"mixed": 0.6, "cylinders only": 0.7}, "how long a power cut lasts")]  # fmt: skip
    assert range_answer([Tried(likely), *ends], 200, 365.0) == (
        "With “mixed”, somebody goes without because supply ran out in between 2 and 60 of 100 years, depending "
        "on how long a power cut lasts and days to delivery.",
        "“mixed” does best, or as well as any, at every figure tried, one unknown at a time.",
    )
    other = Tried({"mixed": 0.8, "cylinders only": 0.7}, "the number of concentrators")
    first, second = range_answer([Tried(likely), *ends, other], 200, 365.0)
    assert "between 2 and 80 of 100 years" in first
    assert second == (
        "“cylinders only” would do better at another figure for the number of concentrators, so the choice is not "
        "settled."
    )


@pytest.mark.parametrize(
    ("chances", "replications", "span"),
    [
        ((0.0, 0.004, 1.0), 1000, "between none and 100 of 100 years, as"),
        ((0.002, 0.5), 1000, "between fewer than 1 and 50 of 100 years, as"),
        ((0.25, 0.5, 0.75), 8, "between 2 and 6 of 8 years, as"),
        ((0.5, 0.5), 200, "in 50 of 100 years, as"),
    ],
)
def test_sets_of_figures_drawn_together_have_a_range_too(chances, replications, span):
    """Without one figure that makes it; few runs are counted as they are."""
    first, second = range_answer([Tried({"one": each}) for each in chances], replications, 365.0)
    assert f"{span} some figures are not known." in first
    assert second == "Find out first what it depends on."


def test_a_choice_that_holds_over_sets_of_figures_says_so():
    """Drawn together they are more than one unknown at a time."""
    sets = [Tried({"one": each, "other": 0.9}) for each in (0.1, 0.4)]
    assert range_answer(sets, 200, 365.0)[1] == (
        "“one” does best, or as well as any, at every set of figures tried."
    )


def test_the_range_of_a_search_for_drivers_goes_over_its_ends():
    """The likely chances first, then two ends of each unknown, in the words of its question."""
    text = WARD.replace("fleet: 14", "fleet: {low: 12, likely: 14, high: 30}").replace("60 days", "20 days")
    text = text.replace("mean: 4 days", "mean: {low: 1 day, likely: 4 days, high: 9 days}")
    result = drivers(original_of(text), replications=10).answers
    found = tried(result)
    assert [each.by for each in found] == ["", *["the number of cylinders"] * 2, *["days to delivery"] * 2]
    likely = summarise(run_study(loads(text), replications=10))["strategies"]
    assert found[0].chances == {name: item["stock_out_probability"]["estimate"] for name, item in likely.items()}
    for sentence in range_answer(found, 10, 20.0):
        assert len(sentence.split()) <= MOST_WORDS
    assert in_words("concentrators.repair.lognormal.median").startswith("out of service")
