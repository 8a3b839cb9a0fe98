"""What drives the answer: tornado, nested runs, stores and workers, what is refused; indices are in theory/."""

import json
import sys
from dataclasses import replace
from importlib.util import find_spec

import numpy as np
import pytest
from test_sizing import WARD

import o2sim
from o2sim.errors import O2simError
from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.drivers.drivers import drivers
from o2sim.questions.drivers.nested import nested
from o2sim.questions.drivers.points import Responses
from o2sim.questions.drivers.regret import BY_CHANCE, BY_COST, BY_WORTH, decisions
from o2sim.questions.drivers.result import Tornado
from o2sim.questions.drivers.tornado import matters_most, one_at_a_time
from o2sim.questions.drivers.variance_parts import spread
from o2sim.questions.whatif import point_runs
from o2sim.runs.store_file import open_store
from o2sim.runs.study import run_study
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.statistics.estimator import Estimator

SHORT = WARD.replace("horizon: 60 days", "horizon: 20 days")
RANGES = (
    ("admissions: 1 / day", "admissions: {low: 0.3 / day, likely: 1 / day, high: 3 / day}"),
    ("mean: 3 days", "mean: {low: 1 day, likely: 3 days, high: 9 days}"),
    ("refill: 10 USD", "refill: {low: 5 USD, likely: 10 USD, high: 30 USD}"),
    ("down: 6 h", "down: {low: 1 h, likely: 6 h, high: 9 h}"),
)
UNSURE = SHORT.replace("costs: {", "costs: {concentrators: {price: 4000 USD}, ")
for before, after in RANGES:
    UNSURE = UNSURE.replace(before, after)
PATHS = ["patients.all.admissions", "resupply.lead_time.gamma.mean", "power.grid.down", "costs.cylinders.refill"]


def asked(text=UNSURE, **more):
    """Return what drives a text."""
    return drivers(original_of(text), **{"replications": 20, **more})


@pytest.fixture(scope="module")
def tornado():
    """Return a tornado."""
    return asked().result


@pytest.fixture(scope="module")
def drawn():
    """Return a nested run."""
    return asked(method="nested", samples=16, worth=5000.0).result


def bar(result, strategy, measure, path):
    """Return one bar."""
    return next(each for each in result["strategies"][strategy]["bars"][measure] if each["field"] == path)


def test_the_ends_of_a_bar_are_studies_of_the_scenario_written_so(tornado):
    """Each end has the chance and the hours of the changed file, run by itself with the same seed."""
    for end, text in (("low", "1 day"), ("high", "9 days")):
        plain = SHORT.replace("mean: 3 days", f"mean: {text}")
        study = run_study(loads(plain), strategies=["cylinders only"], replications=20, seed=1)
        seen = np.mean([outcome.stock_outs > 0 for outcome in study.outcomes["cylinders only"]])
        assert bar(tornado, "cylinders only", CHANCE, PATHS[1])[end]["estimate"] == seen
        assert bar(tornado, "cylinders only", CHANCE, PATHS[1])[end]["value"] == text
    assert [each["field"] for each in tornado["uncertain"]] == PATHS


def test_a_tornado_is_monotone_where_it_must_be(tornado):
    """More patients and longer lead times leave no fewer hours unserved; a price moves the cost alone."""
    for path in PATHS[:2]:
        each = bar(tornado, "cylinders only", SUPPLY_HOURS, path)
        guess = tornado["strategies"]["cylinders only"]["best_guess"][SUPPLY_HOURS]["mean"]
        assert each["low"]["mean"] <= guess <= each["high"]["mean"]
        assert each["swing"] > 0
        assert not each["bends"]
    price = bar(tornado, "cylinders only", COST, PATHS[3])
    guess = tornado["strategies"]["cylinders only"]["best_guess"][COST]["mean"]
    assert (price["high"]["mean"] - guess) / (guess - price["low"]["mean"]) == pytest.approx(20 / 5)
    assert price["beyond_luck"]
    assert bar(tornado, "cylinders only", CHANCE, PATHS[3])["swing"] == 0


