"""Power cuts against alternating renewal theory; times in hours."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import availability, down_time_within, mean_down, some_cut_over
from running import head, one_source, replicate, sizes, z, z_share

from o2sim.outcome import Cause

pytestmark = pytest.mark.theory
HOUR_S = 3_600
NOBODY = "{admissions: 0.01 / day, flow: 1 L/min, duration: 1 min}"
ALWAYS_SOMEBODY = "{admissions: 5 / day, flow: 1 L/min, duration: 4 days}"  # 20 at once


def grid(top: str, up_h: float, down_h: float, patients: str = NOBODY) -> str:
    """Return one ample concentrator on a grid with exponential up- and down-times."""
    return (
        top
        + f"""
patients:
  all: {patients}
concentrators: {{count: 3, rated_flow: 200 L/min, outlets: 100}}
power:
  grid:
    up: {{exponential: {{mean: {up_h} h}}}}
    down: {{exponential: {{mean: {down_h} h}}}}
"""
        + one_source("concentrator")
    )


@sizes
def test_grid_at_10_hours_against_alternating_renewal(size: int) -> None:
    """From an up start the grid is up at time t with a known chance (Barlow and Proschan 1965, chapter 3)."""
    up = availability(10, 200, 10)
    assert up == pytest.approx(0.969045, abs=5e-7)

    def is_up(outcome):
        steps = [entry.step for entry in outcome.log if entry.time_s <= 10 * HOUR_S]
        return steps.count("power lost") == steps.count("power restored")

    samples = replicate(grid(head("1 day", "0 days"), 200, 10), 6000 * size, is_up, log=True)
    assert abs(z_share(samples, up)) < 4


@sizes
def test_grid_in_the_long_run_against_alternating_renewal(size: int) -> None:
    """The long-run share of time up is up / (up + down) (Barlow and Proschan 1965, chapter 3)."""
    up = 200 / 210
    assert up == pytest.approx(0.952381, abs=5e-7)
    text = grid(head("365 days", "60 days"), 200, 10)
    samples = replicate(text, 300 * size, lambda outcome: (outcome.power_out_s, outcome.power_cuts * HOUR_S))
    assert np.abs(z(samples / (8760 * HOUR_S), (1 - up, 1 / 210))).max() < 4


@sizes
def test_total_cut_time_against_takacs(size: int) -> None:
    """Total power-cut time in 720 h from an up start (Takacs 1957)."""
    within = [down_time_within(limit, 720, 120, 3) for limit in (12, 24)]
    mean = mean_down(720, 120, 3)
    assert [*within, mean] == pytest.approx([0.328634, 0.767672, 17.48959], abs=5e-6)
    text = grid(head("720 h", "0 days"), 120, 3)
    hours = replicate(text, 4000 * size, lambda outcome: outcome.power_out_s / HOUR_S)
    assert abs(z_share(hours <= 12, within[0])) < 4
    assert abs(z_share(hours <= 24, within[1])) < 4
    assert abs(z(hours, mean)) < 4


@sizes
@pytest.mark.parametrize(("days", "count"), [(365, 60), (90, 400)])
def test_long_cut_against_renewal_theory(days: int, count: int, size: int) -> None:
    """Some cut reaches the 8 h that are tolerated: first passage of an alternating renewal process (Cox 1962)."""
    some = some_cut_over(8, 24 * days, 120, 3)
    if days == 365:
        assert some == pytest.approx(0.993091, abs=5e-7)
    text = grid(head(f"{days} days", "0 days", tolerated_gap="8 h"), 120, 3, ALWAYS_SOMEBODY)

    def hit(outcome):
        assert sum(outcome.interruptions) == outcome.interruptions[Cause.NO_POWER]
        return outcome.stock_outs > 0

    assert abs(z_share(replicate(text, count * size, hit), some)) < 4


@sizes
def test_unserved_for_want_of_power_against_availability(size: int) -> None:
    """Patients and grid are independent: mean unserved at once is mean present x share of time down."""
    text = grid(head(), 120, 3, ALWAYS_SOMEBODY)
    samples = replicate(text, 80 * size, lambda outcome: outcome.unserved_s[Cause.NO_POWER] / outcome.horizon_s)
    assert abs(z(samples, 20 * 3 / 123)) < 4
