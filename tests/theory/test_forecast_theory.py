"""Forecasts from counts of simulated mornings are right on average: what is met sharpens chances and shifts none.

By the tower property the mean of the chances, given what is met, is the chance itself: Kolmogorov, Foundations of
the Theory of Probability, 1933, from memory. And what was forecast with a chance of 30 % comes true in 30 of 100:
Gneiting, Balabdaoui & Raftery, "Probabilistic forecasts, calibration and sharpness", 2007, from memory.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from build import DAY, HOUR, UNIT_FIRST, cylinders, hospital, kind, units
from counts import counted
from mornings import Morning, mornings
from running import sizes, z

from o2sim import load
from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import DAILY_COLUMNS
from o2sim.scenario.types.hospital import FlowStep, Grid, Hospital, Law, Resupply, Scenario

Floats = npt.NDArray[np.float64]
pytestmark = pytest.mark.theory
FULL, PATIENTS = DAILY_COLUMNS.index("full"), DAILY_COLUMNS.index("patients")
TWO_WEEKS, STATES, FUTURES = 14, 150, 30


def small(days: int) -> Hospital:
    """Return a hospital whose future hangs on all that a count holds, short of oxygen in many a fortnight."""
    stay = Law("lognormal", (float(np.log(60 * HOUR)), float(np.log(2.2))))
    classes = (
        kind("adults", admissions_per_day=0.8, duration_s=stay, flow_ml_min=Law("uniform", (500.0, 4_000.0)),
             flow_steps=(FlowStep(DAY, 0.6),)),
        kind("newborns", admissions_per_day=0.5, duration_s=stay, flow_ml_min=Law("constant", (500.0,))),
    )  # fmt: skip
    return hospital(
        UNIT_FIRST,
        horizon_s=days * DAY,
        tolerated_gap_s=600,
        response_time_s=300,
        patients=classes,
        cylinders=cylinders(
            fleet=20, full_gas=6_000 * 60_000, residual_gas=300 * 60_000, lost_gas=150 * 60_000, leak_ml_min=100,
            gauge_check_s=2 * HOUR, change_time_s=600,
        ),
        resupply=Resupply(7 * DAY, 9, 12, Law("gamma", (4.0, 1.0 * DAY))),
        concentrators=replace(
            units(1, outlets=3), failure_s=Law("exponential", (20.0 * DAY,)),
            repair_s=Law("gamma", (2.0, 4.0 * DAY)),
        ),
        grid=Grid(
            Law("lognormal", (float(np.log(20 * HOUR)), 1.0)), Law("lognormal", (float(np.log(3 * HOUR)), 0.9))
        ),
    )  # fmt: skip


def futures(rules: Hospital, morning: Morning, count: int, seed: int, days: int = TWO_WEEKS) -> Floats:
    """Return of so many runs (days to a stock-out, full cylinders and patients at midnight in a week)."""
    ahead = replace(counted(rules, morning.count), horizon_s=days * DAY)
    scenario = Scenario("ahead", "", "ahead.yaml", "0" * 16, {"s": ahead})
    found = []
    for number in range(count):
        outcome = simulate(scenario, "s", Draws(seed, number))
        first_s = outcome.first_stock_out_s
        week = outcome.daily[7 if len(outcome.daily) > 7 else -1]
        found.append((first_s / DAY if first_s >= 0 else np.inf, week[FULL], week[PATIENTS]))
    return np.array(found, dtype=np.float64)


@sizes
def test_forecasts_of_simulated_states_against_the_tower_property(size: int) -> None:
    """Stopped on day 14 and drawn anew: stock-outs of the fortnight, full cylinders and patients after a week."""
    apart = []
    for run in range(STATES * size):
        rules = small(2 * TWO_WEEKS + 2)
        (morning,) = mornings(rules, Draws(31, run), [TWO_WEEKS * DAY + 27_000], by_date=False)
        ahead = futures(rules, morning, FUTURES, 1_000 + run)
        week = morning.at_midnight(7)
        came = morning.first_stock_out_s() < TWO_WEEKS * DAY, week[FULL], week[PATIENTS]
        apart.append(np.array(came) - [np.isfinite(ahead[:, 0]).mean(), *ahead[:, 1:].mean(axis=0)])
    assert np.abs(z(np.array(apart), 0.0)).max() < 4


DISTRICT = Path(__file__).parents[2] / "scenarios" / "district_hospital.yaml"
EVERY_DAYS, RUNS, AHEAD, LUCK = 28, 25, 200, 5
BINS = (0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 1.01)


def district(strategy: str, fleet: int) -> Hospital:
    """Return the district hospital short of cylinders, without the road, whose state no count holds."""
    rules = load(DISTRICT).hospitals[strategy]
    assert rules.cylinders is not None
    assert rules.resupply is not None
    stock = replace(rules.cylinders, fleet=fleet, full_at_start=fleet)
    supply = replace(rules.resupply, reorder_point=fleet * 2 // 3, order_up_to=fleet, road_closures=())
    return replace(rules, cylinders=stock, resupply=supply)


def forecasts(rules: Hospital, count: int) -> tuple[Floats, Floats, Floats]:
    """Return of mornings every four weeks of so many years: chances of a stock-out, what came, and where among the
    full cylinders forecast those that were there lie (from 0 to 1, ties at random).

    Shapes (mornings, 2), (mornings, 2), (mornings,); within 7 and within 14 days.
    """
    chances, came, places = [], [], []
    random = np.random.default_rng(LUCK)
    last_s = rules.horizon_s - (TWO_WEEKS + 2) * DAY
    for run in range(count):
        seconds = range(rules.warm_up_s + 8 * HOUR, rules.warm_up_s + last_s, EVERY_DAYS * DAY)
        for place, morning in enumerate(mornings(rules, Draws(41, run), seconds, by_date=True)):
            ahead = futures(rules, morning, AHEAD, 10_000 * (run + 1) + place)
            out_days, actual = morning.first_stock_out_s() / DAY, morning.at_midnight(7)[FULL]
            chances.append([(ahead[:, 0] < days).mean() for days in (7, TWO_WEEKS)])
            came.append([out_days < days for days in (7, TWO_WEEKS)])
            full = ahead[:, 1]
            places.append((full < actual).mean() + random.random() * (full == actual).mean())
    return np.array(chances), np.array(came, dtype=np.float64), np.array(places)


@pytest.mark.slow
@pytest.mark.parametrize(("strategy", "fleet"), [("cylinders only", 16), ("mixed", 8)])
def test_forecasts_of_300_mornings_come_true_as_often_as_they_say(strategy: str, fleet: int) -> None:
    """Begun by date, gauges to their marks, no meters: chances by bins, intervals of the full cylinders."""
    chances, came, places = forecasts(district(strategy, fleet), RUNS)
    assert len(places) >= 300
    for day in range(2):
        chance, out = chances[:, day], came[:, day]
        bins = [(chance >= low) & (chance < high) for low, high in pairwise(BINS)]
        for inside in (np.ones(len(chance), dtype=bool), *bins):
            p, hits = chance[inside], out[inside]
            wide = ((p * (1 - p) * (1 + 1 / AHEAD)).sum() + 1 / AHEAD) ** 0.5
            print(
                f"{strategy} {7 * (day + 1)} days: {inside.sum()} forecasts {p.sum():.1f}, came {hits.sum():.0f}"
            )
            assert abs(hits.sum() - p.sum()) < 4 * wide
    for inner in (0.5, 0.9):
        inside = np.abs(places - 0.5) < inner / 2
        print(f"{strategy}: {inside.mean():.3f} within the interval of {inner}")
        assert abs(inside.sum() - len(places) * inner) < 4 * (len(places) * inner * (1 - inner)) ** 0.5
