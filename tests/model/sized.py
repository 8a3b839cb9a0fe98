"""Drawn hospitals with cylinders of two or three sizes, and with cylinders that go with patients sent on."""

from __future__ import annotations

from dataclasses import replace
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
KINDS = st.lists(
    st.builds(
        RegulatorSet,
        count=st.integers(0, 3),
        low_ml_min=st.sampled_from([0, 0, 600]),
        high_ml_min=st.sampled_from([1_000, 6_000, 15_000]),
        valve=st.sampled_from(VALVES),
    ),
    min_size=2,
    max_size=4,
).map(tuple)


@st.composite
def sized(draw: Any, whole: Hospital) -> Hospital:
    """Draw a hospital with its cylinders in several sizes, where it has any and no manifold."""
    stock = whole.cylinders
    if stock is None or whole.manifold is not None or whole.now is not None:
        return whole
    sizes = tuple(
        draw(_size(stock, name)) for name in draw(st.sampled_from([("all",), ("a", "b"), ("a", "b", "c")]))
    )
    sets = draw(st.one_of(st.just(()), KINDS, KINDS))
    names = [size.name for size in sizes]
    lists = st.lists(st.sampled_from(names), min_size=1, unique=True).map(tuple)
    changed = replace(
        stock,
        sizes=sizes,
        fleet=sum(size.fleet for size in sizes),
        full_at_start=sum(size.full_at_start for size in sizes),
        use=SizeUse(*(draw(st.one_of(st.just(()), lists)) for _ in range(3))),
        choose=draw(st.sampled_from(["listed", "smallest that lasts until the next look"])),
        regulator_sets=sets,
        regulators=sum(each.count for each in sets) or stock.regulators,
    )
    if not changed.usable_sets:
        changed = replace(changed, regulator_sets=())
    return replace(whole, cylinders=changed, resupply=_levels(draw, whole.resupply, changed))


def unsized(whole: Hospital) -> Hospital:
    """Return a hospital with cylinders of one type in place of several sizes, for what knows of one only."""
    stock, rule = whole.cylinders, whole.resupply
    if stock is None or not stock.sizes:
        return whole
    first = replace(stock.each[0], name="", fleet=stock.fleet, full_at_start=stock.full_at_start)
    return replace(whole, cylinders=first, resupply=rule and replace(rule, sizes=()))


@st.composite
def _size(draw: Any, stock: Cylinders, name: str) -> CylinderSize:
    fleet, lost = draw(st.integers(0, 6)), draw(st.sampled_from([0, 1, 3])) * LITRE
    shared = {each: getattr(stock, each) for each in ("filling_pressure_kpa", "residual_pressure_kpa")}
    return CylinderSize(
        water_capacity_l=None,
        fill_temperature_c=15.0,
        flow_lost_below_kpa=stock.flow_lost_below_kpa,
        full_gas=draw(st.sampled_from([20, 60, 600])) * LITRE + draw(st.integers(0, 999)),
        lost_gas=lost,
        residual_gas=lost + draw(st.sampled_from([0, 0, 1, 3 * LITRE])),
        fleet=fleet,
        full_at_start=draw(st.integers(0, fleet)),
        valve=draw(st.sampled_from(VALVES)),
        leak_ml_min=draw(st.sampled_from([0, 50, 100])),
        unusable=draw(st.sampled_from([0.0, 0.0, 0.3])),
        underfilled=draw(st.sampled_from([None, None, Underfilled(0.5, Law("uniform", (0.4, 0.9)))])),
        refused=draw(st.sampled_from([0.0, 0.0, 0.2])),
        losses_per_day=draw(st.sampled_from([0.0, 0.0, 1.0])),
        gauge_error_gas=draw(st.sampled_from([0, 0, 200_000])),
        space=draw(st.sampled_from([None, 1, 2, 6])),
        name=name,
        **shared,
    )


def _levels(draw: Any, rules: Resupply | None, stock: Cylinders) -> Resupply | None:
    if rules is None:
        return None
    levels = [(draw(st.integers(0, 6)), draw(st.integers(1, 6))) for _ in stock.sizes]
    by_size = tuple(SizeLevels(*level, size.name) for level, size in zip(levels, stock.sizes, strict=True))
    spaces = draw(st.sampled_from([None, None, 1, 7, 20]))
    lorry = {"vehicle_space": spaces, "vehicle_capacity": None} if spaces else {}
    emergency = rules.emergency
    if emergency is not None:
        emergency = replace(emergency, vehicle_space=draw(st.sampled_from([None, 3, 9])))
    point, level = (sum(each[place] for each in levels) for place in range(2))
    return replace(rules, reorder_point=point, order_up_to=level, sizes=by_size, emergency=emergency, **lorry)


@st.composite
def sent_with_cylinders(draw: Any, whole: Hospital) -> Hospital:
    """Draw a hospital whose patients are sent on with cylinders of the place."""
    after_s = whole.tolerated_gap_s + draw(st.sampled_from([0, 0, 3_600]))
    back_s = draw(st.sampled_from([0, 1_800, 50_000]))
    rule = Transfer(after_s, draw(st.sampled_from([0, 900, 5_000, 40_000])), True, True, back_s)
    classes = tuple(
        replace(kind, transfer=draw(st.sampled_from([None, None, "never"]))) for kind in whole.patients
    )
    return replace(whole, transfer=rule, patients=classes)
