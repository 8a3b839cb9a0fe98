"""The values of the manifold section in, the pressure and content of a spent bank out."""

from __future__ import annotations

from typing import Any

from o2sim.quantities import gas
from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.reader import Values
from o2sim.scenario.text.problems import RefusedError
from o2sim.scenario.types.types import Cylinders

GAS_PER_LITRE = 60_000


def manifold(setting: Setting, values: Values) -> dict[str, Any]:
    """Return where a bank is spent; the cylinders are those it takes, refused where they are."""
    cylinders: Cylinders | None = setting.parts.get("cylinders")
    if cylinders is None:
        raise RefusedError
    values.need_all()
    gauge = values["changeover_pressure"]
    lowest, highest = cylinders.flow_lost_below_kpa, cylinders.filling_pressure_kpa
    if gauge is None:
        gauge = max(cylinders.residual_pressure_kpa, lowest)
    elif not lowest <= gauge < highest:
        found = f"found {gauge:g} kPa, cylinders from {lowest:g} kPa (flow_lost_below) to {highest:g} kPa (full)"
        raise setting.problems.add(values.at("changeover_pressure"), found, "a pressure between them")
    return {"changeover_pressure_kpa": gauge, "changeover_gas": _content_at(cylinders, gauge)}


def _content_at(cylinders: Cylinders, gauge_kpa: float) -> int:
    """Return the content (1/60 mL) of a cylinder at a gauge pressure, by the relation its other contents have."""
    for kpa, content in (
        (cylinders.residual_pressure_kpa, cylinders.residual_gas),
        (cylinders.flow_lost_below_kpa, cylinders.lost_gas),
    ):
        if gauge_kpa == kpa:
            return content
    full_l = cylinders.full_gas / GAS_PER_LITRE
    litres = gas.content_at(gauge_kpa, full_l, cylinders.filling_pressure_kpa, cylinders.fill_temperature_c)
    return round(litres * GAS_PER_LITRE)