def test_bars_are_in_order_of_swing_and_power_is_nothing_to_cylinders(tornado):
    """The widest first; a number that a strategy does not know has no swing, and no interval of hours."""
    for item in tornado["strategies"].values():
        for bars in item["bars"].values():
            swings = [each["swing"] for each in bars]
            assert swings == sorted(swings, reverse=True)
    power = bar(tornado, "cylinders only", SUPPLY_HOURS, PATHS[2])
    assert (power["swing"], power["difference"]["low"]) == (0, None)
    assert bar(tornado, "concentrators only", SUPPLY_HOURS, PATHS[2])["swing"] > 0


def test_a_strategy_that_fails_always_is_told_by_its_hours():
    """Where the chance is the same at every end, hours tell."""
    mixed = asked().answers.strategies["mixed"]
    level = tuple(replace(bar, swing=0.0) for bar in mixed.bars[CHANCE])
    hours = mixed.bars[SUPPLY_HOURS]
    assert matters_most(Tornado({}, {CHANCE: level, SUPPLY_HOURS: hours})) == (SUPPLY_HOURS, hours)
    assert matters_most(mixed) == (CHANCE, mixed.bars[CHANCE])


def test_a_swing_counts_a_likely_value_outside_its_ends():
    """Low 1, likely 5, high 2: the swing is 4, and the bar says that it bends."""
    item = Uncertain("x", ("0", "1", "2"), (0.0, 1.0, 2.0), "", (0.0, 1.0, 2.0), False, ("x",))

    def evaluate(values):
        hours = np.array([[{0.0: 1.0, 1.0: 5.0, 2.0: 2.0}[row[0]]] * 3 for row in values])
        return Responses({"only": {CHANCE: np.zeros((3, 3)), SUPPLY_HOURS: hours}})

    (found,) = one_at_a_time([item], evaluate, Estimator(0.95, "3 years"))["only"].bars[SUPPLY_HOURS]
    assert (found.swing, found.bends, found.difference.mean) == (4, True, 1)


def test_points_that_change_nothing_are_not_run_again(monkeypatch):
    """Nine points, but power is nothing to cylinders, nor the road to concentrators: 7 runs of these."""
    ran = []
    run = point_runs.run_replication

    def noted(scenario, strategies, *more):
        ran.extend(strategies)
        return run(scenario, strategies, *more)

    monkeypatch.setattr(point_runs, "run_replication", noted)
    asked(replications=1)
    assert {name: ran.count(name) for name in set(ran)} == {
        "cylinders only": 7, "concentrators only": 7, "mixed": 9
    }  # fmt: skip


def test_nested_tells_the_unknown_apart_from_chance(drawn):
    """The range lies about the mean, its sd is not more than that of the raw means by draw; JSON holds no nan."""
    json.dumps(drawn, allow_nan=False)
    assert (drawn["draws"], drawn["complete"], drawn["law"]) == (16, True, "pert")
    for item in drawn["strategies"].values():
        for measure in (CHANCE, SUPPLY_HOURS, COST):
            each = item[measure]
            assert each["range_low"]["estimate"] <= each["range_high"]["estimate"]
            assert 0 <= each["not_known_share"] <= 1
            for key in ("mean", "range_low", "range_high", "not_known_sd"):
                assert each[key]["low"] <= each[key]["estimate"] <= each[key]["high"]
    assert {name: item[CHANCE]["best_guess"] for name, item in drawn["strategies"].items()} == {
        name: item["best_guess"][CHANCE] for name, item in asked().result["strategies"].items()
    }


def test_what_no_draw_showed_is_not_certain():
    """None seen in 4 draws of 8 years, of which 4 share nothing: up to 1 - 0.025^(1/4) (Clopper and Pearson)."""
    item = Uncertain("x", ("0", "1", "2"), (0.0, 1.0, 2.0), "", (0.0, 1.0, 2.0), False, ("x",))
    none = {m: np.zeros((5, 8)) for m in (CHANCE, SUPPLY_HOURS)}
    every = {**none, CHANCE: np.ones((5, 8))}
    limits = (0.05, None, None)
    found = nested(
        [item], lambda _: Responses({"never": none, "always": every}), Estimator(0.95, "8 years"),
        law="pert", samples=4, seed=1, limits=limits,
    )["strategies"]  # fmt: skip
    far = 1 - 0.025 ** (1 / 4)
    for key in ("mean", "range_low", "range_high"):
        never, always = (getattr(found[name][CHANCE], key) for name in ("never", "always"))
        assert (never.low, never.high) == (0, pytest.approx(far))
        assert (always.low, always.high) == (pytest.approx(1 - far), 1)


