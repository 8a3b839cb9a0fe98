"""A study of many facilities: its figures are those of `compare`, whatever the order, and it can be resumed."""

from __future__ import annotations

import json
import tracemalloc

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from synthetic import outcome
from test_cli import SCENARIO as TEXT
from test_executors import AnyOrder
from test_run_store import nothing_runs

import o2sim
from o2sim.errors import ScenarioError
from o2sim.measures.measures import summarise
from o2sim.outcome import Cause
from o2sim.questions.facilities.facility_study import Plan, run_facilities, study_result
from o2sim.questions.facilities.tally import Moments, Tally
from o2sim.runs import study as study_module
from o2sim.runs.executors import Given, InPlace, Processes
from o2sim.runs.store_file import open_store
from o2sim.runs.study import run_study
from o2sim.scenario.changing.facilities import Facility
from o2sim.scenario.types.hospital import DAY_S
from o2sim.statistics.intervals import t_interval
from o2sim.typed import as_json


def facility(name, admissions="1 / day", text=TEXT):
    """Return a facility that differs from the base by its name and admissions."""
    changed = text.replace("Reed Bank health centre", name).replace("1 / day", admissions)
    return Facility(f"{name}.yaml", o2sim.loads(changed, f"{name}.yaml"))


FOUR = [facility("A"), facility("B", "2 / day"), facility("C", "0.5 / day"), facility("D")]
PLAN = Plan(FOUR, replications=5, seed=3, engine="reference", strategies=("mixed", "cylinders only"))


def printed(crew=None, **more):
    """Return what a run of the plan prints."""
    return json.dumps(as_json(list(run_facilities(PLAN, crew or Processes(1), **more))))


ALONE = printed()


def test_figures_are_those_of_compare():
    """Chances are the same, means and bounds to rounding, as those of a study of that facility alone."""
    for found, item in zip(json.loads(ALONE), FOUR, strict=True):
        study = run_study(item.scenario, replications=5, seed=3, strategies=PLAN.strategies)
        told = summarise(study)["strategies"]
        assert list(found["strategies"]) == ["cylinders only", "mixed"]
        for name, figures in found["strategies"].items():
            for measure in ("stock_out_probability", "interruption_probability"):
                mine = {key: told[name][measure][key] for key in ("estimate", "low", "high")}
                assert {key: figures[measure][key] for key in mine} == mine
            for measure in ("unserved_patient_hours", "annual_cost", "stock_outs_per_year"):
                mine = [told[name][measure][key] for key in ("mean", "low", "high")]
                assert [figures[measure][key] for key in ("mean", "low", "high")] == pytest.approx(mine)


@settings(max_examples=4, deadline=None)
@given(window=st.integers(1, 9), order=st.integers(0, 99))
def test_figures_do_not_depend_on_the_order_of_the_work(window, order):
    """Pieces that come back in any order give the same figures to the last digit, facilities in their order."""
    hands = AnyOrder(order)
    found = printed(Given(hands, window))
    hands.submit(None)
    assert found == ALONE


@given(st.lists(st.floats(-1e9, 1e9), min_size=2, max_size=12), st.integers(0, 11), st.randoms())
def test_moments_against_student(values, cut, random):
    """Sums put together in any order give the mean and interval of t_interval (Student 1908), exactly alike."""
    one, other, shuffled = Moments(), Moments(), Moments()
    for place, value in enumerate(values):
        (one if place < cut else other).add(value)
    one.merge(other)
    for value in random.sample(values, len(values)):
        shuffled.add(value)
    found = one.interval(len(values), 1.0, 0.95, least=None)
    assert found == shuffled.interval(len(values), 1.0, 0.95, least=None)
    expected = t_interval(values)
    scale = max(map(abs, values))
    assert found.mean == pytest.approx(expected.estimate, abs=1e-9 * scale)
    if found.low is not None and expected.low == expected.low:
        assert [found.low, found.high] == pytest.approx([expected.low, expected.high], abs=1e-6 * scale)


def test_one_replication_or_none_that_differ_have_no_interval():
    """As in compare: no spread seen is no certainty; hours are never below nought."""
    tally = Tally()
    tally.add(outcome(0, unserved_s=(3_600,) + (0,) * (len(Cause) - 1)), 7.0)
    found = as_json(tally.figures(365 * DAY_S, True, 0.95))
    assert found["unserved_patient_hours"] == {"mean": 1.0, "low": None, "high": None}
    tally.add(outcome(1, unserved_s=(7_200,) + (0,) * (len(Cause) - 1)), 7.0)
    found = as_json(tally.figures(73 * DAY_S, False, 0.95))
    assert found["unserved_patient_hours"]["mean"] == 7.5
    assert (found["unserved_patient_hours"]["low"], found["annual_cost"]) == (0.0, None)


def test_a_study_goes_on_from_its_store(tmp_path, monkeypatch):
    """Stopped after two facilities it goes on with the others, and ends as one never stopped."""
    path = tmp_path / "province.o2store"
    with open_store(path, "study") as store:
        figures = run_facilities(PLAN, Processes(1), store)
        first = [next(figures), next(figures)]
        figures.close()
    assert json.dumps(as_json(first)) == json.dumps(json.loads(ALONE)[:2])
    told = []
    with open_store(path, "study") as store:
        assert printed(store=store, progress=told.append) == ALONE
    assert told[0] == 5
    assert told[-1] == PLAN.total
    nothing_runs(monkeypatch)
    with open_store(path, "study") as store:
        assert printed(store=store) == ALONE
        assert [b.scenarios for b in store.batches()][::2] == [("A", "D"), ("B",), ("C",)]  # A and D are alike


def test_a_facility_without_the_strategy_asked_for():
    """All that lack it are told, with what they have; nothing is run."""
    plan = Plan(FOUR, 5, 3, "reference", ("mixt",))
    with pytest.raises(ScenarioError, match="4 problems") as caught:
        list(run_facilities(plan, Given(InPlace(), 1)))
    assert "A.yaml: strategies: found no strategy named 'mixt'; allowed: cylinders only" in str(caught.value)
    assert "did you mean mixed?" in str(caught.value)


def test_provenance_tells_the_facilities_apart():
    """The hash over all facilities changes with any of them; how many were finished is told."""
    told = study_result(PLAN, [None] * 3)
    assert (told["facilities_finished"], told["facilities_requested"], told["complete"]) == (3, 4, False)
    other = study_result(Plan(FOUR[:3], 5, 3, "reference"), [None] * 3)
    assert told["facilities_hash"] != other["facilities_hash"]
    assert other["complete"] is True


def test_memory_does_not_grow_with_replications(monkeypatch):
    """Ten times the replications take no more memory: outcomes are dropped as they are counted."""

    def quick(scenario, strategy, draws, engine):
        return outcome(draws.replication)

    monkeypatch.setattr(study_module, "simulate", quick)

    def peak(replications):
        plan = Plan(FOUR[:1], replications, 3, "reference", ("mixed",))
        tracemalloc.start()
        list(run_facilities(plan, Given(InPlace(), 1)))
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    peak(2_500)  # Python keeps up to 2,000 freed tuples of a size for the next: a first run fills these
    assert peak(2_000) < 2 * peak(200)
