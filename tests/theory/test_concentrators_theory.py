"""Concentrators as servers: overflow, loss, shared flow, failures, against queueing and reliability theory."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import (
    erlang_b,
    first_passage,
    kaufman_roberts,
    lognormal,
    machine_repair,
    poisson_excess,
    waits_longer,
)
from running import daily, head, one_source, replicate, sizes, z, z_share
from scipy import stats

from o2sim.outcome import LENGTHS_S, Cause

pytestmark = pytest.mark.theory
LOGNORMAL = "{lognormal: {mean: 2 days, sd: 3 days}}"


def units(count: int, more: str = "", outlets: int = 1) -> str:
    """Return concentrators with 1 L/min an outlet, and the strategy that uses them alone."""
    rated = f"rated_flow: {outlets} L/min, outlets: {outlets}"
    return f"concentrators: {{count: {count}, {rated}{more}}}\n" + one_source("concentrator")


def patients(per_day: float, duration: str, if_unserved: str = "wait") -> str:
    """Return one class of patients who each need 1 L/min."""
    return (
        "patients:\n"
        f"  all: {{admissions: {per_day:g} / day, flow: 1 L/min, duration: {duration}, "
        f"if_unserved: {if_unserved}}}\n"
    )


@sizes
@pytest.mark.parametrize("duration", [LOGNORMAL, "2 days"])
@pytest.mark.parametrize(
    ("load", "count", "mean", "chance"), [(3, 5, 0.134621, 0.0839179), (12, 15, 0.401940, 0.155584)]
)
def test_overflow_against_the_poisson_law(load, count, mean, chance, duration, size) -> None:
    """Need runs by the clock, so those unserved at once are (N - c)+ with N Poisson (Mirasol 1963)."""
    expected = poisson_excess(load, count), stats.poisson.sf(count, load)
    assert expected == pytest.approx((mean, chance), abs=5e-7)

    def unserved(outcome):
        short = outcome.unserved_s[Cause.CONCENTRATORS_FULL]
        assert short == sum(outcome.unserved_s)
        at_once = daily(outcome, "unserved")
        return short / outcome.horizon_s, at_once.mean(), (at_once > 0).mean()

    text = head() + patients(load / 2, duration) + units(count)
    samples = replicate(text, 100 * size, unserved)
    assert np.abs(z(samples, (expected[0], *expected))).max() < 4


@sizes
@pytest.mark.parametrize("tolerated", [0.0, 0.5, 1.5])
def test_interruptions_against_the_infinite_server_queue(tolerated: float, size: int) -> None:
    """First come first served: unserved after t are those behind c earlier ones still present (Mirasol 1963)."""
    rate, count, stay = 1.5, 4, lognormal(2, 3)
    lengths = [max(tolerated, length / 86_400) for length in LENGTHS_S]
    yearly = [365 * rate * waits_longer(length, count, rate, stay) for length in (tolerated, *lengths)]
    text = head(tolerated_gap=f"{tolerated:g} days") + patients(rate, LOGNORMAL) + units(count)
    samples = replicate(text, 100 * size, lambda outcome: (outcome.stock_outs, *outcome.longer))
    assert np.abs(z(samples, yearly)).max() < 4


@sizes
@pytest.mark.parametrize(
    ("load", "count", "blocked", "outlets"),
    [(2, 5, 0.036697, 1), (3, 5, 0.110054, 1), (5, 10, 0.018385, 2), (10, 15, 0.036497, 1)],
)
def test_loss_against_erlang_b(load: int, count: int, blocked: float, outlets: int, size: int) -> None:
    """Patients transferred if not served on arrival: Erlang B, whatever the law of stay (Sevastyanov 1957)."""
    lost = erlang_b(count, load)
    assert lost == pytest.approx(blocked, abs=5e-7)
    text = head() + patients(load / 2, LOGNORMAL, "transfer") + units(count // outlets, outlets=outlets)
    samples = replicate(text, 100 * size, lambda outcome: (outcome.transferred, outcome.served_concentrator_s))
    per_year = load / 2 * 365, load * 365 * 86_400
    assert np.abs(z(samples / per_year, (lost, 1 - lost))).max() < 4


@sizes
def test_first_stock_out_against_the_birth_death_process(size: int) -> None:
    """From empty, the first patient unserved is a first passage of an absorbing birth-death process."""
    short = first_passage(9, 1.5, 2, 30)
    text = head("30 days", "0 days") + patients(1.5, "{exponential: {mean: 2 days}}") + units(9)
    assert 0.05 < short < 0.5
    assert abs(z_share(replicate(text, 2000 * size, lambda outcome: outcome.stock_outs > 0), short)) < 4


SHARED = """
patients:
  low: {admissions: 5 / day, flow: 2 L/min, duration: 1 day, if_unserved: transfer}
  middle:
    admissions: 10 / day
    hypoxaemic: 25 %
    flow: 5 L/min
    duration: {lognormal: {mean: 1 day, sd: 1 day}}
    if_unserved: transfer
  high:
    admissions: 0.4 / day
    hypoxaemic: 100 %
    flow: 10 L/min
    duration: {exponential: {mean: 2 days}}
    if_unserved: transfer
