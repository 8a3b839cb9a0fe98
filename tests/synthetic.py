"""A small invented hospital with three strategies, for tests that need a scenario but no file."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache
from math import log
from typing import Any

import numpy as np

from o2sim.outcome import DAILY_COLUMNS, Cause, Outcome
from o2sim.runs.study import Study, run_study
from o2sim.scenario.types.hospital import (
    DAY_S,
    Concentrators,
    Costs,
    Cylinders,
    Equipment,
    Grid,
    Hospital,
    Law,
    PatientClass,
    Resupply,
    RoadClosure,
    Scenario,
    Season,
    Strategy,
)

HOUR_S = 3_600
START = dt.date(2027, 1, 1)
CHILDREN = PatientClass(
    name="children",
    admissions_per_day=8.0,
    hypoxaemic=0.12,
    flow_ml_min=Law("triangular", (500.0, 1_000.0, 2_000.0)),
    duration_s=Law("lognormal", (log(55 * HOUR_S), log(2.0))),
    season=Season(peak=dt.date(2027, 5, 15), ratio=1.8),
)
ADULTS = PatientClass(
    name="adults",
    admissions_per_day=7.0,
    hypoxaemic=0.09,
    flow_ml_min=Law("triangular", (2_000.0, 4_000.0, 10_000.0)),
    duration_s=Law("lognormal", (log(60 * HOUR_S), log(2.2))),
    priority=2,
)
CYLINDERS = Cylinders(
    fleet=60,
    full_at_start=60,
    full_gas=6_800 * 60_000,
    residual_gas=340 * 60_000,
    lost_gas=170 * 60_000,
    regulators=20,
    leak_ml_min=100,
    gauge_check_s=2 * HOUR_S,
    change_time_s=600,
    filling_pressure_kpa=13_700.0,
    residual_pressure_kpa=800.0,
    flow_lost_below_kpa=400.0,
    fill_temperature_c=25.0,
    water_capacity_l=None,
)
RESUPPLY = Resupply(
    review_s=7 * DAY_S,
    reorder_point=36,
    order_up_to=55,
    lead_time_s=Law("gamma", (4.0, DAY_S)),
    vehicle_capacity=30,
    minimum_order=4,
    road_closures=(
        RoadClosure(dt.date(2027, 4, 1), dt.date(2027, 6, 30), 0.05, Law("gamma", (2.0, 3.5 * DAY_S))),
        RoadClosure(dt.date(2027, 10, 10), dt.date(2027, 10, 20)),
    ),
)
UNITS = Concentrators(
    count=5,
    rated_flow_ml_min=5_000,
    outlets=4,
    power_w=350.0,
    failure_s=Law("exponential", (4_000.0 * HOUR_S,)),
    repair_s=Law("lognormal", (log(30 * DAY_S), log(2.0))),
)
GRID = Grid(up_s=Law("exponential", (36.0 * HOUR_S,)), down_s=Law("lognormal", (log(2 * HOUR_S), log(2.5))))
COSTS = Costs(
    currency="USD",
    cylinder=Equipment(300.0, 20.0),
    cylinder_rent_per_year=10.0,
    refill=18.0,
    concentrator=Equipment(900.0, 7.0),
    trip=60.0,
    electricity_per_kwh=0.2,
)


def hospital(strategy: Strategy | None = None, **changes: Any) -> Hospital:
    """Return the hospital under one strategy (mixed by default), parts it does not use left out."""
    strategy = strategy or Strategy("mixed", ("concentrator", "cylinder"))
    whole = Hospital(
        strategy=strategy,
        start=START,
        horizon_s=365 * DAY_S,
        warm_up_s=28 * DAY_S,
        tolerated_gap_s=600,
        response_time_s=300,
        patients=(CHILDREN, ADULTS),
        cylinders=CYLINDERS if "cylinder" in strategy.sources else None,
        resupply=RESUPPLY if "cylinder" in strategy.sources else None,
        concentrators=UNITS if "concentrator" in strategy.sources else None,
        grid=GRID,
        costs=COSTS,
    )
    return replace(whole, **changes)


def scenario(**changes: Any) -> Scenario:
    """Return the scenario of the three usual strategies, changes applied to each hospital."""
    strategies = (
        Strategy("cylinders only", ("cylinder",)),
        Strategy("concentrators only", ("concentrator",)),
        Strategy("mixed", ("concentrator", "cylinder")),
    )
    hospitals = {item.name: hospital(item, **changes) for item in strategies}
    return Scenario("Misty Ridge", "an invented hospital", "misty.yaml", "0123456789abcdef", hospitals)


@lru_cache(maxsize=4)
def small_study(days: int = 56, replications: int = 6) -> Study:
    """Return a short study of the three strategies, run once for all tests of a process."""
    return run_study(scenario(horizon_s=days * DAY_S), replications=replications, keep_daily=True)


def outcome(replication: int, *, days: int = 365, **totals: Any) -> Outcome:
    """Return an outcome made by hand: 100 patients, 1,000 L needed and delivered unless changed."""
    told = {"patients": 100, "needed_gas": 1_000 * 60_000, "cylinder_gas": 1_000 * 60_000, **totals}
    daily = np.full((days, len(DAILY_COLUMNS)), 10 + replication, dtype=np.int32)
    return Outcome(replication=replication, horizon_s=days * DAY_S, daily=daily, **told)


def by_cause(**values: int) -> tuple[int, ...]:
    """Return a tuple by cause with these values, named as Cause's members in small letters."""
    return tuple(values.get(cause.name.lower(), 0) for cause in Cause)


def made_up_study(stock_outs: dict[str, int], replications: int = 200, days: int = 365, **changes: Any) -> Study:
    """Return a study in which each strategy has that many replications with one stock-out of 20 h, no cylinder.

    The strategies are named by the keys; each replication also has an hour of changeover that is no interruption.
    """
    hospitals = {
        name: hospital(Strategy(name, ("cylinder",)), horizon_s=days * DAY_S, **changes) for name in stock_outs
    }
    one = {
        "interruptions": by_cause(no_cylinder=1),
        "stock_outs_by_cause": by_cause(no_cylinder=1),
        "longer": (1, 1, 1, 0),
        "unserved_s": by_cause(no_cylinder=20 * HOUR_S, changeover=HOUR_S),
        "days_with_unserved": 1,
        "longest_gap_s": 20 * HOUR_S,
        "patients_affected": 1,
        "cylinders_delivered": 40,
    }
    none = {"unserved_s": by_cause(changeover=HOUR_S), "cylinders_delivered": 30}
    outcomes = {
        name: [outcome(k, days=days, **(one if k < count else none)) for k in range(replications)]
        for name, count in stock_outs.items()
    }
    told = Scenario("Misty Ridge", "an invented hospital", "misty.yaml", "0123456789abcdef", hospitals)
    return Study(told, 1, "reference", replications, outcomes)
