"""A wanted precision: the number a pilot fixes, fresh replications only, intervals that keep their word."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy.stats import binom, binomtest, norm, t
from synthetic import made_up_study
from test_cli import SCENARIO, call

import o2sim
from o2sim.errors import O2simError
from o2sim.looks import doubt as words
from o2sim.looks.convergence_chart import convergence_chart, settled
from o2sim.measures.measures import summarise
from o2sim.runs import study as study_module
from o2sim.runs.convergence import convergence
from o2sim.runs.executors import Processes
from o2sim.runs.precision import (
    FIRST_PILOT,
    PILOT_SHARE,
    Plan,
    arm,
    needed,
    pilot_seed,
    plan_precision,
    plausible,
    reached,
)
from o2sim.runs.store_file import open_store
from o2sim.runs.study import run_study
from o2sim.statistics.intervals import clopper_pearson
from o2sim.typed import as_json


@pytest.fixture
def file(tmp_path):
    """Write the scenario to a file and return its path."""
    path = tmp_path / "reed.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return path


def coin(rng, chance):
    """Return a pilot of one strategy whose replications have a stock-out by a known chance."""
    seen = rng.random(20_000) < chance
    return lambda size: {"a": int(seen[:size].sum())}


@pytest.mark.parametrize(("within", "tabled"), [(0.05, 385), (0.03, 1068), (0.01, 9604)])
def test_needed_against_the_tables_of_surveys(within, tabled):
    """At a chance of 1/2 it is the number every survey handbook has (from memory), and 1 / precision more."""
    assert needed(0.5, within) == pytest.approx(tabled + 1 / within, abs=2)


@pytest.mark.parametrize("chance", [0.02, 0.1, 0.3, 0.7])
def test_needed_against_the_textbook_formula(chance):
    """For high precision it nears the least n with t s / sqrt(n) <= precision (Law 9.4.1), from above."""
    within = 0.002
    n = round(float(norm.ppf(0.975)) ** 2 * chance * (1 - chance) / within**2)
    assert t.ppf(0.975, n - 1) * (chance * (1 - chance) / n) ** 0.5 == pytest.approx(within, rel=1e-3)
    assert n < needed(chance, within) < n + 4 / within


@pytest.mark.parametrize(("chance", "within"), [(0.5, 0.05), (0.25, 0.03), (0.02, 0.01), (0.9, 0.02)])
def test_needed_against_the_exact_interval_of_scipy(chance, within):
    """With that number both ends keep to it at the count expected; with one in 25 less they do not."""

    def furthest(n):
        count = round(n * chance)
        exact = binomtest(count, n).proportion_ci(method="exact")
        return max(count / n - exact.low, exact.high - count / n)

    n = needed(chance, within)
    assert furthest(n) <= within * 1.002  # a count is whole
    assert furthest(round(n * 0.96)) > within


@pytest.mark.parametrize(("chance", "within"), [(0.5, 0.01), (0.49, 0.05), (0.3, 0.05)])
def test_no_count_is_wider_than_one_at_the_peak(chance, within):
    """Where it is planned for any chance, no count whatever comes out wider (every count looked at)."""
    n = needed(0.5, within)
    assert max(arm(count, n) for count in range(n + 1)) <= within * (1 + 1e-4)
    assert needed(chance, within) <= n
    assert needed(1 - chance, within) == needed(chance, within)


@pytest.mark.parametrize(("chance", "within"), [(0.05, 0.03), (0.3, 0.05), (0.005, 0.01)])
def test_coverage_and_precision_of_planned_studies_against_the_binomial(chance, within):
    """Over 400 pilots and fresh runs the truth is outside no more often than stated, and nine in ten are met."""
    rng = np.random.default_rng(20261125)
    outside = met = 0
    for _ in range(400):
        plan = plan_precision(within, 10_000, 1, coin(rng, chance))
        seen = int(rng.binomial(plan.fixed, chance))
        interval = clopper_pearson(seen, plan.fixed)
        outside += not interval.low <= chance <= interval.high
        met += reached(plan, {"a": seen}, plan.fixed).met
    assert binom.sf(outside - 1, 400, 0.05) > 0.001
    assert binom.cdf(met, 400, 0.9) > 0.001


def test_the_pilot_is_a_tenth_of_what_it_asks_for():
    """It begins with 100 and grows until that holds; a ceiling bounds both; a pilot may be all of it."""
    asked = []

    def pilot(size):
        asked.append(size)
        return {"a": size // 2, "b": 0}

    plan = plan_precision(0.01, 1_000_000, 7, pilot)
    assert asked == [FIRST_PILOT, plan.needed // PILOT_SHARE]
    assert (plan.fixed, plan.needed, plan.pilot_seed) == (needed(0.5, 0.01), needed(0.5, 0.01), 1_000_000_007)
    bounded = plan_precision(0.01, 500, 7, pilot)
    assert (bounded.pilot, bounded.fixed, bounded.needed, bounded.within_reach) == (100, 500, 9704, False)
    assert bounded.expected == pytest.approx(arm(250, 500), rel=0.01)
    assert plan_precision(0.4, 30, 7, pilot).pilot == 30


def test_the_plausible_chance_is_the_end_nearest_a_half():
    """Few seen plan for the upper end, most seen for the lower, and a pilot that allows 1/2 for that."""
    low = clopper_pearson(3, 100, 0.8)
    assert plausible(3, 100) == low.high
    assert plausible(97, 100) == pytest.approx(1 - low.high, rel=1e-12)
    assert plausible(51, 100) == 0.5
    assert plausible(0, 100) == pytest.approx(1 - 0.1 ** (1 / 100))


def test_a_planned_study_is_the_study_of_that_number():
    """Seed and number alone give the same outcomes again; the pilot's replications are in none of them."""
    scenario = o2sim.loads(SCENARIO)
    found = run_study(scenario, precision=0.1, seed=3)
    again = run_study(scenario, replications=found.replications, seed=3)
    assert found.outcomes == again.outcomes
    assert again.plan is None
    told = summarise(found)["precision"]
    pilot = run_study(scenario, replications=told["pilot"]["replications"], seed=pilot_seed(3))
    counted = {name: sum(o.stock_outs > 0 for o in outcomes) for name, outcomes in pilot.outcomes.items()}
    assert told["pilot"] == {
        "seed": 1_000_000_003,
        "replications": 100,
        "stock_outs_seen": counted,
        "used_in_results": False,
    }
    assert told["replications_fixed"] == found.requested == found.replications
    assert "precision" not in summarise(again)


