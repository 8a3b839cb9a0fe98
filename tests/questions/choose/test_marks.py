"""How sure the marks of a frontier are: right together, as often as stated, where the truth is known."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import beta, t
from test_options import priced

from o2sim.questions.choose.charts import frontier
from o2sim.questions.choose.frontier import sure_marks
from o2sim.questions.choose.options import decide
from o2sim.questions.choose.result import Ends
from o2sim.questions.choose.screen import stage_decision
from o2sim.questions.choose.text import options_table


def truly_on_frontier(costs, chances):
    """Return which points none other is as cheap and as reliable as, by brute force."""
    points = list(zip(costs, chances, strict=True))
    return [not any(a <= x and b <= y and (a, b) != (x, y) for a, b in points) for x, y in points]


@pytest.mark.parametrize("kind", ["chances", "means"])
def test_sure_marks_keep_their_word_over_known_truths(kind):
    """In 300 repeats with dependent options no sure mark is wrong in 95 % or more; a clear mark is always sure."""
    generator = np.random.default_rng(20261126)
    chances, prices = np.array([0.4, 0.2, 0.2, 0.06, 0.05]), np.array([10.0, 14.0, 14.3, 20.0, 19.9])
    truth = truly_on_frontier(prices, chances)
    assert truth == [True, True, False, False, True]
    wrong, sure, marked_wrong = 0, np.zeros(5), 0
    for _ in range(300):
        luck = 0.5 * generator.random((300, 1)) + 0.5 * generator.random((300, 5))
        spent = {f"o{k}": prices[k] + 3 * luck[:, k] for k in range(5)}
        seen = {
            f"o{k}": luck[:, k] < np.sqrt(p / 2)
            if kind == "chances"
            else 10 * p + luck[:, k]  # as in test_options
            for k, p in enumerate(chances)
        }
        points = {name: (spent[name].mean(), seen[name].mean()) for name in spent}
        marks = dict(zip(points, truly_on_frontier(*zip(*points.values(), strict=True)), strict=True))
        found = sure_marks(spent, seen, [name for name, on in marks.items() if on])
        right = [marks[f"o{k}"] == truth[k] for k in range(5)]
        wrong += any(found[f"o{k}"] and not right[k] for k in range(5))
        marked_wrong += not all(right)
        sure += [found[f"o{k}"] for k in range(5)]
    assert wrong <= 15
    assert marked_wrong > 30  # so that there was something to be wrong about
    assert sure[0] == 300  # far cheaper than all others


def test_a_mark_is_as_sure_as_its_comparisons_by_hand():
    """The mean by which one costs more decides by its t-bound at 5 % / 4: one pair, two ways round, two kinds."""
    spread = np.linspace(-1, 1, 50)
    seen = {"a": np.arange(50) < 25, "b": np.arange(50) < 25}
    half = t.ppf(1 - 0.05 / 4, 49) * spread.std(ddof=1) / 50**0.5
    for shift, sure in ((1.001 * half, True), (0.999 * half, False)):
        costs = {"a": np.zeros(50), "b": spread + shift}
        assert sure_marks(costs, seen, ["a"])["a"] is sure
        assert (
            sure_marks(costs, seen, ["a"])["b"] is False
        )  # as reliable, as far as one can see: not surely no more


def test_a_dominated_option_must_be_dearer_as_surely_as_worse():
    """Worse in every year it is surely dominated once its cost is above the same t-bound, and not before."""
    spread = np.linspace(-1, 1, 50)
    half = t.ppf(1 - 0.05 / 4, 49) * spread.std(ddof=1) / 50**0.5
    seen = {"a": np.zeros(50, dtype=bool), "b": np.ones(50, dtype=bool)}
    for shift, sure in ((1.001 * half, True), (0.999 * half, False)):
        assert sure_marks({"a": np.zeros(50), "b": spread + shift}, seen, ["a"]) == {"a": True, "b": sure}


def test_what_shows_no_spread_or_no_company():
    """One replication makes nothing sure, one option is always on its frontier, equal options are never sure."""
    one = {"a": np.array([1.0]), "b": np.array([2.0])}
    assert sure_marks(one, one, ["a"]) == {"a": False, "b": False}
    assert sure_marks({"a": np.array([1.0])}, {"a": np.array([True])}, ["a"]) == {"a": True}
    same = {"a": np.ones(9), "b": np.ones(9)}
    assert sure_marks(same, same, ["a"]) == {"a": False, "b": False}
    paid = {"a": np.ones(9), "b": np.full(9, 1.0)}  # as dear, but worse for certain
    assert sure_marks(paid, {"a": np.arange(9.0), "b": np.arange(9.0) + 5}, ["a"]) == {"a": True, "b": True}


def test_the_decision_has_intervals_and_sure_marks():
    """Each option has the exact interval of its chance; 30 are not surely worse than 20 (17.5, 15 %)."""
    told = decide(priced([10, 20, 30, 40], [80, 30, 35, 0])).options
    assert [each.sure for each in told.values()] == [True, True, False, True]
    ends = told["20"].intervals.stock_out_probability
    assert (ends.low, ends.high) == pytest.approx((beta.ppf(0.025, 30, 171), beta.ppf(0.975, 31, 170)))
    hours = np.where(np.arange(200) < 30, 21.0, 1.0)
    half = t.ppf(0.975, 199) * hours.std(ddof=1) / 200**0.5
    assert told["20"].intervals.unserved_patient_hours.high == pytest.approx(hours.mean() + half)
    assert told["40"].intervals.unserved_patient_hours == Ends(None, None)


def test_sure_marks_are_told_and_drawn(tmp_path):
    """The table says which are sure and what that means, the drawing has hollow marks and bars, the CSV both."""
    decision = decide(priced([10, 20, 30, 40], [80, 30, 35, 0]))
    table = options_table(decision)
    assert [row[-1] for row in table.rows] == [
        "frontier 1 (sure)",
        "frontier 2 (sure)",
        "chosen; frontier 3 (sure)",
        "dominated by 2",
    ]
    assert "3 of the 4 marks are sure: all of those together are right with 95 % confidence." in table.note
    picture = frontier(decision)
    assert picture.alt.endswith("3 of the 4 marks are sure.")
    labels = {text.get_text() for text in picture.figure.legends[0].get_texts()}
    assert labels >= {"95 % interval", "hollow: not sure"}
    stage_decision(tmp_path, decision)
    rows = list(csv.DictReader((tmp_path / "options.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["sure"] for row in rows] == ["yes", "yes", "no", "yes"]
    assert float(rows[1]["stock_out_probability_high"]) == (
        decision.options["20"].intervals.stock_out_probability.high
    )
    alone = decide(replace(priced([10], [80]), requested=200))
    assert "marks are sure" not in options_table(alone).note
