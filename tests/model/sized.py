"""Hospitals with cylinders of one to three named sizes, and with cylinders that go with patients sent on.

All of it follows from one drawn number and the rest: many draws of their own would leave Hypothesis few for that.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

from build import LITRE
from hypothesis import strategies as st

from o2sim.scenario.types.hospital import (
    Cylinders,
    CylinderSize,
    Hospital,
    Law,
    RegulatorSet,
    Resupply,
    SizeLevels,
    SizeUse,
    Transfer,
    Underfilled,
)

VALVES = [None, "bullnose", "pin-index"]
LUCK = st.integers(0, 2**32 - 1)


def luck_of(number: int, whole: Hospital) -> Random:
    """Return what decides on sizes and transfers of a drawn hospital."""
    return Random(f"{number} {whole}")


def sized(luck: Random, whole: Hospital) -> Hospital:
    """Return a hospital with its cylinders in several sizes, where it has any and no manifold."""
    stock = whole.cylinders
    if stock is None or whole.manifold is not None or whole.now is not None:
        return whole
    names = luck.choice([("all",), ("a", "b"), ("a", "b"), ("a", "b", "c")])
    sizes = tuple(_size(luck, stock, name) for name in names)
    sets = luck.choice([(), _kinds(luck), _kinds(luck)])
    use = SizeUse(*(luck.choice([(), tuple(luck.sample(names, luck.randint(1, len(names))))]) for _ in range(3)))
    changed = replace(
        stock,
        sizes=sizes,
        fleet=sum(size.fleet for size in sizes),
        full_at_start=sum(size.full_at_start for size in sizes),
        use=use,
        choose=luck.choice(["listed", "smallest that lasts until the next look"]),
        regulator_sets=sets,
        regulators=sum(each.count for each in sets) or stock.regulators,
    )
    if not changed.usable_sets:
        changed = replace(changed, regulator_sets=())
    return replace(whole, cylinders=changed, resupply=_levels(luck, whole.resupply, changed))


def unsized(whole: Hospital) -> Hospital:
    """Return a hospital with cylinders of one type in place of several sizes, for what knows of one only."""
    stock, rule = whole.cylinders, whole.resupply
    if stock is None or not stock.sizes:
        return whole
    first = replace(stock.each[0], name="", fleet=stock.fleet, full_at_start=stock.full_at_start)
    return replace(whole, cylinders=first, resupply=rule and replace(rule, sizes=()))


def _kinds(luck: Random) -> tuple[RegulatorSet, ...]:
    def kind() -> RegulatorSet:
        low, high = luck.choice([0, 0, 600]), luck.choice([1_000, 6_000, 15_000])
        return RegulatorSet(luck.randint(0, 3), low, high, luck.choice(VALVES))

    return tuple(kind() for _ in range(luck.randint(2, 4)))


def _size(luck: Random, stock: Cylinders, name: str) -> CylinderSize:
    fleet, lost = luck.randint(0, 6), luck.choice([0, 1, 3]) * LITRE
    return CylinderSize(
        water_capacity_l=None,
        filling_pressure_kpa=stock.filling_pressure_kpa,
        residual_pressure_kpa=stock.residual_pressure_kpa,
        flow_lost_below_kpa=stock.flow_lost_below_kpa,
        fill_temperature_c=15.0,
        full_gas=luck.choice([20, 60, 600]) * LITRE + luck.randint(0, 999),
        lost_gas=lost,
        residual_gas=lost + luck.choice([0, 0, 1, 3 * LITRE]),
        fleet=fleet,
        full_at_start=luck.randint(0, fleet),
        valve=luck.choice(VALVES),
        leak_ml_min=luck.choice([0, 50, 100]),
        unusable=luck.choice([0.0, 0.0, 0.3]),
        underfilled=luck.choice([None, None, Underfilled(0.5, Law("uniform", (0.4, 0.9)))]),
        refused=luck.choice([0.0, 0.0, 0.2]),
        losses_per_day=luck.choice([0.0, 0.0, 1.0]),
        gauge_error_gas=luck.choice([0, 0, 200_000]),
        space=luck.choice([None, 1, 2, 6]),
        refill=luck.choice([None, 5.0, 25.5]),
        name=name,
    )


def _levels(luck: Random, rule: Resupply | None, stock: Cylinders) -> Resupply | None:
    if rule is None:
        return None
    by_size = tuple(SizeLevels(luck.randint(0, 6), luck.randint(1, 6), size.name) for size in stock.sizes)
    spaces = luck.choice([None, None, 1, 7, 20])
    lorry: dict[str, Any] = {"vehicle_space": spaces, "vehicle_capacity": None} if spaces else {}
    emergency = rule.emergency
    if emergency is not None:
        emergency = replace(emergency, vehicle_space=luck.choice([None, 3, 9]))
    point, level = (sum(getattr(each, name) for each in by_size) for name in ("reorder_point", "order_up_to"))
    return replace(rule, reorder_point=point, order_up_to=level, sizes=by_size, emergency=emergency, **lorry)


def sent_with_cylinders(luck: Random, whole: Hospital) -> Hospital:
    """Return a hospital whose patients are sent on with cylinders of the place."""
    after_s, back_s = whole.tolerated_gap_s + luck.choice([0, 0, 3_600]), luck.choice([0, 1_800, 50_000])
    rule = Transfer(after_s, luck.choice([0, 900, 5_000, 40_000]), True, True, back_s)
    classes = tuple(replace(kind, transfer=luck.choice([None, None, "never"])) for kind in whole.patients)
    return replace(whole, transfer=rule, patients=classes)