def test_nested_converges_in_rows(drawn):
    """Fewer replications with all draws, then fewer draws with all replications; the full run is among them."""
    sizes = [(row["draws"], row["replications"]) for row in drawn["convergence"]]
    assert sizes == [(16, 2), (16, 5), (16, 10), (16, 20), (4, 20), (8, 20)]
    full = drawn["convergence"][3]["strategies"]["mixed"]
    assert full["mean"] == pytest.approx(drawn["strategies"]["mixed"][CHANCE]["mean"]["estimate"])


def test_decisions_hold_together(drawn):
    """Shares add to 1; the best now has the least regret, which is the value of perfect information."""
    assert [each["by"] for each in drawn["decisions"]] == [BY_CHANCE, BY_COST, BY_WORTH]
    for each in drawn["decisions"]:
        assert sum(each["best_in"].values()) == pytest.approx(1)
        if each["by"] != BY_COST:
            best = each["regret"][each["best_now"]]
            assert best["estimate"] == each["perfect_information"]["estimate"]
            assert best["estimate"] == min(other["estimate"] for other in each["regret"].values())
            assert {one["field"] for one in each["one_number"]} == set(PATHS)


def fixed(**strategies):
    """Return tables of (chance by draw, cost), each draw alike in all of two replications."""
    return {
        name: {CHANCE: np.repeat(np.array(chances, dtype=float)[:, None], 2, axis=1),
               COST: np.full((len(chances), 2), float(cost))}
        for name, (chances, cost) in strategies.items()
    }  # fmt: skip


def test_the_cheapest_within_the_target_by_hand():
    """Cheap meets 5 % in two of four draws, dear in three; in the last none does and dear is the more reliable."""
    tables = fixed(cheap=([0.01, 0.02, 0.3, 0.4], 100), dear=([0.01, 0.01, 0.02, 0.2], 300))
    values = np.arange(4.0)[:, None]
    found = {each.by: each for each in decisions(tables, values, ["x"], (0.05, None, None), 0.95)}
    by_cost = found[BY_COST]
    assert by_cost.best_in == {"cheap": 0.5, "dear": 0.5}
    assert by_cost.misses_target_in == {"cheap": 0.5, "dear": 0.25}
    assert by_cost.dearer_where_it_meets == {"cheap": 0.0, "dear": pytest.approx(400 / 3)}
    assert by_cost.none_meets_in == 0.25
    assert by_cost.best_now == "dear"  # neither meets it on average (18 and 6 %)
    assert found[BY_CHANCE].best_now == "dear"
    assert found[BY_CHANCE].best_in == {"cheap": 0.125, "dear": 0.875}  # the first draw is shared
    assert found[BY_CHANCE].perfect_information.estimate == 0


def test_regret_by_worth_by_hand():
    """At 1,000 a stock-out cheap loses 110, 120, 400, 500 and dear 310, 310, 320, 500: knowing is worth 80/4."""
    tables = fixed(cheap=([0.01, 0.02, 0.3, 0.4], 100), dear=([0.01, 0.01, 0.02, 0.2], 300))
    (found,) = [each for each in decisions(tables, np.arange(4.0)[:, None], ["x"], (0.05, None, 1000.0), 0.95)
                if each.by == BY_WORTH]  # fmt: skip
    assert found.best_now == "cheap"
    assert found.perfect_information.estimate == pytest.approx((110 + 120 + 400 + 500 - 1130 + 80) / 4)
    assert found.regret["dear"].estimate == pytest.approx(20 + (1440 - 1130) / 4)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"budget": float("nan")}, "budget: found nan; allowed: an amount of money"),
        ({"worth": -1.0}, "worth: found -1.0; allowed"),
    ],
)
def test_money_that_is_none_is_refused(given, said):
    """What is read as a number and is none, and what is owed, in place of an answer made of it."""
    with pytest.raises(O2simError, match=said):
        asked(method="nested", samples=8, replications=2, **given)


