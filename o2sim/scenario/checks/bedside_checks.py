"""What is legal but doubtful in the bedside equipment of a hospital: (field, what was found, what to do)."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.scenario.types.bedside import ALWAYS_HUMIDIFIED
from o2sim.scenario.types.hospital import Cylinders, Hospital
from o2sim.scenario.types.laws import law_high, share_above

WORTH_A_WARNING = 0.001  # share of a class's patients whose flow cannot be set, or is too high
Doubt = tuple[str, str, str]  # field, what was found, what to do


def bedside_doubts(hospital: Hospital) -> Iterator[Doubt]:
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
            found = f"{each.count} sets for {each.valve} valves, the cylinders' valve is {cylinders.valve}"
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
    highest = max(law_high(kind.flow_ml_min) for kind in hospital.patients)
    if highest <= bedside.humidify_above_ml_min and not devices & set(ALWAYS_HUMIDIFIED):
        found = f"no flow above {bedside.humidify_above_ml_min / 1000:g} L/min and no nasopharyngeal catheter"
        yield "bedside.humidifiers", found, "nobody needs one; add delivery, or leave the number out"