def test_the_strategy_that_needs_most_wins():
    """All strategies have the same replications, as many as the neediest asks for."""
    scenario = o2sim.loads(SCENARIO)
    together = run_study(scenario, precision=0.1)
    alone = {name: run_study(scenario, strategies=[name], precision=0.1) for name in scenario.strategies}
    numbers = {name: study.replications for name, study in alone.items()}
    assert together.replications == max(numbers.values())
    assert len(set(numbers.values())) > 1
    neediest = max(numbers, key=lambda name: numbers[name])
    assert together.outcomes[neediest] == alone[neediest].outcomes[neediest]
    arms = summarise(together)["precision"]["reached"]
    for name, item in summarise(together)["strategies"].items():
        chance = item["stock_out_probability"]
        assert arms[name] == max(chance["estimate"] - chance["low"], chance["high"] - chance["estimate"])


def test_a_store_changes_nothing(tmp_path):
    """With a new store, and from what is in it, the study is the same; the pilot has a seed of its own there."""
    scenario = o2sim.loads(SCENARIO)
    plain = run_study(scenario, strategies=["mixed"], precision=0.1)
    with open_store(tmp_path / "runs.o2store", "scenario", scenario) as store:
        for _ in range(2):
            other = run_study(scenario, strategies=["mixed"], precision=0.1, store=store)
            assert (other.outcomes, other.plan) == (plain.outcomes, plain.plan)
        assert [(b.seed, b.replications) for b in store.batches()] == [
            (1, plain.replications),
            (1_000_000_001, 100),
        ]