concentrators: {count: 1, rated_flow: 40 L/min, outlets: 40}
"""


@sizes
def test_shared_flow_against_kaufman_roberts(size: int) -> None:
    """Three classes share 40 L/min, blocked patients are lost (Kaufman 1981, Roberts 1981)."""
    expected = kaufman_roberts(40, (2, 5, 10), (5.0, 2.5, 0.8))
    assert expected == pytest.approx((0.0521448, 0.143195, 0.322847), abs=5e-7)

    def lost_by_class(outcome):
        kind = {entry.item: entry.other for entry in outcome.log if entry.step == "patient arrives"}
        lost = [
            kind[entry.item]
            for entry in outcome.log
            if entry.step == "patient transferred" and entry.time_s >= 60 * 86_400
        ]
        return np.bincount(lost, minlength=3)

    text = head() + SHARED + one_source("concentrator")
    samples = replicate(text, 80 * size, lost_by_class, log=True)
    assert np.abs(z(samples / (365 * np.array([5, 2.5, 0.4])), expected)).max() < 4


@sizes
def test_working_units_against_the_binomial_law(size: int) -> None:
    """Units with their own repair work independently: k of n is binomial (Barlow and Proschan 1965)."""
    law = stats.binom(12, 200 / 210)
    assert law.sf(9) == pytest.approx(0.982818, abs=5e-7)
    failing = (
        ", failure: {exponential: {mean: 200 h}}, failure_clock: calendar, repair: {exponential: {mean: 10 h}}"
    )
    # 32 patients at once for 12 units: every unit that works has one (but for 1 midnight in 90,000)
    text = head() + patients(1.6, "20 days") + units(12, failing)

    def working(outcome):
        on = daily(outcome, "on_concentrator")
        return (on >= 10).mean(), on.mean(), (on == 12).mean()

    samples = replicate(text, 30 * size, working)
    assert np.abs(z(samples, (law.sf(9), law.mean(), law.pmf(12)))).max() < 4


@sizes
def test_failures_on_the_running_clock_against_the_poisson_process(size: int) -> None:
    """With exponential lives failures come at one per mean life of running time, however it is broken up."""
    failing = (
        ", failure: {exponential: {mean: 100 h}}, failure_clock: running, repair: {exponential: {mean: 30 h}}"
    )
    grid = "power: {grid: {up: {exponential: {mean: 20 h}}, down: {exponential: {mean: 5 h}}}}\n"
    text = head() + patients(1.5, LOGNORMAL) + grid + units(5, failing)

    def excess(outcome):
        assert outcome.concentrator_failures > 50
        assert outcome.concentrator_running_s == outcome.served_concentrator_s  # one outlet: runs while it serves
        return outcome.concentrator_failures - outcome.concentrator_running_s / 360_000

    assert abs(z(replicate(text, 100 * size, excess), 0)) < 4


@sizes
def test_working_units_of_one_technician_against_machine_repair(size: int) -> None:
    """Twelve units and one technician: the machine repair model (Feller 1968, chapter XVII; from memory)."""
    working = machine_repair(12, 1, 10 / 200)
    assert sum(working[10:]) == pytest.approx(0.871952, abs=5e-7)
    failing = (
        ", failure: {exponential: {mean: 200 h}}, failure_clock: calendar, repair: {exponential: {mean: 10 h}}"
        ", crew: 1"
    )
    text = head() + patients(1.6, "20 days") + units(12, failing)

    def on_units(outcome):
        on = daily(outcome, "on_concentrator")
        return (on >= 10).mean(), on.mean()

    mean = sum(number * chance for number, chance in enumerate(working))
    assert np.abs(z(replicate(text, 40 * size, on_units), (sum(working[10:]), mean))).max() < 4


ALWAYS = "patients:\n  all: {admissions: 5 / day, flow: 1 L/min, duration: 4 days}\n"  # 20 at once


def large_unit(more: str) -> str:
    """Return one unit for everybody, and the strategy that uses it alone."""
    text = f"concentrators: {{count: 1, rated_flow: 200 L/min, outlets: 100, start_up: 0 min{more}}}\n"
    return ALWAYS + text + one_source("concentrator")


@sizes
def test_drift_between_services_against_its_law(size: int) -> None:
    """A unit always in use, serviced each s hours, is low for E(s - D)+ of them, D exponential of mean m."""
    m, s = 1_000.0, 800.0
    expected = 1 - m / s * (1 - np.exp(-s / m))
    more = f", drift: {{exponential: {{mean: {m} h}}}}, repair: 1 day, service_every: {s} h, service_time: 0 h"
    share = replicate(
        head() + large_unit(more), 120 * size, lambda o: o.low_concentration_s / o.served_concentrator_s
    )
    assert abs(z(share, expected)) < 4


@sizes
def test_an_oxygen_monitor_trades_low_concentration_for_repairs(size: int) -> None:
    """Alarmed at 82 %, a unit never serves low, and is out for r / (m + r) of the time (alternating renewal)."""
    more = ", drift: {exponential: {mean: 300 h}}, repair: {exponential: {mean: 20 h}}, oxygen_monitor: true"
    out = replicate(
        head() + large_unit(more),
        100 * size,
        lambda o: (o.low_concentration_s, o.unserved_s[Cause.CONCENTRATOR_DOWN] / (20 * o.horizon_s)),
    )
    assert out[:, 0].max() == 0
    assert abs(z(out[:, 1], 20 / 320)) < 4


@sizes
def test_units_never_repaired_against_a_thinned_poisson_process(size: int) -> None:
    """With repairs of a minute, a unit in 8 failures written off lives on past t with chance exp(-t/8m)."""
    more = (
        ", failure: {exponential: {mean: 1000 h}}, failure_clock: calendar, repair: 1 min, never_repaired: 12.5 %"
    )
    text = head("200 days", "0 days") + patients(0.01, "1 h") + units(10, more)
    lost = replicate(text, 150 * size, lambda outcome: outcome.concentrators_written_off / 10)
    assert abs(z(lost, 1 - np.exp(-200 * 24 / 8_000))) < 4


@sizes
@pytest.mark.parametrize(("stabiliser", "chance"), [("false", 0.02), ("true", 0.0)])
def test_damage_by_surges_against_the_binomial_law(stabiliser: str, chance: float, size: int) -> None:
    """Each unit in order fails with its chance as the grid comes back; behind a stabiliser none does."""
    grid = f"{{grid: {{up: {{exponential: {{mean: 20 h}}}}, down: 1 h}}, stabiliser: {stabiliser}}}"
    text = head() + patients(0.01, "1 h") + f"power: {grid}\n" + units(10, ", cut_damage: 2 %, repair: 1 min")
    failures = replicate(
        text, 60 * size, lambda outcome: outcome.concentrator_failures - 10 * chance * outcome.power_cuts
    )
    assert abs(z(failures, 0)) < 4 if chance else (failures == 0).all()
