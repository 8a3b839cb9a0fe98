"""Outlets of a manifold as servers, and the gas that its banks turn over, against theory."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import erlang_b
from running import head, one_source, replicate, sizes, z

pytestmark = pytest.mark.theory


def piped(load: float, outlets: int, leak: str = "0 L/min") -> str:
    """Return patients of 1 L/min with a lognormal stay of 2 days, on outlets with gas without end behind them."""
    return (
        "patients:\n"
        f"  all: {{admissions: {load / 2:g} / day, flow: 1 L/min, if_unserved: transfer,\n"
        "    duration: {lognormal: {mean: 2 days, sd: 3 days}}}\n"
        "cylinders: {content: 6000 L, residual_pressure: 0 kPa, flow_lost_below: 0 kPa, leak: 0 L/min, "
        "fleet: 4000}\n"
        f"manifold: {{bank: 5, outlets: {outlets}, leak: {leak}, changeover_pressure: 1 kPa}}\n"
    ) + one_source("manifold")


@sizes
@pytest.mark.parametrize(("load", "outlets", "blocked"), [(2, 5, 0.036697), (10, 15, 0.036497)])
def test_full_outlets_against_erlang_b(load: int, outlets: int, blocked: float, size: int) -> None:
    """Patients transferred if no outlet is free: Erlang B, whatever the law of stay (Sevastyanov 1957)."""
    lost = erlang_b(outlets, load)
    assert lost == pytest.approx(blocked, abs=5e-7)
    text = head() + piped(load, outlets)
    samples = replicate(text, 60 * size, lambda outcome: (outcome.transferred, outcome.served_outlet_s))
    per_year = load / 2 * 365, load * 365 * 86_400
    assert np.abs(z(samples / per_year, (lost, 1 - lost))).max() < 4


@sizes
def test_banks_changed_against_the_flow_that_goes(size: int) -> None:
    """In the long run a bank is changed each time the patients and the leak have drawn what it can give."""
    load, outlets, leak_l_min = 4, 12, 0.5
    carried = load * (1 - erlang_b(outlets, load))
    yearly = (carried + leak_l_min) * 60 * 24 * 365 / (5 * 6_000)
    text = head() + piped(load, outlets, f"{leak_l_min} L/min")
    changes = replicate(text, 40 * size, lambda outcome: outcome.bank_changes)
    assert abs(z(changes, yearly)) < 4
