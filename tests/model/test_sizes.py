"""Cylinders of several sizes by hand: which is opened, what a change may bring, one order for all, transfers."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest
from build import (
    DAY,
    HOUR,
    LITRE,
    UNIT,
    FixedDraws,
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
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import (
    Backups,
    Cylinders,
    CylinderSize,
    Emergency,
    Hospital,
    PartDelivery,
    RegulatorSet,
    SendPartUsed,
    SizeLevels,
    SizeUse,
    Transfer,
)

LARGE, SMALL = 600, 60  # litres, of which all but 3 flow
FOR_LARGE, FOR_SMALL = RegulatorSet(1, valve="bullnose"), RegulatorSet(1, valve="pin-index")


def size(name: str, litres: int, fleet: int, **changes: Any) -> CylinderSize:
    """Return so many full cylinders of a size, of a valve of its own."""
    return CylinderSize(**{
        "name": name, "water_capacity_l": None, "filling_pressure_kpa": 16_000.0, "fill_temperature_c": 15.0,
        "residual_pressure_kpa": 800.0, "flow_lost_below_kpa": 800.0, "full_gas": litres * LITRE,
        "residual_gas": 3 * LITRE, "lost_gas": 3 * LITRE, "fleet": fleet, "full_at_start": fleet, "leak_ml_min": 0,
        "valve": "bullnose" if name == "large" else "pin-index",
    } | changes)  # fmt: skip


def two(large: int, small: int, **changes: Any) -> Cylinders:
    """Return so many large and small cylinders, a set for each."""
    sizes = size("large", LARGE, large), size("small", SMALL, small)
    sizes = changes.pop("sizes", sizes)
    sets = changes.pop("regulator_sets", (FOR_LARGE, FOR_SMALL))
    stated = {"fleet": sum(each.fleet for each in sizes), "full_at_start": sum(e.full_at_start for e in sizes)}
    count = sum(each.count for each in sets)
    return cylinders(sizes=sizes, regulator_sets=sets, regulators=count, **stated | changes)


def opened(outcome: Outcome) -> tuple[int, ...]:
    """Return how many cylinders of each size were opened."""
    return outcome.opened_by_size


def test_the_first_size_listed_with_a_cylinder_and_a_set_is_opened() -> None:
    """Two patients and a set for each size: the first has the large one, the second the small one."""
    found = run(hospital(cylinders=two(2, 2)), FixedDraws([(0, 600), (10, 600)]))
    assert steps(found, "cylinder opened") == [
        f"00:00:00 cylinder opened: 0 1 {LARGE * LITRE}",
        f"00:00:10 cylinder opened: 1 1 {SMALL * LITRE}",
    ]
    found = run(hospital(cylinders=two(2, 2, use=SizeUse(("small",)))), FixedDraws([(0, 600), (10, 600)]))
    assert (opened(found), found.unserved_s[2]) == ((0, 2), 590)  # no regulator


def test_the_smallest_that_lasts_until_the_next_look_is_opened() -> None:
    """57 L are 57 min at 1 L/min: not until the look after 2 h; at 0.4 L/min the small one lasts."""
    rules = two(
        2, 2, choose="smallest that lasts until the next look", gauge_check_s=7_200, change_when="residual"
    )
    found = run(hospital(cylinders=rules), FixedDraws([(1, 60, 1_000), (100, 60, 400)]))
    assert [line.split()[-1] for line in steps(found, "cylinder opened")] == [
        f"{LARGE * LITRE}",
        f"{SMALL * LITRE}",
    ]


def test_where_none_lasts_the_one_that_lasts_longest_is_opened() -> None:
    """At 6 L/min the large one is empty before the next look, but later than the small one."""
    rules = two(1, 1, choose="smallest that lasts until the next look", gauge_check_s=7_200)
    assert opened(run(hospital(cylinders=rules), FixedDraws([(1, 60, 6_000)]))) == (1, 0)


def test_a_change_brings_another_size_on_another_set() -> None:
    """The only large one is followed by a small one; the set for it is taken, the other is free again."""
    found = run(hospital(cylinders=two(1, 2)), FixedDraws([(0, 11 * HOUR)]))
    assert steps(found, "cylinder opened", "cylinder emptied") == [
        f"00:00:00 cylinder opened: 0 0 {LARGE * LITRE}",
        f"09:57:00 cylinder emptied: 0 1 {3 * LITRE}",
        f"09:57:00 cylinder opened: 0 1 {SMALL * LITRE}",
        f"10:54:00 cylinder emptied: 0 1 {3 * LITRE}",
        f"10:54:00 cylinder opened: 0 0 {SMALL * LITRE}",
    ]


def test_without_another_set_a_patient_waits_for_the_same_size() -> None:
    """There are small cylinders, but no set for them: no regulator, where there are sets none is free of."""
    stock = two(1, 2, regulator_sets=(FOR_LARGE,))
    found = run(hospital(cylinders=stock), FixedDraws([(0, 11 * HOUR)]))
    assert (opened(found), sum(found.unserved_s)) == ((1, 0), HOUR + 3 * 60)


def test_one_order_holds_what_each_size_lacks() -> None:
    """Both are below their levels at midnight: one trip brings both."""
    levels = SizeLevels(1, 2, "large"), SizeLevels(3, 3, "small")
    rules = resupply(DAY, 4, 5, HOUR, sizes=levels)
    draws = FixedDraws([(60, 12 * HOUR), (70, 3 * HOUR)])
    found = run(hospital(cylinders=two(2, 3), resupply=rules, horizon_s=2 * DAY), draws)
    assert (found.orders, found.deliveries, found.delivered_by_size) == (1, 1, (1, 3))


def test_of_a_part_delivery_each_size_comes_by_the_same_share_and_at_least_one_in_all() -> None:
    """A tenth of one and of three is none: the first size of the order has one all the same."""
    levels = SizeLevels(1, 2, "large"), SizeLevels(3, 3, "small")
    rules = resupply(DAY, 4, 5, HOUR, sizes=levels, part_delivery=PartDelivery(1.0, constant(0.1)))
    draws = FixedDraws([(60, 12 * HOUR), (70, 3 * HOUR)])
    found = run(hospital(cylinders=two(2, 3), resupply=rules, horizon_s=2 * DAY), draws)
    assert (found.delivered_by_size, found.cylinders_cut) == ((1, 0), 3)


def test_an_emergency_order_brings_each_size_up_to_its_share() -> None:
    """Of a level of 4 large ones have 2 of 3, rounded up to 3 and 2; below the share of any size is low."""
    sizes = size("large", LARGE, 2), size("small", SMALL, 1)
    rule = Emergency(below=3, cover_s=None, days_of_cover_s=None, up_to=4, lead_time_s=constant(HOUR))
    rules = resupply(
        10 * DAY, 0, 3, HOUR, sizes=(SizeLevels(0, 2, "large"), SizeLevels(0, 1, "small")), emergency=rule
    )
    found = run(hospital(cylinders=two(0, 0, sizes=sizes), resupply=rules), FixedDraws([(0, 11 * HOUR)]))
    assert (found.emergency_orders, found.delivered_by_size) == (1, (1, 0))


def test_part_used_cylinders_are_sent_by_size() -> None:
    """A small one with a third in it goes for the small one that is wanted, the large one stays."""
    levels = SizeLevels(0, 1, "large"), SizeLevels(0, 1, "small")
    stock = two(1, 1, send_part_used=SendPartUsed(500, 0))
    rules = resupply(DAY, 0, 2, HOUR, sizes=levels)
    draws = FixedDraws([(60, HOUR), (70, 2_400)])
    found = run(hospital(cylinders=stock, resupply=rules, horizon_s=2 * DAY), draws)
    assert (found.sent_by_size, found.delivered_by_size) == ((0, 1), (0, 1))


def test_a_back_up_is_of_a_size_for_back_ups() -> None:
    """The small one is brought, though the large one is listed first for the bedside."""
    stock = two(1, 1, use=SizeUse(backup=("small",)), backup=Backups(("adults",), 1, constant(60)))
    found = run(hospital(UNIT, cylinders=stock, concentrators=units()), FixedDraws([(0, HOUR)]))
    assert steps(found, "back-up brought") == [f"00:00:00 back-up brought: 0 0 {SMALL * LITRE}"]


SENT = Transfer(0, 1_800, True, with_cylinder=True, back_after_s=1_800)


def sending(**changes: Any) -> Hospital:
    """Return a hospital whose small cylinders are for transfers alone."""
    use = SizeUse(("large",), (), ("small",))
    return hospital(cylinders=two(0, 2, use=use, **changes), transfer=SENT)


def test_cylinders_and_a_set_go_with_a_patient_and_come_back() -> None:
    """Half an hour at 1 L/min and half as much again is 45 L: one, back after an hour with 30 L less."""
    found = run(sending(), FixedDraws([(0, DAY)]))
    assert steps(found, "cylinders go with a patient", "cylinders back from a transfer") == [
        f"00:00:00 cylinders go with a patient: 0 1 {30 * LITRE}",
        "01:00:00 cylinders back from a transfer: 0 1 0",
    ]
    assert (found.transferred, found.transfer_gas, sum(found.unserved_s)) == (1, 30 * LITRE, 0)
    assert found.closing_gas_by_size == (0, 2 * SMALL * LITRE - 30 * LITRE)


def test_without_a_set_a_patient_stays_until_it_is_back() -> None:
    """The only set is on the way with the first: the second goes an hour later."""
    found = run(sending(), FixedDraws([(0, DAY), (0, DAY)]))
    assert (found.transferred, sum(found.unserved_s)) == (2, HOUR)


def test_without_cylinders_of_a_size_for_it_a_patient_stays() -> None:
    """Large ones are not for transfers."""
    rules = hospital(cylinders=two(2, 0, use=SizeUse(("small",), (), ("small",))), transfer=SENT)
    found = run(rules, FixedDraws([(0, DAY)]))
    assert (found.transferred, found.with_cylinders, sum(found.unserved_s)) == (0, 0, DAY)


@pytest.mark.parametrize("choose", ["listed", "smallest that lasts until the next look"])
@settings(max_examples=40, deadline=None)
@given(plain=hospitals())
def test_one_named_size_is_as_no_sizes(plain: Hospital, choose: Any) -> None:
    """The same cylinders under a name: the same log and the same outcome, where their own luck plays no part."""
    stock = plain.cylinders
    if stock is None or stock.sizes or plain.manifold is not None:
        return
    stock = replace(stock, unusable=0.0, underfilled=None, refused=0.0, losses_per_day=0.0)
    plain = replace(plain, cylinders=stock)
    one = CylinderSize(**{each.name: getattr(stock, each.name) for each in fields(CylinderSize)} | {"name": "all"})
    rule = plain.resupply
    if rule is not None:
        rule = replace(rule, sizes=(SizeLevels(rule.reorder_point, rule.order_up_to, "all"),))
    named = replace(plain, cylinders=replace(stock, sizes=(one,), choose=choose), resupply=rule)
    assert run(named, Draws(1, 0)) == run(plain, Draws(1, 0))
