"""A purse that pays for cylinders of two sizes, worked out by hand, in both engines."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from build import CYLINDER, DAY, HOUR, LITRE, MINUTE, cylinders, hospital, kind, resupply, steps

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import (
    Costs,
    Cylinders,
    CylinderSize,
    Funds,
    Hospital,
    Recorded,
    Scenario,
    SizeLevels,
    SizeUse,
    Supplier,
)

ENGINES = pytest.mark.parametrize("engine", ["reference", "kernel"])
STAY_S = 2 * HOUR + 25 * MINUTE


def outcome_of(rules: Hospital, engine: str) -> Outcome:
    """Return the outcome of a hospital, with its log."""
    return simulate(Scenario("t", "", "t.yaml", "0" * 16, {"s": rules}), "s", Draws(1, 0), engine, log=True)


def size(name: str, litres: int, refill: float | None, fleet: int, full: int) -> CylinderSize:
    """Return cylinders of a size, empty as they hold nothing."""
    return CylinderSize(
        name=name, full_gas=litres * LITRE, residual_gas=0, lost_gas=0, fleet=fleet, full_at_start=full,
        leak_ml_min=0, refill=refill, water_capacity_l=None, fill_temperature_c=15.0,
        filling_pressure_kpa=16_000.0, residual_pressure_kpa=0.0, flow_lost_below_kpa=0.0,
    )  # fmt: skip


def stock(*sizes: CylinderSize) -> Cylinders:
    """Return cylinders of sizes, the small ones for patients first."""
    fleet, full = sum(each.fleet for each in sizes), sum(each.full_at_start for each in sizes)
    return cylinders(fleet=fleet, full_at_start=full, sizes=sizes, use=SizeUse(bedside=("small", "large")))


SMALL, LARGE = size("small", 20, 6.0, fleet=3, full=3), size("large", 60, None, fleet=4, full=2)
COSTS = Costs("USD", refill=16.0, trip=20.0)


def drawn(funds: Funds, **changes: Any) -> Hospital:
    """Return a hospital whose patient draws 60 L from small and 85 L from large cylinders before the review.

    At midnight three small and three large empties stand at the door; 35 L are in a large one that is part-used.
    """
    one = kind(recorded=Recorded("replay", 0, 2, (0,), (1_000,), (STAY_S,)))
    levels = (SizeLevels(0, 3, "small"), SizeLevels(1, 4, "large"))
    rule = resupply(DAY, 1, 7, changes.pop("lead_s", 0), sizes=levels, **changes.pop("resupply", {}))
    return hospital(
        CYLINDER, horizon_s=2 * DAY, patients=(one,), cylinders=stock(SMALL, LARGE), resupply=rule, funds=funds,
        costs=COSTS, **changes,
    )  # fmt: skip


@ENGINES
@pytest.mark.parametrize("terms", ["prepaid", "on delivery", "credit"])
@pytest.mark.parametrize(
    ("money", "small", "large", "paid"), [(40, 3, 0, 38), (48, 2, 1, 48), (60, 3, 1, 54), (86, 3, 3, 86)]
)
def test_money_goes_to_the_size_with_the_fewest_days_of_cover(
    money: int, small: int, large: int, paid: int, terms: Any, engine: str
) -> None:
    """Small 0, 1/3, 2/3 of a day, then large 35/85, then small again, at 20 for the trip, 6 and 16 for each."""
    limit = 100 * money if terms == "credit" else None
    outcome = outcome_of(drawn(Funds(100 * money, supplier=Supplier(terms, limit))), engine)
    assert outcome.drawn_gas_by_size == (60 * LITRE, 85 * LITRE)
    assert outcome.delivered_by_size == (small, large)
    assert outcome.billed_cents == 100 * paid
    assert outcome.cylinders_not_ordered == 6 - small - large


@ENGINES
@pytest.mark.parametrize(("money", "days"), [(26, 0), (25, 1)])
def test_a_day_without_funds_is_one_without_money_for_the_cheapest(money: int, days: int, engine: str) -> None:
    """A trip of 20 and a small cylinder of 6 can be paid for with 26 USD, not with 25, nor a large one of 16."""
    outcome = outcome_of(replace(drawn(Funds(100 * money)), horizon_s=DAY), engine)
    assert outcome.days_without_funds == days


@ENGINES
def test_empties_of_every_size_stay_where_a_supplier_fails(engine: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Six cylinders for 86 USD, paid at noon, never come; the six empties go with the next order, of midnight."""
    monkeypatch.setattr(Draws, "failures_of_supplier", lambda *_: [15 * HOUR])
    rules = drawn(Funds(20_000), lead_s=6 * HOUR)
    assert rules.resupply is not None
    outcome = outcome_of(replace(rules, resupply=replace(rules.resupply, review_s=DAY // 2)), engine)
    assert steps(outcome, "order", "order cut", "delivery") == [
        "12:00:00 order: 0 6 64800", "18:00:00 order cut: 0 6", "24:00:00 order: 1 6 108000",
        "30:00:00 delivery: 1 6 6",
    ]  # fmt: skip
    assert (outcome.delivered_by_size, outcome.paid_cents) == ((3, 3), 2 * 8_600)


@ENGINES
def test_a_continuous_review_looks_at_every_size_where_money_cut_the_last(engine: str) -> None:
    """Three small empties still lack money at two, when a large one is emptied and lacks it with two others."""
    rules = drawn(Funds(0))
    assert rules.resupply is not None
    outcome = outcome_of(replace(rules, resupply=replace(rules.resupply, review_s=None)), engine)
    assert steps(outcome, "order lacks money") == [
        "00:40:00 order lacks money: 0 2 0",
        "01:00:00 order lacks money: 1 3 0",
        "02:00:00 order lacks money: 2 6 0",
    ]
