"""Concentrators that differ, for the random hospitals: models, ages, owners, wards, starting surge and peaks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from o2sim.scenario.types.hospital import Concentrators, Hospital, Law, Power, UnitGroup

LASTING = [Law("exponential", (20_000.0,)), Law("weibull", (2.0, 60_000.0)), Law("lognormal", (10.0, 0.8))]
ENDLESS = ("exponential", "lognormal", "gamma", "weibull")


@st.composite
def models(draw: Any, units: Concentrators, name: str) -> UnitGroup:
    """Draw one row of units of a model: all that holds for it, one to three of them, and how old they are."""
    failure = draw(st.sampled_from([units.failure_s, *LASTING]))
    endless = failure is not None and failure.kind in ENDLESS
    rules = replace(
        units,
        listed=(),
        count=draw(st.integers(1, 3)),
        rated_flow_ml_min=draw(st.sampled_from([1_000, 2_000, 5_000])),
        outlets=draw(st.integers(1, 3)),
        power_w=draw(st.sampled_from([0.0, 100.0, 350.0, 600.0])),
        failure_s=failure,
        repair_s=units.repair_s or (Law("exponential", (20_000.0,)) if failure is not None else None),
        repaired_as=draw(st.sampled_from(["new", "old"])) if endless else "new",
        start_up_s=draw(st.sampled_from([0, 300])),
        start_surge_permille=draw(st.sampled_from([None, 1_000, 2_500])),
        repair_price=draw(st.sampled_from([None, 2.5, 60.0])),
    )
    working = draw(st.integers(0, rules.count)) if rules.repair_s is not None else rules.count
    age_s = draw(st.sampled_from([0, 3_000, 90_000])) if failure is not None else 0
    return UnitGroup(name, rules, 0, rules.count, draw(st.booleans()), age_s, working)


@st.composite
def unlike(draw: Any, whole: Hospital) -> Hospital:
    """Draw unlike units in place of like ones for some hospitals, with peaks of what carries them."""
    units = whole.concentrators
    if units is None or draw(st.sampled_from([True, True, False])):
        return whole
    names = draw(st.sampled_from([("",), ("a",), ("a", "b"), ("a", "b", "a")]))
    first, groups = 0, []
    for name in names:
        group = draw(models(units, name))
        known = [each.rules for each in groups if each.model == name]
        rules = replace(known[0], count=group.count) if known else group.rules
        working = group.working if rules.repair_s is not None else group.count
        age_s = group.age_s if rules.failure_s is not None else 0
        groups.append(replace(group, rules=rules, first=first, working=working, age_s=age_s))
        first += group.count
    whole = replace(whole, power=_with_peaks(draw, whole.power))
    if draw(st.booleans()):
        whole = replace(whole, allocation=replace(whole.allocation, first_unit="smallest that fits"))
    return _placed(draw, whole, tuple(groups))


def _with_peaks(draw: Any, power: Power | None) -> Power | None:
    battery, generator = (power.battery, power.generator) if power is not None else (None, None)
    if power is not None and battery is not None:
        power = replace(power, battery=replace(battery, peak_w=draw(st.sampled_from([None, 400, 1_200]))))
    if power is not None and generator is not None:
        power = replace(power, generator=replace(generator, peak_w=draw(st.sampled_from([None, 300, 1_500]))))
    return power


def _placed(draw: Any, whole: Hospital, groups: tuple[UnitGroup, ...]) -> Hospital:
    """Put units on wards: by rows that name them, else so many on the first and the others on the last."""
    count = sum(group.count for group in groups)
    names = [ward.name for ward in whole.wards]
    if names and draw(st.booleans()):
        groups = tuple(replace(group, ward=draw(st.sampled_from(names))) for group in groups)
        here = {name: sum(group.count for group in groups if group.ward == name) for name in names}
    else:
        first = draw(st.integers(0, count))
        here = {name: first if name == names[0] else 0 for name in names}
        here |= dict.fromkeys(names[-1:], count - first) if len(names) > 1 else dict.fromkeys(names, count)
    wards = tuple(replace(ward, concentrators=here[ward.name]) for ward in whole.wards)
    units = replace(groups[0].rules, count=count, listed=groups)
    return replace(whole, wards=wards, concentrators=units)
