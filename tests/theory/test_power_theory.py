"""Power cuts against alternating renewal theory; times in hours."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import availability, down_time_within, empty_share, mean_down, some_cut_over
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


def battery(top: str, charge: str, efficiency: str = "100 %") -> str:
    """Return one unit of 100 W, always in use, on a battery of 8 h without losses behind the grid."""
    text = grid(top, 120, 3, ALWAYS_SOMEBODY).replace("outlets: 100}", "outlets: 100, power: 100 W}")
    text = text.replace("count: 3", "count: 1")
    whole = f"usable: 0.8 kWh, charge: {charge}, charge_efficiency: {efficiency}, inverter_efficiency: 100 %"
    return text.replace("power:\n", f"power:\n  battery: {{{whole}}}\n")


@sizes
@pytest.mark.parametrize(("days", "count"), [(365, 60), (90, 400)])
def test_battery_with_instant_recharge_against_renewal_theory(days: int, count: int, size: int) -> None:
    """An 8 h battery charged at once leaves somebody without when a cut reaches 8 h, as if 8 h were tolerated."""
    some = some_cut_over(8, 24 * days, 120, 3)
    if days == 365:
        assert some == pytest.approx(0.993091, abs=5e-7)
    text = battery(head(f"{days} days", "0 days"), "10 MW")
    hit = replicate(text, count * size, lambda outcome: outcome.interruptions[Cause.NO_POWER] > 0)
    assert abs(z_share(hit, some)) < 4


@sizes
@pytest.mark.parametrize(("charge", "efficiency"), [("50 W", "100 %"), ("100 W", "50 %")])
def test_battery_with_slow_recharge_against_the_markov_fluid(charge: str, efficiency: str, size: int) -> None:
    """An 8 h battery charged at half the rate at which it empties: a Markov on/off fluid (Anick et al. 1982).

    Content X falls at 1 in a cut, rises at 1/2 with the grid, between 0 and 8 h. Stationary, with a = 1/120 and
    b = 1/3 the rates down and up, it is an exponential of exponent k = b - 2 a between atoms: empty in a cut,
    full with the grid. The atom in a cut is the share of time without power.
    """
    text = battery(head(), charge, efficiency)
    expected = empty_share(8, 1 / 120, 1 / 3, 0.5)
    assert expected == pytest.approx(0.00184695, abs=5e-9)
    samples = replicate(
        text,
        120 * size,
        lambda outcome: (outcome.without_power_s / outcome.horizon_s, outcome.unserved_s[Cause.NO_POWER]),
    )
    assert np.abs(z(samples / (1, 20 * 365 * 86_400), (expected, expected))).max() < 4


@sizes
def test_battery_of_zero_leaves_the_cuts_as_they_are(size: int) -> None:
    """Availability again: with an empty battery behind it the grid's share of time is all there is."""
    text = battery(head("365 days", "60 days"), "10 MW").replace("0.8 kWh", "0 kWh")
    samples = replicate(text, 60 * size, lambda outcome: outcome.without_power_s / outcome.horizon_s)
    assert abs(z(samples, 3 / 123)) < 4


@sizes
def test_generator_delay_against_the_mean_of_a_shortened_cut(size: int) -> None:
    """A generator that starts d after the grid is lost leaves E min(cut, d) = mean (1 - exp(-d / mean)) a cut."""
    text = grid(head(), 120, 3).replace("power:\n", "power:\n  generator: {start_delay: 30 min}\n")
    dark = 3 * (1 - np.exp(-0.5 / 3))
    hours = replicate(
        text, 100 * size, lambda outcome: outcome.without_power_s / HOUR_S - outcome.power_cuts * dark
    )
    assert abs(z(hours, 0)) < 4


@sizes
def test_unusable_voltage_against_two_renewal_processes(size: int) -> None:
    """Grid and voltage go up and down apart: the share of time with usable power is the product of theirs."""
    voltage = "{good: {exponential: {mean: 10 h}}, bad: {exponential: {mean: 2 h}}}"
    text = grid(head(), 20, 5).replace("power:\n", f"power:\n  voltage: {voltage}\n")
    share = replicate(text, 60 * size, lambda outcome: 1 - outcome.without_power_s / outcome.horizon_s)
    assert abs(z(share, 20 / 25 * 10 / 12)) < 4
    kept = text.replace("power:\n", "power:\n  stabiliser: true\n")
    share = replicate(kept, 60 * size, lambda outcome: 1 - outcome.without_power_s / outcome.horizon_s)
    assert abs(z(share, 20 / 25)) < 4