def test_a_budget_leaves_out_who_costs_more():
    """Of three, two can be paid; of two, one alone is no choice; one strategy is none either."""
    tables = fixed(a=([0.1, 0.2], 10), b=([0.2, 0.1], 20), c=([0.0, 0.0], 90))
    values = np.arange(2.0)[:, None]
    found = decisions(tables, values, ["x"], (0.05, 50.0, None), 0.95)
    assert found[0].left_out == ("c",)
    assert set(found[0].best_in) == {"a", "b"}
    assert [each.by for each in decisions(tables, values, ["x"], (0.05, 15.0, None), 0.95)] == [BY_COST]
    assert decisions({"a": tables["a"]}, values, ["x"], (0.05, None, None), 0.95) == []


def test_a_table_without_any_spread_has_none():
    """All alike: no variance of either kind, every draw at the mean."""
    parts = spread(np.ones((5, 3)))
    assert (parts.mean, parts.between, parts.within, parts.of_mean) == (1, 0, 0, 0)
    assert parts.values.tolist() == [1] * 5


@pytest.mark.parametrize(
    "method",
    ["one-at-a-time", *(pytest.param(each, marks=pytest.mark.slow) for each in ("nested", "morris", "sobol"))],
)
def test_workers_and_a_store_change_no_byte(method, tmp_path):
    """What a store holds gives the same JSON, and so do two processes (all methods run points in one way)."""
    if method in ("morris", "sobol"):
        pytest.importorskip("SALib")
    more = {"method": method, "replications": 3, "samples": 4, "strategies": ["mixed"]}
    told = [json.dumps(asked(**more).result)]
    if method == "one-at-a-time":
        told.append(json.dumps(asked(**more, run_options={"workers": 2}).result))
    with open_store(tmp_path / "d.o2store", "drivers") as store:
        told += [json.dumps(asked(**more, run_options={"store": store}).result) for _ in range(2)]
    assert len(set(told)) == 1


def cut_at(replications):
    """Return a progress that is interrupted once so many replications are done."""

    def progress(done, of):
        if done >= replications:
            raise KeyboardInterrupt

    return progress


@pytest.mark.parametrize("method", ["one-at-a-time", "nested"])
def test_what_is_stopped_is_told_and_goes_on_where_it_was(method, tmp_path):
    """Ctrl-C leaves the points done, marked as not complete; with the store the rest gives an unbroken run's."""
    more = {"method": method, "samples": 8, "replications": 4, "strategies": ["mixed"]}
    whole = asked(**more).result
    with open_store(tmp_path / "d.o2store", "drivers") as store:
        cut = asked(**more, run_options={"store": store}, progress=cut_at(27)).result
        assert not cut["complete"]
        assert asked(**more, run_options={"store": store}).result == whole
    if method == "nested":
        assert cut["draws"] < 8
    else:
        assert 0 < len(cut["strategies"]["mixed"]["bars"][CHANCE]) < 4
        assert bar(cut, "mixed", CHANCE, PATHS[0]) == bar(whole, "mixed", CHANCE, PATHS[0])


@pytest.mark.parametrize(("method", "at"), [("one-at-a-time", 2), ("nested", 13), ("sobol", 5), ("morris", 5)])
def test_what_is_stopped_too_early_tells_nothing(method, at):
    """Before a whole point, four draws or two whole blocks there is nothing to tell."""
    if method in ("morris", "sobol"):
        pytest.importorskip("SALib")
    with pytest.raises(KeyboardInterrupt):
        asked(method=method, samples=8, replications=4, strategies=["mixed"], progress=cut_at(at))


def test_indices_are_told_of_whole_trajectories_when_stopped():
    """Of four trajectories of five points two and a half are done: two are told."""
    pytest.importorskip("SALib")
    found = asked(method="morris", samples=4, replications=2, strategies=["mixed"], progress=cut_at(26)).result
    assert (found["points"], found["complete"]) == (10, False)


