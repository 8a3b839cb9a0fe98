"""The purse: orders that money cuts, payment, approval, fuel and repairs that wait, and the cause of it."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    UNIT,
    FixedDraws,
    by_cause,
    constant,
    cylinders,
    hospital,
    resupply,
    run,
    steps,
    units,
)
from hypothesis import given, settings
from random_hospitals import hospitals

from o2sim.draws import Draws
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types.hospital import (
    Allotment,
    Costs,
    Emergency,
    Fees,
    Funds,
    Generator,
    Grid,
    Hospital,
    PartDelivery,
    Power,
    Refuel,
    Supplier,
    Window,
)

COSTS = Costs("USD", refill=10.0, trip=20.0, fuel_per_litre=2.0, repair=40.0)
TERMS = ("prepaid", "on delivery", "credit")
OF_MONEY = {part.name for part in fields(Outcome) if part.name.endswith("_cents")}
RICH = 10**14


def bare(funds: Funds, lead_s: int = 0, level: int = 10, **changes: Any) -> Hospital:
    """Return a hospital with ten empties, no full cylinder, and reviews at midnight."""
    stock = cylinders(fleet=10, full_at_start=0)
    rule = resupply(DAY, level - 1, level, lead_s, **changes.pop("resupply", {}))
    return hospital(CYLINDER, cylinders=stock, resupply=rule, funds=funds, costs=COSTS, **changes)


@pytest.mark.parametrize("terms", TERMS)
def test_an_order_is_what_can_be_paid_for(terms: Any) -> None:
    """85 USD, or as much credit, pay for a trip of 20 and six cylinders of 10, whatever the terms."""
    limit = 8_500 if terms == "credit" else None
    outcome = run(bare(Funds(8_500, supplier=Supplier(terms, limit))), FixedDraws())
    assert steps(outcome, "order lacks money", "order", "delivery") == [
        "00:00:00 order lacks money: 0 4 6", "00:00:00 order: 0 6 0", "00:00:00 delivery: 0 6 6",
    ]  # fmt: skip
    assert (outcome.billed_cents, outcome.closing_owed_cents) == (8_000, 8_000 if terms == "credit" else 0)
    assert outcome.closing_cash_cents == 8_500 - outcome.paid_cents


def test_own_cylinders_pay_for_two_trips() -> None:
    """The way out and the way back: 85 USD pay for 40 of transport and four cylinders."""
    outcome = run(bare(Funds(8_500), resupply={"own_cylinders": True}), FixedDraws())
    assert (outcome.cylinders_delivered, outcome.paid_cents) == (4, 8_000)


def test_nothing_is_ordered_below_the_minimum() -> None:
    """With a minimum order of seven the money for six places none."""
    outcome = run(bare(Funds(8_500), resupply={"minimum_order": 7}), FixedDraws())
    assert steps(outcome, "order lacks money", "order") == ["00:00:00 order lacks money: 0 10 0"]
    assert (outcome.orders_not_placed, outcome.days_without_funds) == (1, 1)


def test_the_cause_is_money_once_the_order_would_have_come() -> None:
    """No cylinder is nobody's money until the six hours are over that a whole order would have taken."""
    outcome = run(bare(Funds(0), lead_s=6 * HOUR), FixedDraws([(0, DAY)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 6 * HOUR, Cause.NO_FUNDS: 18 * HOUR}
    assert outcome.unfunded_gas == 18 * HOUR * 1_000


def test_a_whole_order_ends_the_cause() -> None:
    """What the second order brings is used up; that it was short is not for want of money, as it was whole."""
    funds = Funds(3_000, Allotment(5_000, DAY))
    rules = bare(funds, level=2, horizon_s=2 * DAY)
    outcome = run(rules, FixedDraws([(0, 2 * DAY)]))
    assert steps(outcome, "order lacks money") == []  # 20 + 2 x 10 is there each day
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 2 * DAY - outcome.served_cylinder_s}
    poor = run(replace(rules, funds=Funds(3_000)), FixedDraws([(0, 2 * DAY)]))
    assert by_cause(poor.unserved_s) == {Cause.NO_FUNDS: 2 * DAY - poor.served_cylinder_s}


def test_a_review_is_held_as_money_comes_if_the_last_was_cut() -> None:
    """An allotment of noon brings cylinders at noon, not at the review of the next midnight."""
    rules = bare(Funds(0, Allotment(10_000, 30 * DAY, delay_s=constant(12 * HOUR))))
    assert steps(run(rules, FixedDraws()), "money comes", "order") == [
        "12:00:00 money comes: 1 10000", "12:00:00 order: 1 8 43200",
    ]  # fmt: skip
    rich = replace(rules, funds=replace(rules.funds, opening_cents=20_000))
    assert steps(run(rich, FixedDraws()), "order") == ["00:00:00 order: 0 10 0"]


def test_an_order_is_placed_when_it_is_approved() -> None:
    """Two hours of approval: the money is kept and the empties are promised from the review on."""
    funds = Funds(8_500, approval_s=constant(2 * HOUR))
    outcome = run(bare(funds, lead_s=HOUR), FixedDraws())
    assert steps(outcome, "order awaits approval", "order", "delivery") == [
        "00:00:00 order awaits approval: 0 6 7200", "02:00:00 order: 0 6 10800", "03:00:00 delivery: 0 6 6",
    ]  # fmt: skip
    assert (outcome.approval_s, outcome.paid_cents) == (2 * HOUR, 8_000)


def test_money_for_what_did_not_come_comes_back() -> None:
    """Half an order comes: 20 + 5 x 10 are paid of the 120 USD, and the rest is in the purse."""
    part = {"part_delivery": PartDelivery(1.0, constant(0.5))}
    outcome = run(bare(Funds(12_000), resupply=part), FixedDraws())
    assert (outcome.cylinders_delivered, outcome.paid_cents, outcome.closing_cash_cents) == (5, 7_000, 5_000)


def test_an_emergency_is_paid_like_other_orders() -> None:
    """What stands on top is paid too: 45 USD pay for a trip of 20 + 5 and one cylinder of 10 + 5."""
    costs = replace(COSTS, emergency_trip=5.0, emergency_cylinder=5.0)
    stock = cylinders(fleet=10, full_at_start=1)
    rule = resupply(365 * DAY, 0, 10, 0, emergency=Emergency(below=1, up_to=4, lead_time_s=constant(HOUR)))
    rules = hospital(CYLINDER, cylinders=stock, resupply=rule, funds=Funds(4_500), costs=costs)
    outcome = run(rules, FixedDraws([(HOUR, 2 * HOUR)]))
    assert (outcome.emergency_cylinders, outcome.paid_cents) == (1, 4_000)


class Failing(FixedDraws):
    """Draws of a supplier who fails at three hours."""

    def failures_of_supplier(self, _hospital: Hospital) -> list[int]:
        """Return when the supplier fails."""
        return [3 * HOUR]


@pytest.mark.parametrize("terms", TERMS)
def test_what_was_prepaid_is_lost_with_the_supplier(terms: Any) -> None:
    """An order of midnight, due at six: paid beforehand it never comes, else it does and is paid then."""
    outcome = run(bare(Funds(12_000, supplier=Supplier(terms)), lead_s=6 * HOUR), Failing())
    lost = terms == "prepaid"
    assert (outcome.cylinders_delivered, outcome.cylinders_cut) == ((0, 10) if lost else (10, 0))
    assert outcome.billed_cents == 12_000
    assert outcome.deliveries == (0 if lost else 1)


def test_what_is_left_lapses_before_an_allotment() -> None:
    """At the midnight that ends January the 15 USD of the month before are lost, the new ones are not."""
    funds = Funds(1_500, Allotment(700, "month", 1), lapses=1)
    outcome = run(bare(funds, horizon_s=32 * DAY), FixedDraws())
    assert steps(outcome, "money lapses", "money comes") == [
        "00:00:00 money comes: 1 2200", "744:00:00 money lapses: 2200", "744:00:00 money comes: 1 700",
    ]  # fmt: skip


def test_fees_of_a_day_come_at_midnight() -> None:
    """Two patients leave on the first day, one on the second; each pays 3 USD."""
    rules = bare(Funds(0, fees=Fees(300, 1.0)), horizon_s=3 * DAY)
    outcome = run(rules, FixedDraws([(0, HOUR), (0, 2 * HOUR), (DAY, HOUR)]))
    assert steps(outcome, "money comes") == ["24:00:00 money comes: 2 600", "48:00:00 money comes: 2 900"]


def failing_unit(funds: Funds) -> Outcome:
    """Return two days of a unit that fails after an hour and takes an hour to repair."""
    rules = hospital(UNIT, concentrators=units(fails=True, clock="calendar"), funds=funds, costs=COSTS)
    return run(replace(rules, horizon_s=2 * DAY), FixedDraws(failures={0: [HOUR]}, repairs={0: [HOUR]}))


def test_a_repair_begins_when_it_can_be_paid() -> None:
    """The 40 USD of a repair come at the second midnight: the unit works an hour later."""
    funds = Funds(3_900, Allotment(100, 30 * DAY, delay_s=constant(DAY)), pays_for=("parts",))
    assert steps(failing_unit(funds), "repair lacks money", "repair done") == [
        "01:00:00 repair lacks money: 0", "25:00:00 repair done: 0",
    ]  # fmt: skip
    assert failing_unit(funds).paid_cents == 4_000
    elsewhere = replace(funds, pays_for=("oxygen",))
    assert steps(failing_unit(elsewhere), "repair done") == ["02:00:00 repair done: 0"]


def out_of_fuel(funds: Funds) -> Outcome:
    """Return two days without a grid, on a generator that burns 1 L an hour of its 10 L, ordered at 5 L."""
    burns = {"idle_ml_h": 1_000, "per_kw_ml_h": 0, "tank_ml": 10_000, "refuel": Refuel(5_000, constant(HOUR))}
    generator = Generator(0, 0, Window(0, HOUR), **burns)
    rules = hospital(UNIT, grid=Grid(never_on=True), power=Power(generator=generator), costs=COSTS, funds=funds)
    return run(replace(rules, horizon_s=2 * DAY), FixedDraws([(0, 2 * DAY)]))


def test_fuel_waits_for_the_money_for_a_tank() -> None:
    """20 USD for a whole tank are kept as it is ordered, and what came is paid; until then nothing runs."""
    funds = Funds(1_900, Allotment(200, 30 * DAY, delay_s=constant(DAY)), pays_for=("fuel",))
    outcome = out_of_fuel(funds)
    assert steps(outcome, "fuel lacks money", "fuel runs out", "fuel ordered", "fuel delivered")[:4] == [
        "05:00:00 fuel lacks money", "10:00:00 fuel runs out", "24:00:00 fuel ordered: 90000",
        "25:00:00 fuel delivered: 10000",
    ]  # fmt: skip
    assert outcome.paid_cents == 2_000
    assert steps(out_of_fuel(replace(funds, pays_for=("parts",))), "fuel runs out") == []


@pytest.mark.parametrize(("pays_for", "first"), [(("oxygen", "parts"), "order"), (("parts", "oxygen"), "repair")])
def test_money_goes_by_the_order_of_the_purse(pays_for: Any, first: str) -> None:
    """45 USD come at noon for what waits, an order or a repair: what stands first is paid."""
    funds = Funds(0, Allotment(4_500, 30 * DAY, delay_s=constant(12 * HOUR)), pays_for=pays_for)
    rules = replace(
        bare(funds, level=2),
        strategy=hospital(("concentrator", "cylinder")).strategy,
        concentrators=units(fails=True, clock="calendar"),
    )
    outcome = run(rules, FixedDraws(failures={0: [HOUR]}, repairs={0: [HOUR]}))
    assert (outcome.cylinders_delivered, len(steps(outcome, "repair done"))) == (
        (2, 0) if first == "order" else (0, 1)
    )


def test_an_emergency_that_cancels_an_order_takes_its_money_back() -> None:
    """The empties of an order go to an emergency: its price comes back, and the emergency is paid."""
    stock = cylinders(fleet=4, full_at_start=1)
    rule = resupply(365 * DAY, 3, 4, 10 * HOUR, emergency=Emergency(below=1, up_to=3, lead_time_s=constant(HOUR)))
    rules = hospital(CYLINDER, cylinders=stock, resupply=rule, funds=Funds(10_000), costs=COSTS)
    outcome = run(rules, FixedDraws([(HOUR, 2 * HOUR)]))
    assert steps(outcome, "order", "emergency order", "order cut") == [
        "00:00:00 order: 0 3 36000", "01:00:00 order cut: 0 3", "01:00:00 emergency order: 1 3 7200",
    ]  # fmt: skip
    assert (outcome.paid_cents, outcome.closing_cash_cents) == (5_000, 5_000)


@given(rules=hospitals())
@settings(max_examples=30, deadline=None)
def test_enough_money_changes_nothing(rules: Hospital) -> None:
    """With more money than anything costs the log and the outcome are those without a purse, but for money."""
    terms = TERMS[rules.horizon_s // DAY % 3]
    rich = replace(
        rules, costs=rules.costs or COSTS,
        funds=Funds(RICH, pays_for=("parts", "oxygen", "fuel"), supplier=Supplier(terms, due_s=HOUR)),
    )  # fmt: skip
    before, after = (run(each, Draws(1, 0)) for each in (replace(rules, funds=None), rich))
    assert after.log == before.log
    midnights = -(-(rules.end_s - rules.warm_up_s % DAY) // DAY)
    assert after.events - midnights >= before.events  # and those at which an invoice falls due
    same = {"daily", "log", "events"} | OF_MONEY
    assert all(getattr(after, p.name) == getattr(before, p.name) for p in fields(Outcome) if p.name not in same)
    assert after.daily.tolist() == before.daily.tolist()
