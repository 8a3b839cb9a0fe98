"""What is legal but doubtful in power, wards and the equipment at the bedside."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.scenario.checks.demand import WORTH_A_WARNING
from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.bedside import ALWAYS_HUMIDIFIED
from o2sim.scenario.types.hospital import Cylinders, Hospital
from o2sim.scenario.types.laws import law_high, share_above


def weak_power(hospital: Hospital) -> Iterator[Doubt]:
    """Sources too weak for one unit carry nothing."""
    power, units = hospital.power, hospital.concentrators
    if power is None or units is None:
        return
    limits = [("battery.inverter", power.battery.inverter_w if power.battery else None)]
    if power.generator is not None and power.generator.power_w is not None:
        limits.append(("generator.power", power.generator.power_w - power.generator.base_load_w))
    least_w = min((group.rules.power_w for group in units.groups), default=units.power_w)
    for field, watts in limits:
        if watts is not None and watts < least_w:
            found = f"{watts:,} W left for units of {least_w:,.0f} W"
            yield f"power.{field}", found, "it cannot run a single concentrator"


def unreached_wards(hospital: Hospital) -> Iterator[Doubt]:
    """A ward whose patients no source can reach, and units that have nowhere to go."""
    for ward in hospital.wards:
        reached = (ward.concentrators > 0 or hospital.moving_s is not None) and hospital.concentrators is not None
        if any(kind.ward == ward.name for kind in hospital.patients) and not (reached or ward.regulators):
            found = "patients, but no regulators" + (" and no concentrators" if hospital.concentrators else "")
            yield f"wards.{ward.name}", found, "they go without; sources are shared within a ward only"
    if hospital.moving_s is not None and len(hospital.wards) < 2 and hospital.concentrators is not None:
        yield "moving", "fewer than two wards", "there is nowhere to move a unit from"


def bedside(hospital: Hospital) -> Iterator[Doubt]:
    """Yield sets that fit no cylinder, flows that no flowmeter reads, and limits that limit nobody."""
    if hospital.cylinders is not None:
        yield from _valves(hospital.cylinders)
        yield from _flowmeters(hospital, hospital.cylinders)
    yield from _humidifiers(hospital)
    for device, _ in hospital.bedside.delivery_sets:
        if all(kind.delivery != device for kind in hospital.patients):
            yield f"bedside.delivery_sets.{device}", "no class has this delivery", "it limits nobody; add delivery"


def _valves(cylinders: Cylinders) -> Iterator[Doubt]:
    for place, each in enumerate(cylinders.regulator_sets, 1):
        if each not in cylinders.usable_sets:
            valves = list(dict.fromkeys(str(size.valve) for size in cylinders.each))
            said = f"valve is {valves[0]}" if len(valves) == 1 else f"valves are {' and '.join(valves)}"
            found = f"{each.count} sets for {each.valve} valves, the cylinders' {said}"
            yield f"cylinders.regulator_sets[{place}]", found, "they cannot be used and are counted out"


def _flowmeters(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    low = min(each.low_ml_min for each in cylinders.usable_sets)
    high = max(each.high_ml_min for each in cylinders.usable_sets)
    for kind in hospital.patients:
        share = share_above(kind.flow_ml_min, high) + 1 - share_above(kind.flow_ml_min, low - 1)
        if share > WORTH_A_WARNING:
            found = f"{share:.1%} of {kind.name} need a flow outside {low / 1000:g} to {high / 1000:g} L/min"
            hint = "on cylinders they go without (no regulator); add a set that fits"
            yield "cylinders.regulator_sets", found, hint


def _humidifiers(hospital: Hospital) -> Iterator[Doubt]:
    bedside = hospital.bedside
    if bedside.humidifiers is None:
        return
    devices = {kind.delivery for kind in hospital.patients}
    above = {kind.name: bedside.dry_above_ml_min(kind.size) for kind in hospital.patients}
    dry = any(law_high(kind.flow_ml_min) > above[kind.name] for kind in hospital.patients)
    if not dry and not devices & set(ALWAYS_HUMIDIFIED):
        found = f"no flow above {max(above.values()) / 1000:g} L/min and no nasopharyngeal catheter"
        yield "bedside.humidifiers", found, "nobody needs one; add delivery, or leave the number out"