def test_a_crew_goes_home_once():
    """It stays between batches and is sent home at the end of all, or at once where one is cut short."""
    log = []

    class Noted(Processes):
        def end(self, cut_short):
            log.append("is sent" if cut_short else "goes")

    with Noted(1) as crew:
        for _ in range(2):
            with crew:
                log.append("works")
    assert (crew.window, log) == (1, ["works", "works", "goes"])
    log.clear()
    with pytest.raises(KeyboardInterrupt), Noted(1) as crew, crew:
        raise KeyboardInterrupt
    assert log == ["is sent"]


@pytest.mark.parametrize("stopped_in", ["pilot", "run"])
def test_a_stop_leaves_what_is_done(monkeypatch, stopped_in):
    """Ctrl-C in the pilot gives nothing, since it is in no result; in the run the whole replications so far."""
    scenario, real = o2sim.loads(SCENARIO), study_module.run_replication

    def run(scenario, names, seed, replication, engine):
        if (seed > 1) == (stopped_in == "pilot") and replication == 7:
            raise KeyboardInterrupt
        return real(scenario, names, seed, replication, engine)

    monkeypatch.setattr(study_module, "run_replication", run)
    if stopped_in == "pilot":
        with pytest.raises(KeyboardInterrupt):
            run_study(scenario, precision=0.1)
        return
    found = run_study(scenario, precision=0.1)
    assert (found.replications, found.complete, found.plan.fixed) == (7, False, found.requested)
    assert words.sentences(summarise(found))[0].endswith(" replications; 7 were done.")


@pytest.mark.parametrize("wanted", [0.0, -0.1, 0.5, 0.00001, float("nan")])
def test_precisions_nobody_can_mean_are_refused(wanted):
    """Zero, a half, less than one in 10,000 and no number at all are refused with what is allowed."""
    with pytest.raises(O2simError, match=r"precision: found .*; allowed: from 0.0001 .* to below 0.5"):
        run_study(o2sim.loads(SCENARIO), precision=wanted)


def test_a_ceiling_below_one_is_refused():
    """No replications are no study, with a precision or without."""
    with pytest.raises(O2simError, match="at least 1 replication, not 0"):
        run_study(o2sim.loads(SCENARIO), precision=0.1, replications=0)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--precision", "1"], "a unit is missing"),
        (["--precision", "0 %"], "allowed: from 0.01 % to below 50 %"),
        (["--precision", "50 %"], "allowed: from 0.01 % to below 50 %"),
        (["--precision", "-1 %"], "--precision"),
        (["--precision", "close"], "--precision"),
        (["--convergence", "chart.pdf"], "write a name that ends in .png or .svg"),
        (["--convergence", "none/chart.png"], "there is no folder none"),
    ],
)
def test_bad_input_is_told_before_the_run(file, monkeypatch, asked, said):
    """The exit code is 2, stdout is empty, nothing has run."""
    monkeypatch.setattr(study_module, "run_replication", lambda *_: pytest.fail("it ran"))
    shown = call("compare", file, *asked)
    assert (shown.exit_code, shown.stdout) == (2, "")
    assert said in " ".join(shown.stderr.split())


def test_the_command_tells_pilot_number_and_precision(file, tmp_path):
    """Stderr has the plan before the run, stdout what was reached; drawing, folder and JSON have it too."""
    out, chart = tmp_path / "out", tmp_path / "settled.svg"
    asked = ["compare", file, "--precision", "10 %", "--convergence", chart, "--out", out]
    shown = call(*asked)
    assert shown.exit_code == 0, shown.output
    assert shown.stderr.splitlines()[0].startswith(
        "A pilot of 100 replications (seed 1000000001, in no result) asks"
    )
    text = " ".join(shown.stdout.split())
    assert "Asked for to ±10 in 100, the chance of a supply shortfall came out to ±" in text
    assert "replications fixed by a pilot of 100 with seed 1000000001 | engine kernel" in text
    result = json.loads(call("compare", file, "--precision", "10 %", "--json").stdout)
    n = result["replications"]
    assert result["precision"]["replications_fixed"] == n
    for name, rows in result["convergence"]["strategies"].items():
        last = {
            key: result["strategies"][name]["stock_out_probability"][key] for key in ("estimate", "low", "high")
        }
        assert rows[-1] == {"replications": n, **last}
    assert json.loads((out / "manifest.json").read_text(encoding="utf-8"))["precision"] == result["precision"]
    assert json.loads((out / "summary.json").read_text(encoding="utf-8")) == result
    assert "<svg" in chart.read_text(encoding="utf-8")
    again = call(*asked[:2], "--replications", "2", "--convergence", chart)
    assert (again.exit_code, "is there already" in again.stderr) == (1, True)
    assert call(*asked[:2], "--replications", "2", "--convergence", chart, "--force").exit_code == 0


