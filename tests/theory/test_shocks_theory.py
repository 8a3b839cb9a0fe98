"""Common shocks against theory: what one storm does at once is far more often together than what is drawn apart.

Storms that begin as a Poisson process and last by any law are an M/G/infinity queue: at least one is on for
1 - exp(-rate x mean length) of the time (Takacs 1962, Introduction to the Theory of Queues, from memory).
"""

from __future__ import annotations

import datetime as dt
from collections import Counter

import numpy as np
import pytest
from build import DAY, constant, hospital, kind
from running import Floats, sizes, z

from o2sim.draws import Draws
from o2sim.draws.extra import _ABOVE
from o2sim.draws.shocks import onsets_of_year, spells_of, storms
from o2sim.scenario.types.hospital import YEAR_DAYS, Hospital, Law, Season, Shock, ShockPatients
from o2sim.scenario.types.spells import Spell

pytestmark = pytest.mark.theory
YEAR = YEAR_DAYS * DAY
FOUR_A_YEAR = 4 / YEAR_DAYS
WEEK, THREE_DAYS = Law("exponential", (7.0 * DAY,)), Law("exponential", (3.0 * DAY,))
APART = (
    Shock("closure", FOUR_A_YEAR, road_s=WEEK),
    Shock("cut", FOUR_A_YEAR, power_s=THREE_DAYS),
)


def shares(rules: Hospital, years: int) -> Floats:
    """Return the shares of each year in which the road was shut, the grid down, and both; shape (years, 3)."""
    found = []
    for year in range(years):
        drawn = storms((7, year), rules)
        road, power = spells_of(drawn, "road"), spells_of(drawn, "power")
        both = tuple((max(a, c), min(b, d)) for a, b in road for c, d in power if max(a, c) < min(b, d))
        found.append([seconds(spells) / YEAR for spells in (road, power, both)])
    return np.array(found)


def seconds(spells: tuple[Spell, ...]) -> int:
    """Return the seconds of spells within a year."""
    return sum(max(0, min(end, YEAR) - max(start, 0)) for start, end in spells)


@sizes
def test_road_and_power_of_one_storm_against_m_g_infinity(size: int) -> None:
    """Both at once by 1 - P(none) - ..., E max = a + b - ab / (a + b): 8.49 days a year in place of 0.87."""
    shock = Shock("storm", FOUR_A_YEAR, road_s=WEEK, power_s=THREE_DAYS)
    samples = shares(hospital(horizon_s=YEAR, shocks=(shock,)), 1_500 * size)
    assert np.abs(z(samples, (0.073844, 0.032342, 0.023252))).max() < 4
    assert abs(z(YEAR_DAYS * samples[:, 2], 8.487)) < 4


@sizes
def test_shocks_apart_against_the_product_of_their_shares(size: int) -> None:
    """Two shocks of their own names are independent: both at once 0.0024 of the time, a tenth of one storm's."""
    samples = shares(hospital(horizon_s=YEAR, shocks=APART), 1_500 * size)
    assert np.abs(z(samples, (0.073844, 0.032342, 0.002388))).max() < 4
    assert abs(z(YEAR_DAYS * samples[:, 2], 0.872)) < 4


@sizes
def test_one_severity_for_all_effects_against_m_g_infinity(size: int) -> None:
    """Lengths in step: the shorter effect never holds without the longer, so both hold as long as it does."""
    lengths = {"road_s": constant(7 * DAY), "power_s": constant(3 * DAY)}
    shock = Shock("storm", FOUR_A_YEAR, severity=Law("exponential", (1.0,)), **lengths)
    samples = shares(hospital(horizon_s=YEAR, shocks=(shock,)), 1_500 * size)
    assert (samples[:, 2] == samples[:, 1]).all()
    assert np.abs(z(samples, (0.073844, 0.032342, 0.032342))).max() < 4


@sizes
def test_onsets_against_poisson(size: int) -> None:
    """As many as the rate says, with the variance of a Poisson law, in the named months and evenly in them."""
    shock = Shock("storm", FOUR_A_YEAR, (4, 5, 6), road_s=WEEK)
    first, last = dt.date(2027, 4, 1).toordinal() * DAY, dt.date(2027, 7, 1).toordinal() * DAY
    years = [onsets_of_year((3, number), shock, 2027) for number in range(2_000 * size)]
    counts, every = np.array([len(each) for each in years]), np.concatenate(years)
    assert first <= every.min()
    assert every.max() < last
    assert abs(z(counts, 4.0, sd=2.0)) < 4
    assert abs(z((counts - 4.0) ** 2, 4.0)) < 4
    assert abs(z(every, (first + last) / 2)) < 4


def test_a_leap_year_has_a_day_more_of_storms_against_poisson() -> None:
    """The rate of a day of a named month is the same in all years: 29 days of February for 28."""
    shock = Shock("storm", FOUR_A_YEAR, (2,), road_s=WEEK)
    counts = np.array([len(onsets_of_year((5, number), shock, 2028)) for number in range(2_000)])
    assert abs(z(counts, 4 * 29 / 28, sd=np.sqrt(4 * 29 / 28))) < 4


@sizes
def test_patients_of_storms_against_poisson(size: int) -> None:
    """As many more come as rate x (multiplier - 1) x length says, within the run; of the class named only."""
    rule = ShockPatients(2.5, Law("exponential", (5.0 * DAY,)), 2 * DAY, ("children",))
    shock = Shock("storm", 12 / YEAR_DAYS, severity=Law("gamma", (4.0, 0.25)), patients=rule)
    classes = kind("adults", admissions_per_day=3.0), kind("children", admissions_per_day=6.0)
    rules = hospital(horizon_s=YEAR, patients=classes, shocks=(shock,))
    came = expected = 0.0
    for year in range(40 * size):
        draws = Draws(11, year)
        table, windows = draws.patients(rules), [each.patients for each in draws.storms(rules)]
        extra = [place for place, number in enumerate(table.ordinal) if number >= _ABOVE]
        assert {table.class_index[place] for place in extra} <= {1}
        assert all(any(a <= table.arrival_s[place] < b for a, b in windows) for place in extra)
        came += len(extra)
        expected += 6.0 * 1.5 * sum(max(0, min(end, YEAR) - max(start, 0)) for start, end in windows) / DAY
    assert abs(came - expected) / np.sqrt(expected) < 4


def test_patients_of_a_storm_follow_the_season_against_its_factor() -> None:
    """The rate that a storm multiplies is that of the day: with factors 2 and 0 all come in the first half."""
    season = Season(monthly=(2.0,) * 6 + (0.0,) * 6)
    rule = ShockPatients(3.0, constant(20 * DAY))
    shock = Shock("storm", 24 / YEAR_DAYS, patients=rule)
    one = kind("children", admissions_per_day=2.0, season=season)
    rules = hospital(horizon_s=YEAR, patients=(one,), shocks=(shock,))
    half, came, expected = 181 * DAY, Counter[bool](), 0.0
    for year in range(60):
        draws = Draws(13, year)
        table = draws.patients(rules)
        extra = [table.arrival_s[place] for place, number in enumerate(table.ordinal) if number >= _ABOVE]
        came.update(arrival_s < half for arrival_s in extra)
        windows = [each.patients for each in draws.storms(rules)]
        expected += 2 * 2 * 2.0 * sum(max(0, min(end, half) - max(start, 0)) for start, end in windows) / DAY
    assert came[False] == 0
    assert abs(came[True] - expected) / np.sqrt(expected) < 4
