"""Batches of replications: the same draws for every strategy, interrupts, the worst one, and bad names."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from o2sim.errors import O2simError
from o2sim.outcome import Cause, Outcome, supply_unserved_s
from o2sim.runs import study as study_module
from o2sim.runs.study import Study, rerun, run_study, worst_replication
from o2sim.scenario.types.hospital import (
    DAY_S,
    Concentrators,
    Grid,
    Hospital,
    Law,
    PatientClass,
    Scenario,
    Strategy,
)

HOSPITAL = Hospital(
    strategy=Strategy("two units", ("concentrator",)),
    start=dt.date(2027, 1, 1),
    horizon_s=20 * DAY_S,
    warm_up_s=DAY_S,
    tolerated_gap_s=600,
    response_time_s=300,
    patients=(
        PatientClass(
            name="adults",
            admissions_per_day=4.0,
            hypoxaemic=0.25,
            flow_ml_min=Law("constant", (2_000,)),
            duration_s=Law("exponential", (2.0 * DAY_S,)),
        ),
    ),
    concentrators=Concentrators(count=2, rated_flow_ml_min=5_000, outlets=1, power_w=350),
    grid=Grid(up_s=Law("exponential", (36 * 3_600,)), down_s=Law("exponential", (2 * 3_600,))),
)


def units(name, count):
    """Return the hospital with this many concentrators."""
    strategy = replace(HOSPITAL.strategy, name=name)
    return replace(HOSPITAL, strategy=strategy, concentrators=replace(HOSPITAL.concentrators, count=count))


SCENARIO = Scenario(
    name="Quiet Bay",
    about="",
    file="quiet-bay.yaml",
    hash="0123456789abcdef",
    hospitals={"two units": units("two units", 2), "three units": units("three units", 3)},
)


def unserved(**seconds):
    """Return seconds unserved as an Outcome's tuple, named by cause."""
    return tuple(seconds.get(cause.name.lower(), 0) for cause in Cause)


def test_run_study_gives_every_strategy_the_same_patients_and_cuts():
    """Common random numbers: patients, need and power cuts agree in every replication; supply differs."""
    found = run_study(SCENARIO, replications=4, seed=3)
    two, three = found.outcomes["two units"], found.outcomes["three units"]
    assert [o.replication for o in two] == [o.replication for o in three] == [0, 1, 2, 3]
    met = [(o.patients, o.need_s, o.needed_gas, o.power_cuts, o.power_out_s) for o in two]
    assert met == [(o.patients, o.need_s, o.needed_gas, o.power_cuts, o.power_out_s) for o in three]
    assert len(set(met)) == 4
    assert sum(o.served_concentrator_s for o in three) > sum(o.served_concentrator_s for o in two)
    assert (found.replications, found.requested, found.complete) == (4, 4, True)


def test_replication_k_alone_equals_replication_k_of_many():
    """A rerun depends on seed and number alone, whatever ran before it; its log is extra."""
    found = run_study(SCENARIO, replications=3, seed=8, keep_daily=True)
    alone = rerun(SCENARIO, "three units", seed=8, replication=2)
    assert len(alone.log) > 0
    assert replace(alone, log=()) == found.outcomes["three units"][2]
    assert (alone.daily == found.outcomes["three units"][2].daily).all()


def test_one_strategy_alone_equals_the_same_among_others():
    """Leaving a strategy out of a study changes nothing for the rest."""
    alone = run_study(SCENARIO, strategies=["three units"], replications=2)
    assert list(alone.outcomes) == ["three units"]
    assert alone.outcomes["three units"] == run_study(SCENARIO, replications=2).outcomes["three units"]


def test_run_study_keeps_the_order_of_the_file_and_each_strategy_once():
    """Names asked for twice or backwards come once, in the order of the file."""
    asked = ["three units", "two units", "three units"]
    assert list(run_study(SCENARIO, strategies=asked, replications=1).outcomes) == ["two units", "three units"]


def interrupt_after(calls):
    """Return a stand-in for simulate that is interrupted (Ctrl-C) after so many calls."""
    done = []

    def fake(scenario, strategy, draws, engine="reference", log=False):
        if len(done) == calls:
            raise KeyboardInterrupt
        done.append(strategy)
        return Outcome(replication=draws.replication, horizon_s=DAY_S)

    return fake


@pytest.mark.parametrize(("calls", "whole"), [(2, 1), (5, 2), (7, 3)])
def test_an_interrupted_study_keeps_whole_replications_only(monkeypatch, calls, whole):
    """Ctrl-C in mid-replication drops the half-done one, so that strategies stay paired."""
    monkeypatch.setattr(study_module, "simulate", interrupt_after(calls))
    told = []
    found = run_study(SCENARIO, replications=10, progress=told.append)
    assert told == list(range(1, whole + 1))
    assert [len(outcomes) for outcomes in found.outcomes.values()] == [whole, whole]
    assert (found.replications, found.requested, found.complete) == (whole, 10, False)


def test_an_interrupt_before_the_first_replication_passes_through(monkeypatch):
    """With nothing completed there is nothing to report."""
    monkeypatch.setattr(study_module, "simulate", interrupt_after(1))
    with pytest.raises(KeyboardInterrupt):
        run_study(SCENARIO, replications=10)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: run_study(SCENARIO, strategies=["tree units"]), "'tree units'; did you mean 'three units'?"),
        (lambda: run_study(SCENARIO, strategies=["xyz"]), "Known: two units, three units."),
        (lambda: rerun(SCENARIO, "to units", 1, 0), "did you mean 'two units'?"),
        (lambda: run_study(SCENARIO, replications=0), "at least 1 replication, not 0"),
        (lambda: run_study(SCENARIO, strategies=[]), "at least one strategy"),
        (lambda: rerun(SCENARIO, "two units", 1, -1), "there is no replication -1"),
    ],
)
def test_a_study_refuses_what_cannot_be_run(call, message):
    """Unknown strategies come with the nearest known name; nothing is run."""
    with pytest.raises(O2simError) as caught:
        call()
    assert message in str(caught.value)


def test_worst_replication_goes_by_supply_then_all_causes_then_number():
    """Slow staff count for less than an empty store, and the first of equals is taken."""

    def batch(*seconds):
        outcomes = [Outcome(k, DAY_S, unserved_s=unserved(**s)) for k, s in enumerate(seconds)]
        return Study(SCENARIO, 1, "reference", len(outcomes), {"two units": outcomes})

    handling, store = {"changeover": 900}, {"no_cylinder": 60}
    both = {"changeover": 5, "no_power": 40, "flow_too_high": 20}
    assert worst_replication(batch({}, handling, store, {}), "two units") == 2
    assert worst_replication(batch(store, {"no_power": 60, "no_regulator": 1}, store), "two units") == 1
    assert worst_replication(batch({}, both, store, both), "two units") == 1
    assert worst_replication(batch({}, {}), "two units") == 0
    assert supply_unserved_s(Outcome(0, DAY_S, unserved_s=unserved(**both))) == 60


def test_worst_replication_of_a_strategy_outside_the_study_is_an_error():
    """A strategy of the scenario that was not run has no worst replication."""
    found = Study(SCENARIO, 1, "reference", 1, {"two units": [Outcome(0, DAY_S)]})
    with pytest.raises(O2simError, match="no strategy is named 'three units'"):
        worst_replication(found, "three units")
