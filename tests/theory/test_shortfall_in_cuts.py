"""Stock-outs by the supply clock against the lengths of power cuts, whatever the response time."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from build import HOUR, UNIT, UNIT_FIRST, cylinders, hospital, kind, units

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Grid, Hospital, Law, Recorded, Scenario, Shortfall

pytestmark = pytest.mark.theory
YEAR_S = YEAR_DAYS * DAY_S
MEDIAN_H, SPREAD, UP_H = 2.0, 2.5, 36.0  # a cut; the power between two
YEARS = 150
# Renewal theory (Cox, Renewal Theory, 1962, chapter 7, from memory): 1 / (mean up + mean down) cuts an hour.
CUTS_A_YEAR = YEAR_DAYS * 24 / (UP_H + MEDIAN_H * math.exp(math.log(SPREAD) ** 2 / 2))
LONGER = 1 - NormalDist().cdf(math.log(10 / 60 / MEDIAN_H) / math.log(SPREAD))  # share of cuts over 10 min
REGISTER = Recorded(False, 0, YEAR_DAYS, (0,), (1_000,), (YEAR_S,))  # of one patient


def years_of(sources: tuple[str, ...], response_s: int, recovery_s: int) -> np.ndarray:
    """Return (interruptions, stock-outs) of each year of one patient who is always there."""
    always = kind(admissions_per_day=0.0, recorded=REGISTER)
    grid = Grid(
        Law("exponential", (UP_H * HOUR,)), Law("lognormal", (math.log(MEDIAN_H * HOUR), math.log(SPREAD)))
    )
    rules: Hospital = hospital(
        sources,
        patients=(always,),
        grid=grid,
        horizon_s=YEAR_S,
        tolerated_gap_s=600,
        response_time_s=response_s,
        concentrators=units(),
        cylinders=cylinders(fleet=4, full_gas=10**15) if "cylinder" in sources else None,
        shortfall=Shortfall(500, recovery_s, "supply clock"),
    )
    scenario = Scenario("one patient", "", "one.yaml", "0" * 16, {"s": rules})
    found = (simulate(scenario, "s", Draws(11, year)) for year in range(YEARS))
    return np.array([(sum(each.interruptions), each.stock_outs) for each in found])


@pytest.mark.parametrize("response_s", [0, 300, 600, 660, 1_800])
def test_stock_outs_of_one_patient_against_renewal_theory(response_s: int) -> None:
    """Each cut over ten minutes is one stock-out, for every response time."""
    found = years_of(UNIT, response_s, 0)[:, 1]
    assert abs(found.mean() - CUTS_A_YEAR * LONGER) < 4 * found.std(ddof=1) / math.sqrt(YEARS)
    assert pytest.approx(223.616, abs=0.001) == CUTS_A_YEAR * LONGER


def test_the_response_time_changes_no_stock_out_of_a_year() -> None:
    """The same years, to the last stock-out."""
    at_once = years_of(UNIT, 0, 0)[:, 1]
    assert (years_of(UNIT, 1_800, 0)[:, 1] == at_once).all()


def test_with_a_cylinder_at_hand_a_slow_response_is_no_stock_out() -> None:
    """Eleven minutes to connect a cylinder: as many interruptions as cuts over ten minutes, no stock-out."""
    interruptions, stock_outs = years_of(UNIT_FIRST, 660, 0).T
    assert abs(interruptions.mean() - CUTS_A_YEAR * LONGER) < 4 * interruptions.std(ddof=1) / math.sqrt(YEARS)
    assert stock_outs.sum() == 0