def test_a_ceiling_is_told_before_and_after(file):
    """The plan states what it would take, what is allowed and what that gives; the result says it is not met."""
    shown = call("run", file, "--strategy", "mixed", "--precision", "2 %", "--replications", "120")
    assert shown.exit_code == 0
    assert "no more than 120 are allowed, which give about ±" in shown.stderr
    assert "no more than 120 were allowed. To come as close as asked, raise --replications." in " ".join(
        shown.stdout.split()
    )
    told = json.loads(
        call("run", file, "--strategy", "mixed", "--precision", "2 %", "--replications", "120", "--json").stdout
    )["precision"]
    assert (told["met"], told["within_reach"], told["replications_fixed"]) == (False, False, 120)
    assert told["replications_needed"] > 120


def test_a_run_that_came_out_wider_says_why_it_is_not_added_to():
    """By chance one in ten or so is wider; the words say so, and what to do."""
    plan = Plan(0.03, 0.95, 10_000, 1_000_000_001, 100, {"a": 1}, 200)
    summary = {"precision": as_json(reached(plan, {"a": 60}, 200)), "horizon_days": 365.0, "complete": True}
    assert words.sentences(summary) == [
        "Asked for to ±3 in 100, the chance of a supply shortfall came out to ±6.86 in 100. A pilot of 100 years, "
        "which is in no result, asked for 200 replications; they came out a little wider than the pilot led to "
        "expect, "
        "as one in ten or so does. Adding to them until they fit would make the interval untrue: ask again with "
        "another --seed."
    ]
    exact = binomtest(60, 200).proportion_ci(method="exact")
    assert summary["precision"]["reached"]["a"] == pytest.approx(exact.high - 0.3, rel=1e-9)


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.01, "±1 in 100"), (0.025, "±2.5 in 100"), (0.005, "±5 in 1,000"), (0.0003, "±3 in 10,000")],
)
def test_closeness_in_words(share, said):
    """The denominator is the first that gives at least one."""
    assert words.closeness(share) == said


def test_convergence_against_intervals_by_hand():
    """Each row is the interval of so many first replications; the last has all, the first ten."""
    study = made_up_study({"a": 5, "b": 0}, replications=40)
    rows = convergence(study)["strategies"]["a"]
    assert [rows[0][key] for key in ("replications", "estimate")] == [10, 0.5]
    assert rows[-1]["estimate"] == 5 / 40
    for row in rows:
        exact = binomtest(min(5, row["replications"]), row["replications"]).proportion_ci(method="exact")
        assert (row["low"], row["high"]) == pytest.approx((exact.low, exact.high), rel=1e-9)
    (row,) = convergence(made_up_study({"a": 1}, replications=1))["strategies"]["a"]
    assert row["replications"] == 1


def test_the_drawing_shows_the_least_known_of_many():
    """Six of eight strategies are drawn, in the order of the file, and the others are counted."""
    study = made_up_study({f"s{k}": count for k, count in enumerate((0, 5, 10, 20, 0, 40, 60, 100))})
    figure = convergence_chart(study)
    assert [axes.get_title(loc="left").split(":")[0] for axes in figure.axes] == [
        "s1",
        "s2",
        "s3",
        "s5",
        "s6",
        "s7",
    ]
    assert "2 known more closely are not drawn" in figure.get_suptitle()
    alt = settled(study).alt
    assert "s7: 50 % after 200, from 100 % after 10, known to ±7.13 in 100." in alt  # scipy: 43 to 57.1 %
    assert "s0:" not in alt
