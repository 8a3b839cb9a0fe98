"""Times that hands take as laws: response against competing times, one nurse against a single server."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from build import HOUR, MINUTE, UNIT, UNIT_FIRST, constant, cylinders, hospital, kind, units
from running import z, z_share

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types.hospital import (
    DAY_S,
    YEAR_DAYS,
    Grid,
    Hospital,
    Law,
    Recorded,
    Scenario,
    Shortfall,
    Staff,
)

pytestmark = pytest.mark.theory
YEAR_S = YEAR_DAYS * DAY_S
TOLERATED_S = 10 * MINUTE
MEDIAN_MIN, SPREAD = 5, 2.0
RESPONSE = Law("lognormal", (math.log(MEDIAN_MIN * MINUTE), math.log(SPREAD)))
SLOW = 1 - NormalDist().cdf(math.log(TOLERATED_S / MINUTE / MEDIAN_MIN) / math.log(SPREAD))  # over 10 min
ALWAYS = kind(recorded=Recorded(False, 0, YEAR_DAYS, (0,), (1_000,), (YEAR_S,)))  # one patient, all the year


def cuts(up: Law, down: Law, response: Any) -> Hospital:
    """Return a year of one patient on a unit, a cylinder at hand that never runs out, and power cuts."""
    return hospital(
        UNIT_FIRST,
        patients=(ALWAYS,),
        grid=Grid(up, down),
        horizon_s=YEAR_S,
        tolerated_gap_s=TOLERATED_S,
        response_time_s=response,
        concentrators=units(),
        cylinders=cylinders(full_gas=10**15),
        shortfall=Shortfall(500, 0, "supply clock"),
    )


def outcomes(rules: Hospital, count: int, seed: int, log: bool = False) -> list[Outcome]:
    """Return so many replications of a hospital."""
    scenario = Scenario("times", "", "times.yaml", "0" * 16, {"s": rules})
    return [simulate(scenario, "s", Draws(seed, place), "kernel", log) for place in range(count)]


def gaps_min(rules: Hospital, years: int) -> np.ndarray:
    """Return the lengths of all gaps of some years."""
    found = [entry.value for year in outcomes(rules, years, 3, log=True) for entry in year.log if _ends(entry)]
    return np.array(found) / MINUTE


def _ends(entry: Any) -> bool:
    return entry.step == "gap ends"


def test_a_gap_is_the_lesser_of_response_and_cut() -> None:
    """Both exponential: the gap is so with mean rd / (r + d) (the lesser of two, any textbook of probability)."""
    response, cut = 10.0, 120.0
    mean, over = response * cut / (response + cut), math.exp(-10 * (1 / response + 1 / cut))
    assert (mean, over) == (pytest.approx(9.230769, abs=5e-7), pytest.approx(0.338465, abs=5e-7))
    up, down = Law("exponential", (6.0 * HOUR,)), Law("exponential", (cut * MINUTE,))
    found = gaps_min(cuts(up, down, Law("exponential", (response * MINUTE,))), 20)
    assert len(found) > 20_000
    assert abs(z(found, mean)) < 4
    assert abs(z_share((found > 10).astype(float), over)) < 4


def test_a_constant_response_of_ten_minutes_never_exceeds_ten_minutes() -> None:
    """The same mean as a constant: no gap over ten minutes, where the law has one in three."""
    up, down = Law("exponential", (6.0 * HOUR,)), Law("exponential", (2.0 * HOUR,))
    found = gaps_min(cuts(up, down, 10 * MINUTE), 2)
    assert (len(found) > 2_000, (found > 10).sum()) == (True, 0)


def test_one_loss_in_six_is_answered_late() -> None:
    """Cuts of 12 hours: of all losses the share with a response over 10 min is the tail of the lognormal law."""
    assert pytest.approx(0.158655, abs=5e-7) == SLOW
    rules = cuts(Law("exponential", (24.0 * HOUR,)), constant(12 * HOUR), RESPONSE)
    found = gaps_min(rules, 40)
    assert len(found) > 9_000
    assert abs(z_share((found > 10).astype(float), SLOW)) < 4


def test_interruptions_by_handling_of_a_year_of_cuts() -> None:
    """Cuts a year (Cox, Renewal Theory, 1962, chapter 7, from memory), by both tails; none is a stock-out."""
    median_h, spread = 2.0, 2.5
    longer = 1 - NormalDist().cdf(math.log(10 / 60 / median_h) / math.log(spread))
    expected = YEAR_DAYS * 24 / (36 + median_h * math.exp(math.log(spread) ** 2 / 2)) * longer * SLOW
    assert expected == pytest.approx(35.477829, abs=5e-7)
    down = Law("lognormal", (math.log(median_h * HOUR), math.log(spread)))
    found = outcomes(cuts(Law("exponential", (36.0 * HOUR,)), down, RESPONSE), 150, 4)
    assert sum(year.stock_outs for year in found) == 0
    assert abs(z(np.array([sum(year.interruptions) for year in found]), expected)) < 4


JOB = Law("lognormal", (math.log(8 * MINUTE), math.log(1.8)))
A_DAY, DAYS = 48.0, 60
MEAN_S, SQUARE_S = (math.exp(JOB.parameters[0] * n + (JOB.parameters[1] * n) ** 2 / 2) for n in (1, 2))


def wait_min(mean_s: float, square_s: float) -> float:
    """Return the mean wait for one server: Pollaczek-Khinchine (any textbook of queueing)."""
    rate = A_DAY / DAY_S
    return rate * square_s / (2 * (1 - rate * mean_s)) / MINUTE


@pytest.mark.parametrize(
    ("connect", "expected"),
    [(JOB, wait_min(MEAN_S, SQUARE_S)), (round(MEAN_S), wait_min(round(MEAN_S), round(MEAN_S) ** 2))],
    ids=["law", "constant"],
)
def test_the_wait_for_one_nurse(connect: Any, expected: float) -> None:
    """Poisson arrivals, 2 an hour, connected one after the other by one nurse; the law waits longer."""
    rules = hospital(
        UNIT,
        patients=(kind(admissions_per_day=A_DAY, duration_s=constant(12 * HOUR)),),
        concentrators=units(40),
        staff=Staff(1, 1, connect),
        warm_up_s=DAY_S,
        horizon_s=DAYS * DAY_S,
    )
    waited_s = np.array([each.unserved_s[Cause.WAITING_FOR_STAFF] for each in outcomes(rules, 60, 5)])
    assert abs(z(waited_s / MINUTE / (A_DAY * DAYS), expected)) < 4


def test_the_figures_of_the_wait() -> None:
    """A mean job of 9.509 min: 3.1165 min with the law, 2.2061 min with its mean as a constant."""
    found = MEAN_S / MINUTE, wait_min(MEAN_S, SQUARE_S), wait_min(MEAN_S, MEAN_S**2)
    assert found == pytest.approx((9.508519, 3.116508, 2.206086), abs=5e-7)


def test_a_night_twice_as_slow_as_the_day() -> None:
    """Day and night are twelve hours each: a loss meets either response as often, so the mean is between."""
    rules = cuts(Law("exponential", (6.0 * HOUR,)), constant(2 * HOUR), 4 * MINUTE)
    rules = replace(rules, night=replace(rules.night, response_time_s=8 * MINUTE))
    found = gaps_min(rules, 10)
    assert set(found) == {4.0, 8.0}
    assert abs(z_share((found == 8).astype(float), 0.5)) < 4