def test_without_salib_the_message_says_what_to_install(monkeypatch):
    """Before any work; one at a time and nested need nothing."""
    monkeypatch.setitem(sys.modules, "SALib", None)
    from o2sim.questions.drivers import screening

    monkeypatch.setattr(screening, "find_spec", lambda _: None)
    with pytest.raises(O2simError, match="pip install SALib"):
        asked(method="sobol")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"method": "guess"}, "allowed: one-at-a-time, nested, morris, sobol"),
        ({"law": "normal"}, "allowed: pert, triangular, uniform"),
        ({"strategies": ["mixd"]}, "known: cylinders only, concentrators only, mixed"),
        ({"samples": 1, "method": "nested"}, "from 2 to 100,000"),
        ({"samples": 3, "method": "nested"}, "at least 4"),
        (
            {"samples": 4, "replications": 1, "method": "nested"},
            "at least 2, to set chance apart",
        ),
        ({"text": SHORT}, "found no uncertain number in <text>"),
        ({"vary": "cylinders.fleet"}, "allowed: low, likely and high with commas between them, such as "),
        ({"vary": "cylinders.fleet = 3, 4"}, "found '3, 4'"),
        ({"vary": "cylinders.fleet = 3, , 4"}, "low, likely and high"),
        ({"vary": ["cylinders.fleet = 22, 24, 26"] * 2}, "found cylinders.fleet twice"),
        ({"vary": "= 3, 4, 5"}, "vary: found"),
        ({"vary": "cylinders.fleet = 30, 24, 26"}, "low <= likely <= high"),
    ],
)
def test_what_cannot_be_done_is_refused_with_what_can(more, said):
    """Each message says what was found and what is allowed."""
    with pytest.raises(O2simError, match=said.replace("(", r"\(")):
        asked(**more)


def test_fields_can_be_varied_beside_the_file():
    """A scenario without ranges takes them from vary; a bare name of a law's parameter is enough."""
    found = asked(SHORT, vary=["resupply.lead_time.mean = 1 day, 3 days, 9 days"], replications=4).result
    assert found["uncertain"] == [
        {"field": "resupply.lead_time.mean", "low": "1 day", "likely": "3 days", "high": "9 days",
         "places": ["resupply.lead_time.gamma.mean"]}
    ]  # fmt: skip


def test_the_long_table_and_the_page_of_a_notebook():
    """Every row has all columns; frame, page and chart; the public name is the function."""
    assert o2sim.drivers is drivers
    done = [asked(replications=3), asked(method="nested", samples=4, replications=3, worth=10.0)]
    if find_spec("SALib"):
        done += [asked(method=method, samples=2, replications=2) for method in ("morris", "sobol")]
    for each in done:
        rows = each.rows()
        assert {len(row) for row in rows} == {len(each.columns)}
        assert {row[0] for row in rows} == {each.result["method"]}
        assert {row[1] for row in rows} >= set(each.result["strategies"])
        assert list(each.to_frame().columns) == list(each.columns)
        assert len(each.to_frame()) == len(rows)
        assert "What drives the answer?" in each._repr_html_()
        assert each.chart().alt.startswith("What drives the answer?")
    with pytest.raises(O2simError, match="allowed: chance, hours, cost"):
        done[0].chart("days")


def test_the_demo_in_python(tmp_path):
    """A path is taken as well as a text."""
    file = tmp_path / "ward.yaml"
    file.write_text(UNSURE)
    assert drivers(file, replications=2, strategies=["mixed"]).result["strategies"].keys() == {"mixed"}


def test_a_time_that_hands_take_may_be_a_driver():
    """A range for the median of a law, and one for a plain time by night, are drivers like others."""
    time = "{low: 1 min, likely: 5 min, high: 40 min}"
    text = UNSURE.replace(
        "response_time: 0 min",
        f"response_time: {{lognormal: {{median: {time}, geometric_sd: 2}}}}\nnight: {{response_time: {time}}}",
    )
    found = asked(text).result
    asked_for = {"response_time.lognormal.median", "night.response_time"}
    assert asked_for <= {each["field"] for each in found["uncertain"]}
